// Comparisons: one is started, watched and stopped here.
import { complain, say } from "./wire.js";

const byId = (id) => document.getElementById(id);

async function send(path, body = {}) {
  try {
    const answer = await fetch(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
    const told = await answer.json();
    complain(answer.ok ? "" : told.say);
    if (answer.ok) { show(told); }
  } catch { complain("The planner does not answer."); }
}

function show(now) {
  byId("c-now").hidden = !now.name;
  byId("c-name").textContent = now.name;
  byId("c-share").value = Math.round(now.share * 1000);
  byId("c-text").textContent = now.text;
  byId("c-stop").hidden = !now.running;
  byId("c-show").hidden = !now.done;
  byId("c-show").href = `/compare/result?name=${encodeURIComponent(now.name)}`;
  byId("c-start").disabled = now.running;
  const was = document.body.dataset.running === "1";
  document.body.dataset.running = now.running ? "1" : "";
  if (was && !now.running) { say(`${now.name}: ${now.text}`); (now.done ? byId("c-show") : byId("c-start")).focus(); }
}

byId("c-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const given = new FormData(event.target);
  const sweeps = ["trucks", "compartments", "gallons"].filter((what) => given.get(what).trim()).map((what) => `${what}=${given.get(what).replace(/\s/g, "")}`);
  send("/compare/start", { name: given.get("name"), fleets: given.getAll("fleet"), sweeps, from: given.get("from"), to: given.get("to") });
});
byId("c-stop").addEventListener("click", () => send("/compare/stop"));
const stream = new EventSource("/compare/events");
stream.addEventListener("compare", (event) => show(JSON.parse(event.data)));
addEventListener("pagehide", () => stream.close());
document.body.dataset.ready = "1";
