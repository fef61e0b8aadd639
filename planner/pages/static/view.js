// What is chosen, and the fragments put in their places without moving anything else.
import { aboutOrder, drawn, showTrucks } from "./ground.js";
import { patch } from "./patch.js";

const byId = (id) => document.getElementById(id);
export const view = { truck: 0, beside: 0, key: "" };
const wide = matchMedia("(min-width: 1700px)");
const hooks = { after() {} };
export const afterParts = (call) => { hooks.after = call; };

export const sheetOf = (number) => byId(`sheet-${number}`);
export const stallOf = (number) => byId(`stall-${number}`);
export const stalls = () => [...document.querySelectorAll(".stall")];
export const rowsOf = (number) => [...(sheetOf(number)?.querySelectorAll("tr.row") ?? [])];
export const truckName = (number) => stallOf(number)?.dataset.truck ?? "";
export const itemsOf = (row) => (row?.dataset.items ? JSON.parse(row.dataset.items) : row && !/^(depart|return)$/.test(row.dataset.key) ? [row.dataset.key] : []);
export const rowOf = (number, key) => rowsOf(number).find((row) => row.dataset.key === key || itemsOf(row).includes(key));
export const chosenRow = () => rowOf(view.truck, view.key);

export function whereIs(key) {
  return stalls().map((stall) => Number(stall.dataset.number)).find((number) => rowOf(number, key));
}

// Shows a truck; the one before stays beside it where there is room.
export function chooseTruck(number, beside = 0) {
  if (!sheetOf(number)) { return false; }
  if (beside) { view.beside = beside; } else if (number !== view.truck) { view.beside = view.truck; }
  view.truck = number;
  if (!chosenRow()) { view.key = ""; }
  show();
  return true;
}

export function chooseRow(row, focus = true) {
  if (!row) { return; }
  const number = Number(row.closest(".sheet").dataset.number);
  if (number !== view.truck) { view.beside = view.truck; view.truck = number; }
  view.key = row.dataset.key;
  show();
  row.scrollIntoView({ block: "nearest" });
  if (focus) { row.focus({ preventScroll: true }); }
}

export function stepRow(by) {
  const rows = rowsOf(view.truck);
  const at = rows.indexOf(chosenRow());
  const to = at < 0 ? (by > 1 ? rows.length - 1 : 0) : at + by;
  chooseRow(rows[Math.min(rows.length - 1, Math.max(0, to))]);
}

export function show() {
  for (const stall of stalls()) {
    const number = Number(stall.dataset.number);
    stall.classList.toggle("chosen", number === view.truck);
    stall.classList.toggle("beside", number === view.beside && (wide.matches || document.body.classList.contains("inhand")));
    stall.querySelector(".open").setAttribute("aria-pressed", String(number === view.truck));
    const sheet = sheetOf(number);
    sheet.hidden = !(number === view.truck || (wide.matches && number === view.beside));
  }
  // Only rows that look other than they should are touched: all of them would be styled anew.
  for (const row of document.querySelectorAll('tr.row.chosen, tr.row[tabindex="0"], tr.row:not([aria-selected])')) { mark(row, false); }
  const chosen = chosenRow();
  if (chosen) { mark(chosen, true); }
  for (const number of [view.truck, view.beside]) {
    const row = (number === view.truck && chosen) || rowsOf(number)[0];
    if (row) { row.tabIndex = 0; }
  }
  tellHand();
  showTrucks(view.truck, wide.matches || document.body.classList.contains("inhand") ? view.beside : 0, view.key);
}
wide.addEventListener("change", show);

function mark(row, chosen) {
  row.classList.toggle("chosen", chosen);
  row.setAttribute("aria-selected", String(chosen));
  row.tabIndex = -1;
}

function tellHand() {
  const row = chosenRow(), text = byId("hand-text");
  for (const button of document.querySelectorAll("#hand-acts [data-act]")) {
    const kind = row ? [...row.classList].find((name) => ["visit", "refill", "lunch"].includes(name)) : "";
    const fits = {
      lift: kind, pin: kind === "visit", out: kind === "visit" || kind === "refill",
      refill: row && row.dataset.gap, lunch: row && row.dataset.gap
    }[button.dataset.act];
    button.toggleAttribute("disabled", !fits || row.classList.contains("done"));
  }
  if (!row) { return; }
  const number = row.querySelector(".n").firstChild.textContent;
  const name = document.createElement("b");
  name.textContent = row.querySelector(".who").textContent;
  const facts = new Set([row.dataset.hand, ...itemsOf(row).flatMap(aboutOrder)].filter(Boolean));
  text.replaceChildren(/^\d/.test(number) ? `Stop ${number}: ` : "", name, ["", ...facts].join(" · "));
  byId("do-pin").firstChild.textContent = row.dataset.pinned ? "Unpin " : "Pin ";
}

// Each cell looks as its column's head; levels as widths: a strict content policy lets no style stand
// in the page, and what every row has would be sent anew with each change.
function paintLevels(root) {
  for (const table of root.querySelectorAll("table[role=grid]")) {
    const heads = [...table.tHead.rows[0].cells];
    for (const row of table.querySelectorAll("tr.row")) {
      const levels = row.dataset.levels.split(" ");
      heads.forEach((head, at) => {
        row.cells[at].classList.add(...head.classList);
        if (head.classList.contains("t")) { row.cells[at].style.setProperty("--level", `${levels.shift()}%`); }
      });
    }
  }
}

// Puts fragments over those with their ids. Focus, scroll and what is open stay.
export function putParts(parts) {
  const active = document.activeElement;
  const focus = { id: active?.id, key: active?.dataset?.key };
  for (const old of Object.keys(parts).map(byId).filter(Boolean)) {
    const holder = document.createElement("template");
    holder.innerHTML = parts[old.id];
    const made = holder.content.firstElementChild;
    paintLevels(made);
    patch(old, made);
    // A row that is only named, and is not here.
    if (old.querySelector("[data-same]")) { location.reload(); return; }
  }
  // What is chosen is followed to the truck that has it now.
  const now = view.key && !chosenRow() ? whereIs(view.key) : 0;
  if (now) { chooseTruck(now); } else { show(); }
  if (now) { chosenRow().scrollIntoView({ block: "nearest" }); }
  hooks.after(parts);
  if (document.activeElement === document.body || document.activeElement === null) {
    const there = (focus.key && rowOf(whereIs(focus.key), focus.key)) || (focus.id && byId(focus.id));
    (there || chosenRow() || byId(`open-${view.truck}`))?.focus({ preventScroll: true });
  }
}

export function start() {
  paintLevels(document);
  const out = stalls().filter((stall) => !stall.classList.contains("idle")).map((stall) => Number(stall.dataset.number));
  view.truck = out[0] || 1;
  view.beside = out[1] || 0;
  show();
}

export { drawn };
