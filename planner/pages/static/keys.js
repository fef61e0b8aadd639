// The keyboard: every key of the list under '?', and no other.
import { change } from "./wire.js";
import { gaps, held, lift, nextTruck, putBack, putDown, putOut, stepGap, takeOut, toTruck } from "./hold.js";
import { closePanel, open, openPanel, openRefill } from "./panels.js";
import { chooseTruck, chosenRow, itemsOf, rowsOf, stepRow, truckName, view, chooseRow } from "./view.js";

const KEPT = "planner letters";
const byId = (id) => document.getElementById(id);
let digits = null;

export const ordersOf = (row) => itemsOf(row).filter((item) => item.startsWith("order ")).map((item) => item.slice(6));

export const acts = {
  lift() { const row = chosenRow(); if (row) { lift(row); } },
  async pin() {
    const row = chosenRow(), orders = ordersOf(row);
    if (orders.length) { await change({ kind: row.dataset.pinned ? "unpin" : "pin", orders }); }
  },
  async out() {
    if (held) { await putOut(); return; }
    const row = chosenRow(), orders = ordersOf(row), items = itemsOf(row);
    if (orders.length) { await takeOut(view.truck, orders); return; }
    if (items.length) {
      const at = rowsOf(view.truck).indexOf(row), does = items[0].split(" ")[0];
      if (await change({ kind: `${does}_delete`, truck: truckName(view.truck), item: items[0] })) { chooseRow(rowsOf(view.truck)[at]); }
    }
  },
  refill: openRefill,
  async lunch() {
    const row = chosenRow();
    if (row?.dataset.gap) { await change({ kind: "lunch_move", truck: truckName(view.truck), gap: Number(row.dataset.gap) }); }
  },
  undo() { if (byId("undo").ariaDisabled !== "true") { change({ kind: "undo" }); } },
  redo() { if (byId("redo").ariaDisabled !== "true") { change({ kind: "redo" }); } },
  wide() {
    const wide = document.body.classList.toggle("wide");
    byId("map-wide").setAttribute("aria-pressed", String(wide));
  },
  // What is not right, one after another: broken rules, then what is out.
  next() {
    const causes = [...document.querySelectorAll("tr.cause, p.cause")];
    if (!causes.length) { openPanel("outs"); return; }
    const at = (causes.findIndex((one) => one.classList.contains("seen")) + 1) % causes.length;
    causes.forEach((one, number) => one.classList.toggle("seen", number === at));
    const cause = causes[at];
    chooseTruck(Number(cause.closest(".sheet").dataset.number));
    let row = cause;
    while (row && !row.classList.contains("row")) { row = row.previousElementSibling; }
    if (row) { chooseRow(row); } else { cause.focus(); }
    cause.scrollIntoView({ block: "nearest" });
  }
};

const letters = {
  m: acts.lift, k: acts.pin, r: acts.refill, l: acts.lunch, g: acts.wide, n: acts.next,
  w: () => openPanel("outs"), p: () => openPanel("print"), "/": () => openPanel("find"), "?": () => openPanel("keys")
};

function digit(key) {
  if (digits !== null) {
    digits += key;
    if (digits.length === 2) { const number = Number(digits); digits = null; toTruck(number); }
    return;
  }
  if (key === "0") { digits = ""; return; }
  toTruck(Number(key));
}

function plainKey(event) {
  const { key } = event;
  const inSheet = event.target === document.body || event.target.closest("tr.row, tr.gap");
  if (key === "Escape") { if (held) { putBack(); } else if (!closePanel() && document.body.classList.contains("wide")) { acts.wide(); } return true; }
  if (key === "Delete") { acts.out(); return true; }
  if (key === "ArrowDown" || key === "ArrowUp") {
    if (event.target.closest(".panel, select")) { return false; }
    const by = key === "ArrowDown" ? 1 : -1;
    if (held && gaps().length) { stepGap(by); } else { stepRow(by); }
    return true;
  }
  if (key === "Home" || key === "End") { if (event.target.closest(".panel, select")) { return false; } stepRow(key === "Home" ? -999 : 999); return true; }
  // A truck that stays in the yard has no gap: focus is on its answer then.
  const inHand = held && (inSheet || event.target.closest(".answer"));
  if (key === "Enter" && inHand) { putDown(); return true; }
  if (key === "Enter" && inSheet && !held) { acts.lift(); return true; }
  if (key === "Tab" && inHand && held.answers) { nextTruck(event.shiftKey ? -1 : 1); return true; }
  return false;
}

function pressed(event) {
  if (event.defaultPrevented || event.altKey) { return; }
  const typing = event.target.closest("input:not([type=radio]):not([type=checkbox]), select, textarea");
  const undo = event.key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey || byId("letters").checked);
  if (typing) { if (event.key === "Escape") { closePanel(); event.preventDefault(); } return; }
  let done = false;
  if (undo) { (event.shiftKey ? acts.redo : acts.undo)(); done = true; }
  else if (event.ctrlKey || event.metaKey) { return; }
  else { done = plainKey(event); }
  if (!done && byId("letters").checked) {
    if (/^\d$/.test(event.key)) { digit(event.key); done = true; }
    else if (letters[event.key.toLowerCase()]) { digits = null; letters[event.key.toLowerCase()](); done = true; }
  }
  if (done) { event.preventDefault(); }
}

export function startKeys() {
  document.addEventListener("keydown", pressed);
  const switched = byId("letters");
  switched.checked = localStorage.getItem(KEPT) !== "off";
  switched.addEventListener("change", () => localStorage.setItem(KEPT, switched.checked ? "on" : "off"));
}
