// Dragging with mouse, pen or finger: one set of pointer events. A finger holds first, so that the
// sheet still scrolls; holding without dragging leaves the stop in hand, to be put down by a tap.
import { held, chooseGap, lift, placeAt, putBack, putDown, toTruck } from "./hold.js";
import { chooseRow, itemsOf } from "./view.js";

const HOLD_MS = 450, MOVED_PX = 6, OPENS_MS = 380, EDGE_PX = 36;
let press = null, ghost = null, over = null;

function begin(event) {
  if (event.button !== 0 || held || event.target.closest("button, a, input")) { return; }
  const row = event.target.closest("tr.row");
  if (!row || row.classList.contains("done") || !itemsOf(row).length) { return; }
  press = { row, id: event.pointerId, x: event.clientX, y: event.clientY, touch: event.pointerType === "touch", drags: false };
  if (press.touch) { press.timer = setTimeout(() => take(event.clientX, event.clientY), HOLD_MS); }
}

function take(x, y) {
  if (!press) { return; }
  press.taken = true;
  navigator.vibrate?.(20);
  chooseRow(press.row, false);
  press.asked = lift(press.row);
  ghost = document.createElement("div");
  ghost.className = "ghost";
  ghost.textContent = press.row.querySelector(".who").textContent;
  document.body.append(ghost);
  document.body.classList.add("dragging");
  follow(x, y);
}

function follow(x, y) { ghost.style.transform = `translate(${Math.min(x + 14, innerWidth - 310)}px, ${y + 10}px)`; }

function move(event) {
  if (!press || event.pointerId !== press.id) { return; }
  const far = Math.hypot(event.clientX - press.x, event.clientY - press.y) > MOVED_PX;
  if (!press.taken) {
    if (!far) { return; }
    if (press.touch) { end(); return; }
    take(event.clientX, event.clientY);
  }
  press.drags ||= far;
  press.at = [event.clientX, event.clientY];
  follow(event.clientX, event.clientY);
  const place = held && placeAt(document.elementFromPoint(event.clientX, event.clientY));
  mark(place);
  scrollNear(event.clientY);
}

function mark(place) {
  if (over?.element === place?.element) { return; }
  over?.element.classList.remove("over");
  clearTimeout(over?.timer);
  over = place;
  if (!place) { return; }
  place.element.classList.add("over");
  if (place.gap !== null) { chooseGap(place.element, false); }
  else { over.timer = setTimeout(() => { if (held?.answers && held.truck !== place.number) { toTruck(place.number); } }, OPENS_MS); }
}

function scrollNear(y) {
  const box = document.querySelector(".sheet:not([hidden]) .scroll");
  if (!box) { return; }
  const { top, bottom } = box.getBoundingClientRect();
  if (y > bottom - EDGE_PX && y < bottom + EDGE_PX) { box.scrollTop += 14; }
  if (y < top + 60 + EDGE_PX && y > top) { box.scrollTop -= 14; }
}

function end() {
  clearTimeout(press?.timer);
  ghost?.remove();
  ghost = null;
  document.body.classList.remove("dragging");
  over?.element.classList.remove("over");
  clearTimeout(over?.timer);
  press = null;
}

async function drop(event) {
  if (!press || event.pointerId !== press.id) { return; }
  const was = press, place = over;
  end();
  over = null;
  if (!was.taken) { return; }
  swallowClick();
  if (!was.drags) { return; }
  await was.asked;
  if (!held) { return; }
  if (place) { await putDown(place.number, place.gap); } else { putBack(); }
}

// The click that follows a drag is no choice of what lies under it.
function swallowClick() {
  const stop = (event) => { event.stopPropagation(); event.preventDefault(); };
  addEventListener("click", stop, { capture: true, once: true });
  setTimeout(() => removeEventListener("click", stop, { capture: true }), 0);
}

export function startDragging() {
  const sheets = document.getElementById("sheets");
  sheets.addEventListener("pointerdown", begin);
  addEventListener("pointermove", move);
  addEventListener("pointerup", drop);
  addEventListener("pointercancel", () => { const taken = press?.taken; end(); if (taken) { putBack(); } });
  // Once a finger holds a stop, its moves are no scrolling.
  addEventListener("touchmove", (event) => { if (press?.taken) { event.preventDefault(); } }, { passive: false });
  sheets.addEventListener("contextmenu", (event) => { if (press?.touch) { event.preventDefault(); } });
}
