// The calendar: days are laid, rain is asked about, calls are recorded.
import { post, watch } from "./watch.js";
import { get, say } from "./ask.js";

const byId = (id) => document.getElementById(id);

function take(html, focus) {
  const open = [...document.querySelectorAll("#w-calls details")].map((one) => one.open), top = byId("w-side").scrollTop;
  const holder = document.createElement("template");
  holder.innerHTML = html;
  const notes = [...document.querySelectorAll("#w-calls input")].filter((one) => one.value).map((one) => [one.ariaLabel, one.value]);
  const sheet = byId("w-sheet");
  byId("w-panel").replaceWith(holder.content);
  if (focus === null) {
    // The sheet is the same but for who was told: it need not blink.
    byId("w-sheet").replaceWith(sheet);
    document.querySelectorAll("#w-calls details").forEach((one, number) => { if (number in open) { one.open = open[number]; } });
    const fields = [...document.querySelectorAll("#w-calls input")];
    for (const [label, value] of notes) { const field = fields.find((one) => one.ariaLabel === label); if (field) { field.value = value; } }
    byId("w-side").scrollTop = top;
  }
}

const start = watch("weeks", async () => {
  const told = await get("/weeks/panel");
  if (!told?.html) { return; }
  take(told.html, "answer");
  (byId("w-answer") ?? byId("w-report") ?? byId("w-panel")).focus();
});

document.addEventListener("submit", (event) => {
  event.preventDefault();
  const given = new FormData(event.target, event.submitter);
  if (event.target.id === "w-lay") { start("/weeks/lay", { from: given.get("from"), days: given.get("days"), fresh: given.has("fresh") }); }
  if (event.target.id === "w-ask") { start("/weeks/ask", { wet: given.get("wet"), without: given.get("truck") ? `${given.get("truck")}@${given.get("on")}` : "" }); }
  if (event.target.id === "w-rounds") { start("/weeks/rounds", { date: given.get("date"), write: given.has("write") }); }
});
document.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (button?.id === "w-take") { start("/weeks/ask", { wet: button.dataset.wet, without: button.dataset.without, write: true }); }
  if (!button?.dataset.calls && button?.id !== "w-back") { return; }
  const row = button.closest("li, p"), note = row.querySelector("input"), next = (row.nextElementSibling ?? row.previousElementSibling)?.querySelector("button")?.id;
  const calls = button.dataset.calls?.split(" ").map(Number), first = byId("w-panel").dataset.first;
  const told = calls ? await post("/weeks/called", { first, calls, outcome: button.dataset.outcome, note: note?.value.trim() ?? "" }) : await post("/weeks/uncalled");
  if (!told) { return; }
  if (note) { note.value = ""; }
  take(told.html, null);
  say(told.say);
  (byId(button.id) ?? byId(next) ?? byId("w-calls-title")).focus();
});
