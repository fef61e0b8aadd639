// Requests to the planner, one after another, and what it tells by itself.
const waiting = { last: Promise.resolve() };
export const table = { revision: Number(document.body.dataset.revision), reach: true };
const hooks = { parts() {}, drawn() {}, told() {} };

export function onAnswer(given) { Object.assign(hooks, given); }

export function say(text) { document.getElementById("say").textContent = text; }

export function complain(text) {
  const bar = document.getElementById("link");
  bar.textContent = text;
  bar.hidden = !text;
}

async function ask(path, body) {
  const answer = await fetch(path, body && {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body)
  });
  const said = answer.headers.get("content-type").includes("json") ? await answer.json() : { say: await answer.text() };
  return { status: answer.status, said };
}

function take(said) {
  if (said.parts) { hooks.parts(said.parts); }
  if (said.map) { hooks.drawn(said.map); }
  table.revision = said.revision;
  document.body.dataset.revision = said.revision;
  document.getElementById("saved").textContent = `saved · change ${said.revision}`;
}

function outOfReach() {
  table.reach = false;
  complain("Not saved: the planner does not answer. What you see may be old; what you press now is not kept.");
}

// Makes a change; true when it is kept. One change waits for the one before it.
export function change(what) {
  const done = waiting.last.then(async () => {
    let answer;
    document.body.dataset.busy = "1";
    try {
      answer = await ask("/day/change", { revision: table.revision, change: what });
    } catch {
      outOfReach();
      return false;
    } finally {
      delete document.body.dataset.busy;
    }
    if (answer.status === 200 || answer.status === 409) { take(answer.said); }
    complain(answer.status === 200 ? "" : [answer.said.say, ...(answer.said.problems || []).slice(1)].join(" "));
    say(answer.said.say);
    return answer.status === 200;
  });
  waiting.last = done.catch(() => false);
  return done;
}

// What every truck says to the orders; null when the day is another one by now.
export async function answers(orders) {
  await waiting.last;
  try {
    const answer = await ask("/day/ask", { revision: table.revision, lift: orders });
    if (answer.status === 200) { return answer.said.parts; }
    if (answer.said.parts) { take(answer.said); }
    complain(answer.said.say);
  } catch { outOfReach(); }
  return null;
}

export async function post(path, body = {}) {
  try {
    const answer = await ask(path, { revision: table.revision, ...body });
    if (answer.said.parts) { take(answer.said); }
    complain(answer.status >= 400 ? answer.said.say : "");
    say(answer.said.say);
    return answer.status < 400;
  } catch { outOfReach(); return null; }
}

export async function get(path) {
  try { return (await ask(path)).said; } catch { outOfReach(); return null; }
}

export async function refresh(everything = false, have = "") {
  const since = everything ? "" : `since=${table.revision}`;
  const said = await get(`/day/parts?${since}${have && `&have=${have}`}`);
  if (said) { take(said); }
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
    stream.onopen = () => { if (!table.reach) { table.reach = true; complain(""); } };
    stream.onerror = outOfReach;
    stream.addEventListener("revision", async (event) => {
      const told = JSON.parse(event.data);
      await waiting.last;
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
