// The tables: a grid to walk and write in, what is wrong beside its cell, and forms at its side.
import { ask, complain, get, listen, say } from "./ask.js";
import { closePlacing, openPlacing } from "./placing.js";

// A large Excel file is written whole; addresses are asked of a service one a second.
const LONGEST_WRITE_S = 60, LONGEST_LOOKUP_S = 1800;
const byId = (id) => document.getElementById(id);
const body = document.body;
const view = { table: body.dataset.table, text: body.dataset.text, only: body.dataset.only, first: Number(body.dataset.first), row: 0 };
let reading = Number(body.dataset.reading), revision = Number(body.dataset.revision);
let chosen = { row: 0, c: 0 }, writing = null, back = null;
let queue = Promise.resolve();

const rowsOf = () => [...document.querySelectorAll("#t-grid tr[data-row]")];
const cellAt = (row, c) => document.querySelector(`#t-grid tr[data-row="${row}"] [data-c="${c}"]`);
const chosenCell = () => cellAt(chosen.row, chosen.c);
const query = () => new URLSearchParams(Object.entries(view).filter(([, value]) => value)).toString();

// Takes over pieces; focus and what is scrolled stay where they were.
function take(told) {
  if (told.revision < revision) { return; }
  const active = document.activeElement, inGrid = active?.closest?.("#t-grid"), id = active?.id;
  const cured = active?.closest?.("tr.cause")?.dataset.of;
  const at = [document.querySelector("#t-grid .scroll"), byId("t-problems"), byId("t-tabs")].map((one) => [one?.scrollTop ?? 0, one?.scrollLeft ?? 0]);
  for (const [name, html] of Object.entries(told.parts)) {
    if (writing && name === "t-grid") { continue; }
    const holder = document.createElement("template");
    holder.innerHTML = html;
    byId(name).replaceWith(holder.content);
  }
  [document.querySelector("#t-grid .scroll"), byId("t-problems"), byId("t-tabs")].forEach((one, number) => { if (one) { [one.scrollTop, one.scrollLeft] = at[number]; } });
  ({ reading, revision } = told);
  body.dataset.revision = revision;
  body.dataset.checking = told.checking ? "1" : "";
  mark();
  if (document.activeElement === body || !document.activeElement) {
    if (inGrid) { ((cured && document.querySelector(`#t-grid tr[data-of="${cured}"] button`)) || chosenCell() || byId("t-text")).focus({ preventScroll: true }); } else if (id) { byId(id)?.focus({ preventScroll: true }); }
  }
}

// Writes and what else changes the tables; true when it is on the disk.
function send(change) {
  const done = queue.then(async () => {
    body.dataset.busy = "1";
    try {
      const answer = await ask("/tables/change", { reading, view, change }, { longest: LONGEST_WRITE_S, changes: true });
      if (!answer) { return false; }
      const { ok, said: told } = answer;
      if (told.parts) { take(told); }
      complain(ok ? "" : told.say);
      say(told.say);
      if (ok && told.say) { byId("saved").textContent = `written: ${told.say}`; }
      return ok;
    } finally { delete body.dataset.busy; }
  });
  queue = done.catch(() => false);
  return done;
}

async function look(wanted = {}) {
  await leave(true);
  Object.assign(view, { row: 0 }, wanted);
  const told = await get(`/tables/parts?${query()}`);
  if (told?.parts) { revision = 0; take(told); }
  history.replaceState(null, "", `/tables?${query()}`);
}

function mark() {
  document.querySelector("#t-grid .chosen")?.classList.remove("chosen");
  const cell = chosenCell() ?? document.querySelector("#t-grid td[data-c]");
  for (const one of document.querySelectorAll("#t-grid [data-c][tabindex='0']")) { one.tabIndex = -1; }
  byId("do-map").hidden = byId("t-grid").dataset.at === "[]";
  byId("do-around").hidden = !(view.text || view.only);
  if (!cell) { return; }
  cell.tabIndex = 0;
  if (!chosen.row) { return; }
  cell.classList.add("chosen");
  const head = document.querySelector(`#t-grid thead th[data-c="${chosen.c}"]`);
  const words = document.createElement("b");
  words.textContent = `Row ${chosen.row}, ${head?.dataset.text || "no header"}: ${cell.textContent || "blank"}`;
  byId("hand-text").replaceChildren(words, head?.dataset.meaning ? ` · ${head.dataset.meaning}` : "");
}

function choose(row, c, focus = true) {
  chosen = { row: Number(row), c: Number(c) };
  mark();
  const cell = chosenCell();
  if (cell && focus) { cell.focus({ preventScroll: true }); cell.scrollIntoView({ block: "nearest", inline: "nearest" }); }
}

function step(down, right) {
  const rows = rowsOf(), at = Math.max(0, rows.findIndex((row) => Number(row.dataset.row) === chosen.row));
  const row = rows[Math.min(rows.length - 1, Math.max(0, at + down))];
  const last = row.querySelectorAll("[data-c]").length - 1;
  choose(row.dataset.row, Math.min(last, Math.max(0, chosen.c + right)));
}

// A cell becomes a field; Enter or Tab writes, Esc leaves it as it was.
function edit(begin = null) {
  const cell = chosenCell();
  if (!cell || writing) { return; }
  const field = document.createElement("input"), was = cell.dataset.text ?? cell.textContent;
  // A field is one line; what nobody changed keeps its line breaks.
  const plain = was.replace(/\s*[\r\n]+\s*/g, " ");
  field.value = begin ?? plain;
  field.setAttribute("aria-label", byId("hand-text").textContent);
  writing = { cell, was, plain, table: view.table, row: chosen.row, c: chosen.c, shown: cell.textContent };
  cell.replaceChildren(field);
  field.focus();
  if (begin === null) { field.select(); }
}

async function leave(write, down = 0, right = 0) {
  if (!writing) { return; }
  const { cell, was, plain, table, row, c, shown } = writing, text = cell.querySelector("input").value;
  writing = null;
  cell.textContent = write ? text : shown;
  choose(row, c);
  if (write && text !== plain && !await send({ kind: "cells", table, cells: [[row, c, was, text]] })) {
    // What was typed is not lost: the field opens again with it, and Esc shows what stands there.
    cell.textContent = shown;
    if (chosenCell()) { choose(row, c); edit(text); }
    return;
  }
  if (down || right) { step(down, right); }
}

async function toProblem(link) {
  byId("t-text").value = "";
  byId("t-only").checked = false;
  await look({ table: link.dataset.table, text: "", only: "", first: 0, row: Number(link.dataset.row) });
  const head = document.querySelector("#t-grid thead tr"), row = link.dataset.row || head?.dataset.row;
  const names = [...document.querySelectorAll("#t-grid thead th[data-c]")];
  const wrong = names.find((one) => one.dataset.column === link.dataset.column) ?? document.querySelector(`#t-grid tr[data-row="${row}"] .wrong`);
  choose(row, wrong?.dataset.c ?? 0);
  document.querySelector(`#t-grid tr[data-of="${row}"]`)?.scrollIntoView({ block: "nearest" });
  const cure = document.querySelector(`#t-grid tr[data-of="${row}"] [data-act=cure]`);
  cure?.scrollIntoView({ block: "nearest" });
  cure?.focus({ preventScroll: true });
}

let seen = -1;
function next() {
  const all = document.querySelectorAll("#t-problems a");
  if (!all.length) { say("Nothing is wrong in the tables."); return; }
  seen = (seen + 1) % all.length;
  toProblem(all[seen]);
}

function openSide(title, html) {
  back = document.activeElement;
  byId("side-title").textContent = title;
  byId("side-body").innerHTML = html;
  byId("side").hidden = false;
  (byId("side-body").querySelector("input, select, button") ?? byId("side-title")).focus();
}

function closeSide() {
  if (byId("side").hidden) { return false; }
  closePlacing();
  byId("side").hidden = true;
  byId("side-body").replaceChildren();
  (back?.isConnected ? back : chosenCell() ?? byId("t-text")).focus();
  return true;
}

async function add() {
  const told = await get(`/tables/form?table=${encodeURIComponent(view.table)}`);
  if (told?.html) { openSide(`New row of ${view.table}`, told.html); }
}

async function map(button) {
  const row = Number(button?.dataset.row ?? chosen.row), table = button?.dataset.table ?? view.table;
  if (table !== view.table || !cellAt(row, 0)) { await look({ table, text: "", only: "", row }); }
  const at = JSON.parse(byId("t-grid").dataset.at);
  if (!row || !at.length || !cellAt(row, at[0])) { say("Choose a row of places first."); return; }
  choose(row, at[0], false);
  const name = cellAt(row, 0).textContent, was = at.map((c) => cellAt(row, c).textContent);
  openSide(`Where is ${name}?`, '<div id="place-map" role="application" aria-label="Map: arrow keys move it, + and - zoom, Enter takes the middle"></div><p id="place-says">Click the place, or move the map with the arrow keys until the cross stands on it and press Enter.</p><p><button type="button" class="first" data-act="place" id="place-take">Take the middle</button></p>');
  const points = was.map(Number);
  await openPlacing(points.every((one) => one) ? points : null, async (lat, lon) => {
    const cells = [lat, lon].map((value, number) => [row, at[number], was[number], value.toFixed(6)]);
    if (await send({ kind: "cells", table, cells })) { closeSide(); choose(row, at[0]); }
  });
}

const acts = {
  undo: () => send({ kind: "undo" }), redo: () => send({ kind: "redo" }), check: () => send({ kind: "check" }),
  next, add, map, edit: () => edit(), close: closeSide,
  clear: async () => {
    const row = chosenCell()?.closest("tr"), rows = rowsOf(), at = rows.indexOf(row), { c } = chosen;
    const cells = [...row?.querySelectorAll("td[data-c]") ?? []].filter((one) => one.textContent).map((one) => [chosen.row, Number(one.dataset.c), one.textContent, ""]);
    if (cells.length && await send({ kind: "cells", table: view.table, cells })) { choose((rows[at + 1] ?? rows[at - 1]).dataset.row, c); }
  },
  around: () => { byId("t-text").value = ""; byId("t-only").checked = false; look({ text: "", only: "", row: chosen.row }).then(() => choose(chosen.row, chosen.c)); },
  page: (button) => look({ first: Number(button.dataset.first) }),
  cure: async (button) => {
    const cells = JSON.parse(button.dataset.cells), table = button.dataset.table ?? view.table, side = button.closest("li");
    if (!await send({ kind: "cells", table, cells })) { return; }
    if (button.id === "all-exact") {
      const rows = new Set(cells.map(([row]) => String(row)));
      for (const one of document.querySelectorAll('.located [data-table="properties"][data-row]')) { if (rows.has(one.dataset.row)) { one.closest("li").remove(); } }
    }
    if (side || button.id === "all-exact") { (side ?? button).remove(); (byId("side-body").querySelector("button") ?? byId("side-close")).focus(); } else { choose(cells[0][0], cells[0][1]); }
  },
  locate: async () => {
    byId("saved").textContent = "looking addresses up";
    const told = (await ask("/tables/locate", {}, { longest: LONGEST_LOOKUP_S }))?.said;
    byId("saved").textContent = told?.say ?? "";
    if (told?.html) { openSide("Addresses", told.html); } else if (told) { complain(told.say); }
  }
};

async function submitted(event) {
  event.preventDefault();
  const form = event.target;
  if (form.id === "t-find") { look({ text: byId("t-text").value.trim(), only: byId("t-only").checked ? "1" : "", first: 0 }); return; }
  const row = Object.fromEntries([...new FormData(form)].filter(([, text]) => text.trim()));
  const { table } = form.dataset;
  if (!await send({ kind: "row", table, row })) { form.querySelector(".problem").textContent = byId("link").textContent; return; }
  closeSide();
  await look({ table, text: "", only: "", row: 9_999_999 });
  const made = rowsOf().at(-1), at = JSON.parse(byId("t-grid").dataset.at);
  choose(made.dataset.row, 0);
  if (at.length && !cellAt(chosen.row, at[0]).textContent) { map(); }
}

function pressed(event) {
  if (event.defaultPrevented || event.altKey) { return; }
  const letters = localStorage.getItem("planner letters") !== "off";
  const { key } = event, field = event.target.closest("input:not([type=checkbox]), select, textarea"), inGrid = event.target.closest("#t-grid [data-c]");
  let done = true;
  if (writing && field) {
    if (key === "Enter") { leave(true, 1, 0); } else if (key === "Tab") { leave(true, 0, event.shiftKey ? -1 : 1); } else if (key === "Escape") { leave(false); } else { done = false; }
  } else if (key === "Escape") { done = closeSide();
  } else if (field || event.target.closest("#place-map")) { done = false;
  } else if (key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey || letters)) { (event.shiftKey ? acts.redo : acts.undo)();
  } else if (event.ctrlKey || event.metaKey) { done = false;
  } else if (inGrid && ["ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight", "Home", "End", "PageUp", "PageDown"].includes(key)) {
    const by = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1], Home: [0, -999], End: [0, 999], PageUp: [-20, 0], PageDown: [20, 0] }[key];
    step(...by);
  } else if (inGrid && (key === "Enter" || key === "F2")) { edit();
  } else if (inGrid && key === "Delete") { edit("");
  } else if (!letters) { done = false;
  } else if (key.toLowerCase() === "n") { next();
  } else if (key === "+") { add();
  } else if (key.toLowerCase() === "m") { map();
  } else if (key.toLowerCase() === "a") { acts.around();
  } else { done = false; }
  if (done) { event.preventDefault(); }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-act]"), link = event.target.closest("#t-problems a"), tab = event.target.closest("#t-tabs a"), cell = event.target.closest("#t-grid [data-c]");
  if (button) { if (button.getAttribute("aria-disabled") !== "true") { acts[button.dataset.act]?.(button); } return; }
  if (link) { event.preventDefault(); toProblem(link); return; }
  if (tab) { event.preventDefault(); look({ table: new URL(tab.href).searchParams.get("table"), first: 0 }).then(() => byId(tab.id)?.focus()); return; }
  if (writing && !event.target.closest("#t-grid input")) { leave(true); }
  if (cell && !writing) { choose(cell.closest("tr").dataset.row, cell.dataset.c); }
});
document.addEventListener("dblclick", (event) => { if (event.target.closest("#t-grid [data-c]")) { edit(); } });
document.addEventListener("focusin", (event) => { const cell = event.target.closest("#t-grid [data-c]"); if (cell && !writing && cell !== chosenCell()) { choose(cell.closest("tr").dataset.row, cell.dataset.c); } });
document.addEventListener("submit", submitted);
document.addEventListener("keydown", pressed);
let asked = 0;
document.addEventListener("input", async (event) => {
  const { target } = event;
  if (target.id === "t-text" || target.id === "t-only") { const mine = ++asked; setTimeout(() => { if (mine === asked) { byId("t-find").requestSubmit(); } }, 200); return; }
  const list = target.dataset.names && target.list;
  if (!list || list.dataset.whole || target.value.length < 2) { return; }
  const mine = ++asked, told = await get(`/tables/names?table=${target.dataset.names}&text=${encodeURIComponent(target.value)}`);
  if (mine !== asked || !told?.found) { return; }
  list.replaceChildren(...told.found.map(([name, label]) => new Option(label, name)));
});

async function heard(told) {
  await queue;
  if (told.revision > revision && !writing) { await look(); if (told.said) { byId("saved").textContent = told.said; } }
}
mark();
listen("/tables/events", { tables: heard });
if (new URLSearchParams(location.search).has("new")) { await add(); }
body.dataset.ready = "1";
