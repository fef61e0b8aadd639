// Requests to the planner, and what it tells by itself. Changes, and what brings the page up to date,
// go one after another: each is told against the page that the one before has left.
const LONGEST_S = 20, LONGEST_RUN_S = 120;
export const table = { revision: Number(document.body.dataset.revision), reach: true };
const hooks = { parts() {}, drawn() {}, told() {} };
let last = Promise.resolve(), doubt = false;

function queued(work) {
  const done = last.then(work);
  last = done.catch(() => false);
  return done;
}

export function onAnswer(given) { Object.assign(hooks, given); }

export function say(text) { document.getElementById("say").textContent = text; }

export function complain(text) {
  const bar = document.getElementById("link");
  bar.textContent = text;
  bar.hidden = !text;
}

async function ask(path, body, longest = LONGEST_S) {
  const given = body && { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  try {
    const answer = await fetch(path, { ...given, signal: AbortSignal.timeout(longest * 1000) });
    const said = answer.headers.get("content-type").includes("json") ? await answer.json() : { say: await answer.text() };
    inReach();
    return { status: answer.status, said };
  } catch (error) {
    outOfReach(error.name === "TimeoutError" ? `has not answered for ${longest} seconds` : "does not answer");
    throw error;
  }
}

function take(said) {
  // Told against another page than this one, it would leave holes.
  if ((said.since ?? table.revision) !== table.revision) { refresh(); return; }
  if (said.parts) { hooks.parts(said.parts); }
  if (said.map) { hooks.drawn(said.map); }
  table.revision = said.revision;
  document.body.dataset.revision = said.revision;
  document.getElementById("saved").textContent = `saved · change ${said.revision}`;
}

function outOfReach(how = "does not answer") {
  table.reach = false;
  complain(`Not saved: the planner ${how}. What you see may be old; what you press now is not kept.`);
}

// A change whose answer never came stays told until one is answered: it may be kept or not.
function inReach() {
  if (table.reach) { return; }
  table.reach = true;
  complain(doubt ? "Not saved, unless you see it here: the planner did not answer your last change. It answers again; if the change is missing, make it again." : "");
}

// Makes a change; true when it is kept. One change waits for the one before it.
export function change(what) {
  return queued(async () => {
    let answer;
    document.body.dataset.busy = "1";
    try {
      answer = await ask("/day/change", { revision: table.revision, change: what });
    } catch {
      doubt = true;
      return false;
    } finally {
      delete document.body.dataset.busy;
    }
    doubt = false;
    if (answer.status === 200 || answer.status === 409) { take(answer.said); }
    complain(answer.status === 200 ? "" : [answer.said.say, ...(answer.said.problems || []).slice(1)].join(" "));
    say(answer.said.say);
    return answer.status === 200;
  });
}

// What every truck says to the orders; null when the day is another one by now.
export async function answers(orders) {
  await last;
  try {
    const answer = await ask("/day/ask", { revision: table.revision, lift: orders });
    if (answer.status === 200) { return answer.said.parts; }
    if (answer.said.parts) { take(answer.said); }
    complain(answer.said.say);
  } catch { /* told */ }
  return null;
}

export function post(path, body = {}) {
  return queued(async () => {
    try {
      const answer = await ask(path, { revision: table.revision, ...body }, LONGEST_RUN_S);
      if (answer.said.parts) { take(answer.said); }
      if (answer.status >= 400 || !doubt) { complain(answer.status >= 400 ? answer.said.say : ""); }
      say(answer.said.say);
      return answer.status < 400;
    } catch { return null; }
  });
}

export async function get(path) {
  try { return (await ask(path)).said; } catch { return null; }
}

export function refresh(everything = false, have = "") {
  return queued(async () => {
    const since = everything ? "" : `since=${table.revision}`;
    const said = await get(`/day/parts?${since}${have && `&have=${have}`}`);
    if (said) { take(said); }
  });
}

// Fragments that change between revisions, as they are now.
async function renew(...ids) {
  const said = await get(`/day/parts?have=${ids.join(",")}`);
  if (said?.parts && said.revision === table.revision) { hooks.parts(said.parts); }
}

// The stream of events; closed while the page is hidden, for a browser has six connections.
export function listen(mayTake) {
  let stream = null, heard = false;
  const tell = (event) => hooks.told(event.type, JSON.parse(event.data));
  function open() {
    stream = new EventSource("/day/events");
    stream.onopen = inReach;
    stream.onerror = () => outOfReach();
    stream.addEventListener("revision", async (event) => {
      const told = JSON.parse(event.data);
      await last;
      const first = !heard;
      heard = true;
      if (told.revision === table.revision && !first) { await renew("acts", "print", "search"); }
      if (told.revision <= table.revision) { return; }
      if (!mayTake()) { hooks.told("newer", told); return; }
      await refresh();
      hooks.told("elsewhere", told);
    });
    stream.addEventListener("again", tell);
  }
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) { stream?.close(); stream = null; } else if (!stream) { open(); }
  });
  addEventListener("pagehide", () => stream?.close());
  open();
}
