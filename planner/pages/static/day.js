// The day's page: brings the modules together and says what each press of a button does.
import { offerCures } from "./cure.js";
import { startDragging } from "./drag.js";
import { drawn, onPick, startMap } from "./ground.js";
import { chooseGap, held, lift, putBack, putDown, putOut, toTruck } from "./hold.js";
import { acts, startKeys } from "./keys.js";
import { closePanel, compare, countDone, cover, goTo, openLoad, openPanel, search, startPanels } from "./panels.js";
import { say } from "./ask.js";
import { DAY, change, listen, onAnswer, post, refresh } from "./wire.js";
import { afterParts, chooseRow, chooseTruck, putParts, rowsOf, start, truckName } from "./view.js";

const byId = (id) => document.getElementById(id);

const buttons = {
  truck: (button) => toTruck(numberOf(button)),
  answer: (button) => putDown(numberOf(button)),
  put_down: () => putDown(), put_back: () => putBack(), put_out: () => putOut(),
  close: () => closePanel(),
  lift: (button) => { const out = button.closest("article"); if (out) { liftOut(out.dataset.key); } else { acts.lift(); } },
  load: (button) => openLoad(numberOf(button), button.dataset, button.childNodes[1].textContent.trim()),
  truck_out: (button) => change({ kind: "truck_out", truck: truckName(numberOf(button)) }),
  truck_in: (button) => change({ kind: "truck_in", truck: truckName(numberOf(button)) }),
  draft_open: (button) => change({ kind: "draft_open", name: button.dataset.name }),
  compare: (button) => compare(button.dataset.name),
  take: async (button) => { if (await change({ kind: "take", offer: Number(button.dataset.offer) })) { closePanel(); } },
  search_start: () => search(`${DAY}/again`), search_stop: () => search(`${DAY}/again/stop`),
  print_record: (button) => post(`${DAY}/print`, { with_violations: button.dataset.broken !== undefined }),
  count_done: () => countDone(),
  place: (button) => toBroken(Number(button.dataset.number), button.dataset.seq)
};

const numberOf = (element) => Number(element.closest("[data-number]").dataset.number);

function liftOut(key) { closePanel(false); lift(null, key); }

function toBroken(number, seq) {
  closePanel(false);
  if (!number) { return; }
  chooseTruck(number);
  const row = rowsOf(number).find((one) => one.querySelector(".n").firstChild.textContent === seq) ?? rowsOf(number)[0];
  chooseRow(row);
}

function clicked(event) {
  const button = event.target.closest("[data-act], [data-panel]");
  if (button) {
    if (button.getAttribute("aria-disabled") === "true") { return; }
    if (button.dataset.panel) { openPanel(button.dataset.panel); return; }
    (buttons[button.dataset.act] ?? acts[button.dataset.act])(button);
    return;
  }
  const gap = event.target.closest("tr.gap"), stall = event.target.closest(".stall"), row = event.target.closest("tr.row");
  if (gap) { chooseGap(gap, false); putDown(); return; }
  if (stall) { toTruck(Number(stall.dataset.number)); return; }
  if (row && !held) { chooseRow(row); }
}

onAnswer({
  parts: putParts,
  drawn,
  told(kind, what) {
    if (kind === "elsewhere") { byId("saved").textContent = `changed elsewhere: ${what.said}`; say(`Changed elsewhere: ${what.said}`); }
    else if (kind === "newer") { byId("saved").textContent = "newer elsewhere: put down or back to see it"; }
    else { toldSearch(what); }
  }
});

let offers = 0;
function toldSearch(what) {
  putParts(what.parts);
  if (what.offers.length > offers) { say(`A better plan was found: ${what.offers.at(-1).said}`); }
  else if (!what.running) { say(`Planning has ended. ${what.text}`); }
  offers = what.offers.length;
}

let curing = 0;
afterParts(() => {
  cover();
  clearTimeout(curing);
  curing = setTimeout(() => { if (!held) { offerCures(); } }, 250);
});
onPick(goTo);
document.addEventListener("click", clicked);
startMap();
start();
startDragging();
startPanels();
startKeys();
await refresh(true, "nothing");
listen(() => !held);
document.body.dataset.ready = "1";
