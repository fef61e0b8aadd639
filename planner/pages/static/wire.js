// Requests of the day's page. Changes, and what brings the page up to date, go one after another: each is told against the page that the one before has left.
import { LONGEST_RUN_S, ask, complain, get, listen as hear, say } from "./ask.js";
// Path below which this day is asked; another day of the same server has another.
export const DAY = document.body.dataset.day;
export const table = { revision: Number(document.body.dataset.revision) };
const hooks = { parts() {}, drawn() {}, told() {} };
let last = Promise.resolve();
let mine = null;

function queued(work) {
  const done = last.then(work);
  last = done.catch(() => false);
  return done;
}

export function onAnswer(given) { Object.assign(hooks, given); }

function take(said) {
  // Told against another page than this one, it would leave holes.
  if ((said.since ?? table.revision) !== table.revision) { refresh(); return; }
  if (said.parts) { hooks.parts(said.parts); }
  if (said.map) { hooks.drawn(said.map); }
  table.revision = said.revision;
  document.body.dataset.revision = said.revision;
  document.getElementById("saved").textContent = `saved · change ${said.revision}`;
}

// Makes a change; true when it is kept. One change waits for the one before it. answered: called with the answer, before it is shown.
export function change(what, answered = () => {}) {
  return queued(async () => {
    document.body.dataset.busy = "1";
    const answer = await ask(`${DAY}/change`, { revision: table.revision, change: what }, { changes: true });
    delete document.body.dataset.busy;
    answered();
    if (!answer) { return false; }
    if (answer.status === 200) { mine = answer.said.revision; }
    if (answer.status === 200 || answer.status === 409) { take(answer.said); }
    const told = answer.said.problems ?? [], more = told.length > 3 ? `And ${told.length - 3} more.` : "";
    complain(answer.status === 200 ? "" : [answer.said.say, ...told.slice(1, 3), more].join(" "));
    say(answer.said.say);
    return answer.status === 200;
  });
}

// What every truck says to the orders; null when the day is another one by now.
export async function answers(orders) {
  await last;
  const answer = await ask(`${DAY}/ask`, { revision: table.revision, lift: orders });
  if (answer?.status === 200) { return answer.said.parts; }
  if (answer?.said.parts) { take(answer.said); }
  if (answer) { complain(answer.said.say); }
  return null;
}

export function post(path, body = {}) {
  return queued(async () => {
    const answer = await ask(path, { revision: table.revision, ...body }, { longest: LONGEST_RUN_S });
    if (!answer) { return null; }
    if (answer.said.parts) { take(answer.said); }
    complain(answer.status >= 400 ? answer.said.say : "");
    say(answer.said.say);
    return answer.status < 400;
  });
}

export function refresh(everything = false, have = "") {
  return queued(async () => {
    const since = everything ? "" : `since=${table.revision}`;
    const said = await get(`${DAY}/parts?${since}${have && `&have=${have}`}`);
    if (said) { take(said); }
  });
}

// Fragments that change between revisions, as they are now.
async function renew(...ids) {
  const said = await get(`${DAY}/parts?have=${ids.join(",")}`);
  if (said?.parts && said.revision === table.revision) { hooks.parts(said.parts); }
}

// What the planner tells of the day.
export function listen(mayTake) {
  let heard = false;
  async function revised(told, again) {
    await last;
    // What was told while the page was not looked at is asked for, also by one that had heard nothing yet.
    const first = !heard && !again;
    heard = true;
    // The answer to a change of this page has brought all that its event tells.
    const known = !first && told.revision === mine;
    mine = null;
    if (known) { return; }
    if (told.revision === table.revision && !first) { await renew("acts", "print", "search"); }
    if (told.revision <= table.revision) { return; }
    if (!mayTake()) { hooks.told("newer", told); return; }
    await refresh();
    hooks.told("elsewhere", told);
  }
  hear(`${DAY}/events`, { revision: revised, again: (told) => hooks.told("again", told) });
}
