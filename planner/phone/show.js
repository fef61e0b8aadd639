// Which screen is shown, and in which phase of the work a stop is.
const stopOf = new Map(told.stops.map(stop => [stop.seq, stop]));
const last = Math.max(...told.stops.filter(stop => stop.kind !== "return").map(stop => stop.seq));
let opened = "";
let cameFrom = "stops";
let writing = [];

// A stop keeps its name when a newer plan gives it another number.
const nameOf = stop => stop.rows.length ? stop.rows.join(" | ") : ["refill", "visit"].includes(stop.kind) ? `${stop.kind} ${stop.seq}` : stop.kind;

function phaseOf(stop) {
  const open = stop.rows.filter(key => !settled(key));
  if (!open.length) return ["done", null];
  if (!stop.rows.some(key => typeof cellsOf(key).arrived === "number")) return ["drive", open[0]];
  return [typeof cellsOf(open[0]).start === "number" ? "spray" : "ready", open[0]];
}

function finished(stop) {
  if (stop.kind === "visit") return stop.done || phaseOf(stop)[0] === "done";
  return stop.done || (state().passed ?? []).includes(nameOf(stop));
}

const myStop = () => told.stops.find(stop => !finished(stop)) ?? told.stops.at(-1);

function go(id) {
  if (location.hash === `#${id}`) show();
  else location.hash = id;
}

function show() {
  const id = decodeURIComponent(location.hash.slice(1));
  const wanted = document.getElementById(id);
  // Whoever opens a plan for the first time begins with what holds for the whole day.
  const home = state().seen === told.plan ? `stop-${myStop().seq}` : "packet";
  const screen = wanted?.classList.contains("screen") ? wanted : document.getElementById(home);
  if (opened && opened !== screen.id && !["write", "skip"].includes(opened)) cameFrom = opened;
  for (const one of document.querySelectorAll(".screen.shown")) one.classList.remove("shown");
  screen.classList.add("shown");
  screen.querySelector(".middle").scrollTop = 0;
  const fresh = opened !== "" && opened !== screen.id;
  opened = screen.id;
  draw();
  if (fresh) screen.querySelector("h1").focus({ preventScroll: true });
}

function said(row) {
  const cells = cellsOf(row.key);
  if (cells.done === false) return `skipped: ${cells.note ?? "no reason written"}`;
  if (cells.done !== true) return "";
  const parts = [typeof cells.gal === "number" ? `${cells.gal} gal` : "gallons not written"];
  if (typeof cells.start === "number") parts.push(clock(cells.start) + (typeof cells.end === "number" ? ` to ${clock(cells.end)}` : ""));
  if (typeof cells.wind_mph === "number") parts.push(`wind ${cells.wind_mph} mph ${cells.wind_from ?? ""}`.trim());
  if (typeof cells.temperature_f === "number") parts.push(`${cells.temperature_f} °F`);
  const without = lacking(row).filter(column => column !== "gal");
  return `✓ ${parts.join(", ")}${without.length ? `; ${lackingWords(without)}` : ""}`;
}

// A slot is filled anew only when it is about something else: whoever writes in it stays there.
function fillSlot(slot, about, keys, columns) {
  if (!slot || slot.dataset.about === about) return;
  slot.dataset.about = about;
  slot.replaceChildren(...fields(keys, columns));
}

function drawVisit(screen, stop) {
  const [phase, key] = phaseOf(stop);
  screen.dataset.phase = phase;
  const actions = screen.querySelector(".actions");
  if (!actions.children.length) actions.append(document.getElementById("visit-actions").content.cloneNode(true));
  for (const part of screen.querySelectorAll(".on-drive, .on-ready, .on-spray, .on-done")) part.hidden = !part.classList.contains(`on-${phase}`);
  for (const part of screen.querySelectorAll("[data-row]")) {
    part.querySelector(".written").textContent = said(rowOf.get(part.dataset.row));
    part.classList.toggle("other", phase !== "done" && key !== part.dataset.row && phase !== "drive");
  }
  if (!key) return;
  if (phase !== "ready") screen.querySelector("[data-do=skip]").textContent = "Skip…";
  const row = rowOf.get(key);
  const open = stop.rows.filter(one => !settled(one));
  if (phase === "ready") {
    const before = ["sign", "notice", "neighbors", "wind_mph", "wind_from", "temperature_f"].filter(column => row.needs.includes(column));
    fillSlot(screen.querySelector(".slot.on-ready"), `ready ${key}`, open, before);
    const without = lacking(row).filter(column => before.includes(column));
    const button = screen.querySelector("[data-do=start]"), against = forbidding(key);
    button.hidden = against.length > 0;
    screen.querySelector("[data-do=wait]").hidden = against.length === 0;
    screen.querySelector("[data-do=skip]").textContent = against.length ? `Skip: ${reasonOf[against[0]].toLowerCase()}` : "Skip…";
    button.toggleAttribute("data-wait", without.length > 0);
    button.textContent = without.length ? `Start (${without.length} not written)` : "Start spraying";
  }
  if (phase === "spray") {
    fillSlot(screen.querySelector(".slot.on-spray"), `spray ${key}`, [key], ["gal"]);
    const without = typeof cellsOf(key).gal !== "number";
    const button = screen.querySelector("[data-do=done]");
    button.toggleAttribute("data-wait", without);
    button.textContent = without ? "Done (gallons not written)" : "Done";
  }
}

function drawStop(screen, stop) {
  if (stop.kind === "visit") { drawVisit(screen, stop); return; }
  for (const part of screen.querySelectorAll("[data-row]")) {
    part.querySelector(".written").textContent = said(rowOf.get(part.dataset.row));
  }
}

function drawStops() {
  const mine = myStop();
  for (const link of document.querySelectorAll("#stops [data-stop]")) {
    const stop = stopOf.get(Number(link.dataset.stop));
    if (stop === mine) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
    const skipped = stop.rows.length > 0 && stop.rows.every(key => cellsOf(key).done === false);
    link.querySelector("i").textContent = skipped ? "skipped" : finished(stop) ? "✓" : "";
  }
}

function draw() {
  const screen = document.getElementById(opened);
  if (!screen) return;
  const stop = opened.startsWith("stop-") ? stopOf.get(Number(opened.slice(5))) : myStop();
  document.getElementById("where").textContent = stop.kind === "visit" || stop.kind === "refill" ? `${told.truck} · stop ${stop.seq} of ${last}` : `${told.truck} · ${{ depart: "yard", lunch: "lunch", return: "way home" }[stop.kind]}`;
  if (opened.startsWith("stop-")) drawStop(screen, stop);
  if (screen.classList.contains("fill")) drawFill(screen);
  if (opened === "stops") drawStops();
  if (opened === "end") drawEnd();
  drawReach();
}

// Where the pressed button is gone, the next thing to do takes the focus.
function focusNext() {
  const screen = document.getElementById(opened);
  const lost = document.activeElement === document.body || document.activeElement?.offsetParent === null;
  if (!lost) return;
  const slot = [...screen.querySelectorAll(".slot input, .slot select")].find(one => one.offsetParent !== null);
  (slot ?? [...screen.querySelectorAll(".actions button, .actions a")].find(one => one.offsetParent !== null))?.focus({ preventScroll: !slot });
}
