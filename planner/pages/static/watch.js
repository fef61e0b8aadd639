// A run that is started, watched and stopped: compare and weeks.
import { LONGEST_RUN_S, ask, complain, listen, say } from "./ask.js";

const byId = (id) => document.getElementById(id);

export async function post(path, body = {}) {
  const answer = await ask(path, body, { longest: LONGEST_RUN_S, changes: true });
  if (!answer) { return null; }
  complain(answer.ok ? "" : answer.said.say);
  return answer.ok ? answer.said : null;
}

// name: of its routes; ended: called with the run once it has ended.
export function watch(name, ended) {
  let running = false, begun = 0;
  // A share that stands still for a while is told apart from one that hangs.
  setInterval(() => { if (running) { byId("c-time").textContent = `· ${Math.max(0, Math.round(Date.now() / 1000 - begun))} s`; } }, 1000);
  function show(now) {
    byId("c-now").hidden = !now.name;
    byId("c-name").textContent = now.name;
    byId("c-share").hidden = !now.running;
    if (now.share) { byId("c-share").value = Math.round(now.share * 1000); } else { byId("c-share").removeAttribute("value"); }
    begun = now.begun;
    if (!now.running) { byId("c-time").textContent = ""; }
    byId("c-text").textContent = now.text;
    byId("c-stop").hidden = !now.running;
    for (const button of document.querySelectorAll("form button[type=submit]")) { button.disabled = now.running; }
    const was = running;
    running = now.running;
    document.body.dataset.running = running ? "1" : "";
    if (was && !running) { say(`${now.name}: ${now.text}`); ended(now); }
  }
  document.addEventListener("click", (event) => { if (event.target.id === "c-stop") { post(`/${name}/stop`).then((now) => now && show(now)); } });
  listen(`/${name}/events`, { [name]: show });
  document.body.dataset.ready = "1";
  return async (path, body) => { if (await post(path, body)) { byId("c-stop").focus(); } };
}
