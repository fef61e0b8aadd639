// An export brought in: its file, what its columns are, what would change.
import { LONGEST_RUN_S, ask, complain, say } from "./ask.js";

const byId = (id) => document.getElementById(id);

async function send(path, body, focus = []) {
  document.body.dataset.busy = "1";
  try {
    const answer = await ask(path, body, { longest: LONGEST_RUN_S, changes: true });
    if (!answer) { return; }
    const { ok, said: told } = answer;
    complain(ok ? "" : told.say);
    if (told.html) {
      const holder = document.createElement("template");
      holder.innerHTML = told.html;
      byId("r-main").replaceWith(holder.content);
      say(told.say);
      (focus.map((one) => document.querySelector(one)).find(Boolean) ?? byId("r-main")).focus();
    }
  } finally { delete document.body.dataset.busy; }
}

const wishes = () => Object.fromEntries(["without_refused", "take_export", "bring_back", "cancel_gone"].map((name) => [name, document.querySelector(`[name=${name}]`).checked]));
const next = ["#i-map [aria-invalid]", "#i-go:not([disabled])", "#i-decide"];

document.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.target, given = new FormData(form);
  if (form.id === "i-file") {
    const file = given.get("file"), query = new URLSearchParams({ name: file.name, mapping: given.get("mapping"), sheet: given.get("sheet") });
    send(`/import/file?${query}`, file, next);
  } else if (form.id === "i-map") {
    const values = {};
    for (const field of form.querySelectorAll("[name]")) { if (field.value || !field.getAttribute("aria-invalid")) { values[field.name] = field.value; } }
    send("/import/mapping", { values }, next);
  } else { send("/import/write", wishes(), ["#i-written"]); }
});
document.addEventListener("change", (event) => { if (event.target.closest("#i-write")) { send("/import/wish", wishes(), [`[name=${event.target.name}]`]); } });
document.addEventListener("click", (event) => {
  const what = event.target.closest("[data-do]")?.dataset.do;
  if (what === "undo") { send("/import/undo", {}, ["#i-written"]); }
  if (what === "lacking") { send("/import/mapping", { values: {}, lacking: true }, next); }
  if (what === "text") { send("/import/mapping", { values: {}, text: byId("i-text").value }, next); }
});
document.body.dataset.ready = "1";
