// Panels in the place of the sheet or the map: what is out, drafts, print, forms, finding, keys.
import { LONGEST_RUN_S, ask, complain, get, isToCome, say } from "./ask.js";
import { DAY, change, post } from "./wire.js";
import { lift } from "./hold.js";
import { chooseRow, chooseTruck, chosenRow, rowOf, rowsOf, stalls, truckName, view, whereIs } from "./view.js";

const byId = (id) => document.getElementById(id);
const panels = () => [...document.querySelectorAll(".panel")];
export let open = "";
let back = null;
const narrow = matchMedia("(max-width: 800px), (max-height: 520px)");
narrow.addEventListener("change", cover);

// What lies under an open panel is out of reach of Tab: the map beside the sheets, on a small screen everything.
export function cover() {
  const overMap = open && byId(open).parentElement.id === "right";
  for (const id of ["head", "notright", "yard", "sheets", "hand"]) { byId(id).inert = Boolean(open) && narrow.matches; }
  for (const id of ["map", "map-wide"]) { byId(id).inert = overMap || (Boolean(open) && narrow.matches); }
}

export function openPanel(id, focus = true) {
  if (open === id) { closePanel(); return; }
  if (open) { hide(); } else { back = document.activeElement; }
  open = id;
  byId(id).hidden = false;
  if (id === "outs") { byId("sheets").hidden = true; }
  expanded(id, true);
  cover();
  const first = byId(id).querySelector("form input:not([type=radio]), input:checked, #find-text") ?? byId(`${id}-title`);
  if (focus) { first.focus(); }
}

function expanded(id, yes) {
  for (const button of document.querySelectorAll(`[data-panel=${id}]`)) { button.setAttribute("aria-expanded", String(yes)); }
}

function hide() {
  byId(open).hidden = true;
  expanded(open, false);
  byId("sheets").hidden = false;
  open = "";
  cover();
}

export function closePanel(focus = true) {
  if (!open) { return false; }
  hide();
  if (focus) { (back?.isConnected ? back : byId(back?.id ?? "") ?? chosenRow())?.focus(); }
  return true;
}

let target = null;

export function openLoad(number, { compartment, most = "" }, mix) {
  target = { truck: truckName(number), compartment };
  byId("load-what").textContent = `Compartment ${compartment} of ${truckName(number)} carries`;
  const mixes = [...byId("load").querySelectorAll("[type=radio]")];
  (mixes.find((one) => one.parentElement.textContent.trim() === mix) ?? mixes[0]).checked = true;
  byId("load-most").value = most;
  openPanel("load");
}

export function openRefill() {
  const row = chosenRow();
  if (!row?.dataset.gap) { say("Choose a stop first."); return; }
  target = { truck: truckName(view.truck), gap: Number(row.dataset.gap) };
  byId("refill-what").textContent = `${target.truck} refills before ${row.querySelector(".who").textContent} at`;
  openPanel("refill");
}

async function submit(event) {
  const form = event.target, kind = form.dataset.form;
  if (!kind) { return; }
  event.preventDefault();
  const given = Object.fromEntries(new FormData(form));
  if (kind === "draft_save") { if (await change({ kind, name: given.name })) { form.reset(); byId("draft-name").focus(); } return; }
  if (kind === "load") { if (await change({ kind, ...target, mix: given.mix || null, fill_to_gal: given.most ? Number(given.most) : null })) { closePanel(); } return; }
  if (kind === "refill_add") {
    if (await change({ kind, ...target, site: given.site })) {
      closePanel(false);
      chooseRow(rowsOf(view.truck).find((row) => Number(row.dataset.gap) === target.gap));
    }
    return;
  }
  await newOrder(form, given);
}

async function newOrder(form, given) {
  const problem = form.querySelector(".problem");
  let property = [...byId("customers").options].find((one) => one.value === given.who)?.dataset.property;
  if (!property) {
    const told = await get(`${DAY}/customers?text=${encodeURIComponent(given.who)}`);
    if (!told?.found) { return; }
    if (told.found.length !== 1) {
      problem.textContent = told.found.length
        ? "Several fit. Choose one from the list, or write more of the name or street."
        : "Nobody in the workbook fits. Add the customer first: the link is below.";
      byId("new-who").focus();
      return;
    }
    property = told.found[0][0];
  }
  problem.textContent = "";
  const before = new Set(outs());
  const windows = given.open || given.close ? { open: given.open || null, close: given.close || null } : {};
  const what = { kind: "new_order", property, mix: given.mix, priority: Number(given.priority), note: given.note, ...windows };
  if (given.area_ft2) { what.area_ft2 = Number(given.area_ft2); }
  if (!await change(what)) { problem.textContent = byId("link").textContent; return; }
  form.reset();
  closePanel(false);
  const made = outs().find((key) => !before.has(key));
  if (made) { await lift(null, made); }
}

const outs = () => [...document.querySelectorAll("#outs article")].map((one) => one.dataset.key);

let asked = 0;
async function suggest(event) {
  const mine = ++asked, text = event.target.value.trim();
  if (text.length < 2 || [...byId("customers").options].some((one) => one.value === text)) { return; }
  const told = await get(`${DAY}/customers?text=${encodeURIComponent(text)}`);
  if (mine !== asked || !told?.found) { return; }
  byId("customers").replaceChildren(...told.found.map(([property, words]) => {
    const option = document.createElement("option");
    option.value = words;
    option.dataset.property = property;
    return option;
  }));
}

function find() {
  const wanted = byId("find-text").value.trim().toLowerCase();
  const rows = wanted.length < 2 ? [] : [...document.querySelectorAll("tr.visit"), ...document.querySelectorAll("#outs article")];
  const hits = rows.filter((row) => `${row.textContent} ${row.dataset.key} ${row.dataset.items ?? ""}`.toLowerCase().includes(wanted)).slice(0, 12);
  byId("found").replaceChildren(...hits.map((row) => {
    const item = document.createElement("li"), button = document.createElement("button");
    const stop = row.matches("tr");
    button.type = "button";
    button.textContent = stop
      ? `${row.closest(".sheet").dataset.truck} stop ${row.querySelector(".n").firstChild.textContent}, ${row.querySelector(".time").firstChild.textContent}: ${row.querySelector(".who").textContent}`
      : `not in this day: ${row.querySelector("h4").textContent}`;
    button.addEventListener("click", () => goTo(row.dataset.key));
    item.append(button);
    return item;
  }));
  say(wanted.length < 2 ? "" : `${hits.length} found`);
}

// To a stop by the name of its first item, or to the order where it is out.
export function goTo(key) {
  const number = whereIs(key);
  closePanel(false);
  if (number) { chooseTruck(number); chooseRow(rowOf(number, key)); return; }
  if (open !== "outs") { openPanel("outs", false); }
  const card = [...document.querySelectorAll("#outs article")].find((one) => one.dataset.key === key);
  for (const one of document.querySelectorAll("#outs article")) { one.classList.toggle("chosen", one === card); }
  card?.scrollIntoView({ block: "nearest" });
  card?.querySelector("button")?.focus();
}

export async function compare(name) {
  const told = await get(`${DAY}/compare?draft=${encodeURIComponent(name)}`);
  if (told?.parts?.compared) {
    const holder = document.createElement("template");
    holder.innerHTML = told.parts.compared;
    byId("compared").replaceWith(holder.content);
    byId("compared").scrollIntoView({ block: "nearest" });
    say(byId("compared").querySelector("h3").textContent);
  }
}

// What nobody has recorded of the printed plan goes into the records as planned; they are shown then,
// with what came of it: wind and temperature may have to be read first.
export async function countDone() {
  const date = DAY.split("/").pop();
  if (isToCome(date)) { return; }
  const answer = await ask("/records/save", { date, rows: [], as_planned: true, weather: {} }, { longest: LONGEST_RUN_S, changes: true });
  if (!answer) { return; }
  const words = (answer.said.wrong ?? []).slice(0, 5).map((one) => one.words);
  sessionStorage.setItem("planner recorded", [answer.said.say, ...words].join(" "));
  location.assign(`/records?date=${date}`);
}

export async function search(path) { await post(path); }

export function startPanels() {
  document.addEventListener("submit", submit);
  byId("new-who").addEventListener("input", suggest);
  byId("find-text").addEventListener("input", find);
}
export { panels, stalls };
