// Questions to the planner and what it tells by itself, the same on every page: each question has a
// limit of time, and a change that may be lost is told until one is answered.
export const LONGEST_RUN_S = 120;
const LONGEST_S = 20;
const DOUBT = "Not saved, unless you see it here: the planner did not answer your last change. It answers again; if the change is missing, make it again.";
let reach = true, doubt = false;

export function say(text) { document.getElementById("say").textContent = text; }

// No text takes away what was told, but for a change in doubt.
export function complain(text) {
  const bar = document.getElementById("link");
  bar.textContent = text || (doubt ? DOUBT : "");
  bar.hidden = !bar.textContent;
}

// Nothing of a day that has not begun is done as planned; which is told here.
export function isToCome(date) {
  const now = new Date();
  const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
  if (date <= today) { return false; }
  const text = "This day is still to come: nothing of it is done.";
  complain(text);
  say(text);
  return true;
}

function outOfReach(how = "does not answer") {
  reach = false;
  complain(`Not saved: the planner ${how}. What you see may be old; what you press now is not kept.`);
}

function inReach() {
  if (reach) { return; }
  reach = true;
  complain("");
}

// body: an object, a file or nothing; changes: its answer says whether something is kept. Null when
// none comes, which is told here.
export async function ask(path, body, { longest = LONGEST_S, changes = false } = {}) {
  const file = body instanceof Blob;
  const given = body && { method: "POST", headers: { "content-type": file ? "application/octet-stream" : "application/json" }, body: file ? body : JSON.stringify(body) };
  try {
    const answer = await fetch(path, { ...given, signal: AbortSignal.timeout(longest * 1000) });
    const said = answer.headers.get("content-type").includes("json") ? await answer.json() : { say: await answer.text() };
    if (changes) { doubt = false; }
    inReach();
    return { status: answer.status, ok: answer.ok, said };
  } catch (error) {
    if (changes) { doubt = true; }
    outOfReach(error.name === "TimeoutError" ? `has not answered for ${longest} seconds` : "does not answer");
    return null;
  }
}

export async function get(path) {
  return (await ask(path))?.said ?? null;
}

// The stream of events, by kind, and whether it was opened again; closed while the page is hidden, for a browser has six connections.
export function listen(path, kinds) {
  let stream = null, opened = 0;
  function open() {
    opened += 1;
    stream = new EventSource(path);
    stream.onopen = inReach;
    stream.onerror = () => outOfReach();
    for (const [kind, hear] of Object.entries(kinds)) { stream.addEventListener(kind, (event) => hear(JSON.parse(event.data), opened > 1)); }
  }
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) { stream?.close(); stream = null; } else if (!stream) { open(); }
  });
  addEventListener("pagehide", () => stream?.close());
  open();
}
