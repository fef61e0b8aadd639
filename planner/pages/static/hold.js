// A stop in hand: every truck answers, every gap shows its price, and it is put down in one.
import { say } from "./ask.js";
import { answers, change } from "./wire.js";
import { chooseRow, chooseTruck, itemsOf, rowOf, rowsOf, sheetOf, show, stallOf, stalls, truckName, view, whereIs } from "./view.js";

const byId = (id) => document.getElementById(id);
export let held = null;

const isOrder = (item) => item.startsWith("order ");
const orderOf = (item) => item.slice(6);

// Takes a row's stop in hand, or an order that is out of the day (named 'order 2107').
export async function lift(row, out = "") {
  if (held) { putBack(false); }
  if (row?.classList.contains("done")) { say("This is done and recorded, and stays where it is."); return; }
  const items = row ? itemsOf(row) : [out];
  if (!items.length) { say("This cannot be moved."); return; }
  const from = row ? Number(row.closest(".sheet").dataset.number) : 0;
  const orders = items.filter(isOrder).map(orderOf);
  const mine = { items, orders, from, key: items[0], at: Number(row?.dataset.gap), answers: null, gap: null, words: "" };
  held = mine;
  document.body.classList.add("inhand");
  byId("taken").hidden = false;
  const what = row ? `${row.querySelector(".who").textContent}, ${truckName(from)}` : nameOfOut(out);
  byId("taken-text").textContent = `In hand: ${what}`;
  byId("put-down").disabled = true;
  byId("put-out").hidden = !orders.length || !from;
  row?.classList.add("held");
  if (!orders.length) {
    showGaps(from, null);
    say(`In hand: ${what}. Arrows choose a gap, Enter puts it down.`);
    return;
  }
  for (const stall of stalls()) { tell(Number(stall.dataset.number), null); }
  const told = await answers(orders);
  if (held !== mine) { return; }
  if (!told) { putBack(true, "Nothing was moved: it is where it was."); return; }
  held.answers = new Map(told.trucks.map((one) => [one.number, one]));
  held.outWords = told.out;
  for (const one of told.trucks) { tell(one.number, one, one.number === told.best); }
  byId("put-out").title = told.out;
  const best = told.best || from || view.truck;
  toTruck(best);
  say(`${byId("taken-text").textContent}. ${told.say}`);
}

function nameOfOut(item) {
  const card = [...document.querySelectorAll("#outs article")].find((one) => one.dataset.key === item);
  return card ? card.querySelector("h4").firstChild.textContent.trim() : item;
}

// What a truck says, in its stall.
function tell(number, answer, best = false) {
  const box = byId(`answer-${number}`);
  box.hidden = false;
  box.className = `answer${!answer ? "" : answer.can ? " can" : " cannot"}${best ? " best" : ""}`;
  if (!answer) { box.textContent = "asking…"; return; }
  const lead = document.createElement("b");
  lead.textContent = answer.price || (answer.can ? "" : answer.here ? "is here" : "cannot:");
  box.replaceChildren(lead, ` ${answer.words}`);
}

// Opens a truck's sheet with its gaps, the best one chosen.
export function toTruck(number) {
  if (!held) { chooseTruck(number); return; }
  chooseTruck(number, held.from && held.from !== number ? held.from : 0);
  showGaps(number, held.answers?.get(number));
}

function clearGaps() { for (const row of document.querySelectorAll("tr.gap")) { row.remove(); } }

function showGaps(number, answer) {
  clearGaps();
  const prices = new Map((answer?.gaps ?? []).map((one) => [one.gap, one]));
  const rows = rowsOf(number);
  const width = rows[0]?.children.length ?? 1;
  for (const row of rows) {
    if (row.dataset.gap === undefined || row.classList.contains("depart") || row.classList.contains("done")) { continue; }
    const gap = Number(row.dataset.gap), told = prices.get(gap);
    if (answer && !told) { continue; }
    row.before(gapRow(gap, told, width));
  }
  held.truck = number;
  // What has no price, a refill or lunch, begins where it stands: the sheet must not run off.
  const wanted = answer ? answer.best : number === held.from ? held.at : null;
  const found = gaps().find((one) => Number(one.dataset.gap) === wanted) ?? (gaps().length ? gaps()[gaps().length - 1] : null);
  chooseGap(found);
  if (!found) {
    // A truck that stays in the yard has one gap: its whole day.
    held.gap = 0;
    byId("put-down").disabled = !answer?.gaps.length;
    tellPutDown(answer?.gaps?.[0]);
    byId(`answer-${number}`).focus();
  }
}

function gapRow(gap, told, width) {
  const row = document.createElement("tr"), price = document.createElement("td"), words = document.createElement("td");
  row.className = `gap${!told ? "" : told.breaks ? " bad" : " good"}`;
  row.dataset.gap = gap;
  row.tabIndex = -1;
  price.colSpan = 2;
  price.className = "price";
  price.textContent = told ? told.price : "here";
  words.colSpan = width - 2;
  words.textContent = !told ? "put it down here" : told.breaks ? `✕ breaks: ${told.breaks}` : `${told.words} · no rule broken`;
  row.append(price, words);
  return row;
}

export const gaps = () => [...(sheetOf(held?.truck ?? 0)?.querySelectorAll("tr.gap") ?? [])];

export function chooseGap(row, focus = true) {
  for (const one of gaps()) {
    one.classList.toggle("chosen", one === row);
    one.setAttribute("aria-selected", String(one === row));
    one.tabIndex = one === row ? 0 : -1;
  }
  if (!row || !held) { return; }
  held.gap = Number(row.dataset.gap);
  byId("put-down").disabled = false;
  tellPutDown(held.answers?.get(held.truck)?.gaps.find((one) => one.gap === held.gap));
  if (focus) { row.scrollIntoView({ block: "center" }); row.focus({ preventScroll: true }); }
}

function tellPutDown(told) {
  const words = told ? `: ${told.breaks ? "breaks a rule" : told.price}` : "";
  byId("put-down").firstChild.textContent = `Put down on ${truckName(held.truck)}${words} `;
}

export function stepGap(by) {
  const all = gaps();
  const at = all.findIndex((row) => row.classList.contains("chosen"));
  chooseGap(all[Math.min(all.length - 1, Math.max(0, at + by))]);
}

// The next truck that can take it, cheapest first.
export function nextTruck(by) {
  if (!held?.answers) { return; }
  const can = [...held.answers.values()].filter((one) => one.can).sort((a, b) => a.cost - b.cost).map((one) => one.number);
  if (!can.length) { say("No truck can take it without breaking a rule."); return; }
  toTruck(can[(can.indexOf(held.truck) + by + can.length) % can.length]);
}

export function putBack(focus = true, told = "Put back.") {
  const was = held;
  if (!was) { return; }
  release();
  if (was.from) {
    chooseTruck(was.from);
    if (focus) { chooseRow(rowOf(was.from, was.key)); }
  } else if (focus) { show(); byId("open-outs")?.focus(); }
  if (focus) { say(told); }
}

function release() {
  held = null;
  document.body.classList.remove("inhand");
  byId("taken").hidden = true;
  clearGaps();
  for (const box of document.querySelectorAll(".answer")) { box.hidden = true; }
  for (const row of document.querySelectorAll("tr.held")) { row.classList.remove("held"); }
}

// Puts it down on a truck, in the chosen gap or the truck's best.
export async function putDown(number = held?.truck, gap = null) {
  if (!held) { return; }
  const was = held, answer = was.answers?.get(number);
  if (was.orders.length && !was.answers) { return; }
  if (answer && !answer.gaps.length) { say(`${truckName(number)}: ${answer.words}`); return; }
  const at = gap ?? (number === was.truck ? was.gap : answer?.best ?? answer?.gaps?.[0]?.gap ?? 0);
  if (at === null) { return; }
  if (number === was.from && at >= was.at && at <= was.at + was.items.length) { putBack(true, "It is where it was: no change."); return; }
  const truck = truckName(number);
  let what;
  if (was.orders.length) {
    what = { kind: was.from ? "move" : "put_in", orders: was.orders, truck, gap: at };
    if (answer?.load) { what.compartment = answer.load; }
  } else if (was.key.startsWith("lunch")) { what = { kind: "lunch_move", truck: truckName(was.from), gap: at }; }
  else { what = { kind: "refill_move", truck: truckName(was.from), item: was.key, gap: at, ...(number === was.from ? {} : { to: truck }) }; }
  held = null;
  // Its gap stays until the answer is here, and goes in the frame that shows the new plan.
  const kept = await change(what, () => {
    release();
    view.key = was.key;
    view.truck = number;
    view.beside = was.from && was.from !== number ? was.from : view.beside;
  });
  const now = kept ? (was.orders.length ? whereIs(was.key) : number) : was.from;
  if (now) {
    chooseTruck(now, kept && was.from !== now ? was.from : 0);
    chooseRow(rowOf(now, was.key) ?? rowsOf(now)[0]);
  }
}

export async function putOut() {
  const was = held;
  if (!was?.orders.length || !was.from) { return; }
  release();
  await takeOut(was.from, was.orders);
}

export async function takeOut(number, orders) {
  const rows = rowsOf(number);
  const at = rows.findIndex((row) => itemsOf(row).includes(`order ${orders[0]}`));
  const next = rows[at + 1]?.dataset.key;
  if (await change({ kind: "remove", orders })) {
    chooseTruck(number);
    chooseRow(rowOf(number, next) ?? rowsOf(number)[0]);
  }
}

// Where a drop or a tap would put it: a stall, a gap, or nothing.
export function placeAt(element) {
  const gap = element?.closest?.("tr.gap"), stall = element?.closest?.(".stall"), row = element?.closest?.("tr.row");
  if (gap) { return { number: held.truck, gap: Number(gap.dataset.gap), element: gap }; }
  if (stall) { return { number: Number(stall.dataset.number), gap: null, element: stall }; }
  if (row && Number(row.closest(".sheet").dataset.number) === held.truck) {
    const before = row.previousElementSibling;
    if (before?.classList.contains("gap")) { return { number: held.truck, gap: Number(before.dataset.gap), element: before }; }
  }
  return null;
}
