// Records: what is written in the rows' fields goes into the records, or corrects them.
import { LONGEST_RUN_S, ask, complain, isToCome, say } from "./ask.js";

const form = document.getElementById("r-form");
const { date, truck } = document.body.dataset;
const rows = () => [...document.querySelectorAll(".r-row")];
const correcting = () => rows().some((row) => row.dataset.correct);

// Of a recorded row only what was changed; of another one what is written.
function cellsOf(row) {
  const cells = {};
  for (const field of row.querySelectorAll(".r-fields [name]")) {
    const text = field.value.trim();
    if (row.dataset.recorded ? text !== field.dataset.was : text) { cells[field.name] = text; }
  }
  // A row with a note alone tells nothing: what it is a note to goes with it.
  if (row.dataset.recorded && Object.keys(cells).length) {
    for (const name of ["done", "gal"]) { cells[name] ??= row.querySelector(`[name=${name}]`)?.value.trim() ?? ""; }
  }
  return cells;
}

function sent(row, cells) {
  const { key, stop, what, order, compartment } = row.dataset;
  return { key, truck, stop, what, order, compartment, ...cells };
}

// What was typed on another truck's page of the day and is not recorded yet goes with it.
function given() {
  const found = rows().filter((row) => Boolean(row.dataset.correct) === correcting());
  const here = found.map((row) => [row, cellsOf(row)]).filter(([, cells]) => Object.keys(cells).length);
  return [...here.map(([row, cells]) => sent(row, cells)), ...(correcting() ? [] : elsewhere())];
}

// Typed and not recorded: truck -> key -> the row as it is sent. It outlives a look at another page.
const KEPT = `planner written ${date}`;
const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
const elsewhere = () => Object.entries(kept).filter(([name]) => name !== truck).flatMap(([, typed]) => Object.values(typed));
const store = () => sessionStorage.setItem(KEPT, JSON.stringify(kept));
const touched = (field) => (field.options ? !field.selectedOptions[0]?.defaultSelected && field.value !== "" : field.value !== field.defaultValue);

function keep(row) {
  if (!row || row.dataset.recorded) { return; }
  kept[truck] ??= {};
  delete kept[truck][row.dataset.key];
  if ([...row.querySelectorAll(".r-fields [name]")].some(touched)) { kept[truck][row.dataset.key] = sent(row, cellsOf(row)); }
  store();
}

function takeUp() {
  const typed = kept[truck] ?? {};
  for (const [key, cells] of Object.entries(typed)) {
    const row = rows().find((one) => one.dataset.key === key && !one.dataset.recorded);
    if (!row) { delete typed[key]; }
    for (const field of row?.querySelectorAll(".r-fields [name]") ?? []) { field.value = cells[field.name] ?? ""; }
  }
  store();
  for (const link of document.querySelectorAll(".r-trucks a")) {
    const name = new URL(link.href).searchParams.get("truck");
    const many = name === truck ? 0 : Object.keys(kept[name] ?? {}).length;
    if (many) { link.append(`, ${many} written`); }
  }
}

function correct(button) {
  const row = button.closest(".r-row");
  row.dataset.correct = "1";
  row.querySelector(".r-fields").hidden = false;
  button.hidden = true;
  // A correction says what it corrects.
  document.getElementById("r-planned")?.toggleAttribute("disabled", true);
  document.getElementById("r-why").hidden = false;
  document.getElementById("r-save").textContent = "Correct the records";
  row.querySelector(".r-fields [name]").focus();
}

function show(wrong) {
  for (const list of document.querySelectorAll(".r-wrong")) { list.replaceChildren(); }
  for (const field of form.querySelectorAll("[aria-invalid]")) { field.removeAttribute("aria-invalid"); }
  let first = null;
  for (const { key, column, words } of wrong) {
    const row = rows().find((one) => one.dataset.key === key);
    const field = (row ?? form).querySelector(`[name="${CSS.escape(column || "none")}"]`);
    if (row) {
      const item = document.createElement("li");
      item.textContent = words;
      row.querySelector(".r-wrong").append(item);
    }
    field?.setAttribute("aria-invalid", "true");
    first ??= field ?? row?.querySelector("[name]");
  }
  first?.focus();
  first?.scrollIntoView({ block: "center" });
}

// Another truck's row is not on this page.
function whereOf(row) {
  return row ? `${row.truck}, stop ${row.stop} (${row.order || row.compartment || row.what}): ` : "";
}

async function save(asPlanned) {
  if (asPlanned && isToCome(date)) { return; }
  const told = Object.fromEntries(new FormData(form));
  const weather = { wind_mph: told.wind_mph, wind_from: told.wind_from, temperature_f: told.temperature_f, sign: "", notice: "" };
  for (const name of Object.keys(weather)) { weather[name] = document.querySelector(`.r-day [name=${name}]`).value; }
  const body = { date, rows: given(), weather, as_planned: asPlanned, correct: correcting(), why: document.querySelector("[name=why]").value };
  document.body.dataset.busy = "1";
  const answer = await ask("/records/save", body, { longest: LONGEST_RUN_S, changes: true });
  delete document.body.dataset.busy;
  if (!answer) { return; }
  const { ok, said } = answer;
  if (ok) {
    if (!body.correct) { sessionStorage.removeItem(KEPT); }
    sessionStorage.setItem("planner recorded", said.say);
    location.reload();
    return;
  }
  const wrong = said.wrong ?? [], here = (one) => one.key && (!one.truck || one.truck === truck);
  const loose = wrong.filter((one) => !here(one)).slice(0, 5);
  complain([said.say, ...loose.map((one) => `${whereOf(body.rows.find(({ key }) => one.key && key === one.key))}${one.words}`)].join(" "));
  say(said.say);
  show(wrong.filter((one) => here(one) || !one.key));
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-act]");
  if (button?.dataset.act === "correct") { correct(button); }
  if (button?.dataset.act === "planned") { save(true); }
});
for (const kind of ["input", "change"]) { form?.addEventListener(kind, (event) => keep(event.target.closest(".r-row"))); }
form?.addEventListener("submit", (event) => { event.preventDefault(); save(false); });
const recorded = sessionStorage.getItem("planner recorded");
sessionStorage.removeItem("planner recorded");
if (recorded) {
  document.getElementById("r-main").prepend(Object.assign(document.createElement("p"), { className: "r-told", textContent: recorded }));
  document.getElementById("r-main").focus();
  say(recorded);
}
if (form) { takeUp(); }
document.body.dataset.ready = "1";
