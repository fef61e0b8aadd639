// Comparisons: one is started, watched and stopped here.
import { watch } from "./watch.js";

const byId = (id) => document.getElementById(id);
const start = watch("compare", async (now) => {
  byId("c-show").hidden = !now.done;
  byId("c-show").href = `/compare/result/${encodeURIComponent(now.name)}/`;
  (now.done ? byId("c-show") : byId("c-start")).focus();
  const page = new DOMParser().parseFromString(await (await fetch("/compare")).text(), "text/html");
  byId("c-results").replaceWith(page.getElementById("c-results") ?? byId("c-results"));
});

byId("c-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const given = new FormData(event.target);
  const sweeps = ["trucks", "compartments", "gallons"].filter((what) => given.get(what).trim()).map((what) => `${what}=${given.get(what).replace(/\s/g, "")}`);
  byId("c-show").hidden = true;
  start("/compare/start", { name: given.get("name"), fleets: given.getAll("fleet"), sweeps, from: given.get("from"), to: given.get("to") });
});
document.addEventListener("click", (event) => {
  const name = event.target.dataset.unfinished;
  if (name) { byId("c-show").hidden = true; start("/compare/start", { name, unfinished: true }); }
});
