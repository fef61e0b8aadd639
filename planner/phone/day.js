// Writing a row afresh, skipping with a reason, and the end of the day.
const reasons = {
  visit: ["Gate locked", "Nobody may come today", "Dog in the yard", "Too windy", "Too hot or too cold", "Wet or rain", "People on the lawn", "Something else"],
  refill: ["Enough in the tank", "Water point closed", "Something else"],
};

const reasonOf = { wind_mph: "Too windy", temperature_f: "Too hot or too cold" };

// The crew waits: what was read counts no longer, and is read again.
function waitFor(stop, screen) {
  const [, key] = phaseOf(stop), against = forbidding(key);
  for (const one of stop.rows.filter(row => !settled(row))) tick(one, Object.fromEntries(against.map(column => [column, null])));
  delete screen.querySelector(".slot.on-ready").dataset.about;
  draw();
  screen.querySelector(`.on-ready [data-column=${against[0]}]`)?.focus();
}

function askFor(keys, reason) {
  writing = keys;
  const row = rowOf.get(keys[0]);
  const cells = cellsOf(row.key);
  const asked = state().office.missing.filter(one => one.key === row.key);
  document.getElementById("write-h").textContent = titleOf(row);
  const box = document.querySelector("#write .asked");
  box.textContent = reason || asked.map(one => one.words).join(" ");
  box.hidden = !box.textContent;
  const columns = { fill: ["done", "gal", "level", "start", "lot"], left: ["gal"] }[row.what] ?? ["done", ...row.needs, "area_ft2"];
  const wanted = new Set([...columns, ...asked.map(one => one.column).filter(column => column in words), "note"]);
  if (asked.some(one => one.sure)) wanted.add("sure");
  if (row.what !== "left" && typeof cells.done !== "boolean") wanted.add("done");
  const slot = document.querySelector("#write .slot");
  delete slot.dataset.about;
  fillSlot(slot, row.key, keys, [...wanted]);
  go("write");
}

function titleOf(row) {
  if (row.what === "left") return `Level in ${row.position}`;
  const where = stopOf.get(row.stop)?.kind === "depart" ? "Yard" : `Stop ${row.stop}`;
  return row.what === "fill" ? `${where}, fill of ${row.position}` : `${where}, ${row.title}`;
}

const lackingWords = columns => columns.includes("done") ? "nothing written" : `${columns.map(column => words[column].replace(/[?,].*$/, "").toLowerCase()).join(", ")} not written`;

// Everything that a record still lacks, by this phone and by the office.
function missing() {
  const found = [];
  const { office, outbox } = state();
  const waits = new Set(outbox.map(keyOf));
  for (const row of told.rows) {
    // Levels that nobody read yet stand in a list of their own.
    const columns = row.what === "left" ? [] : lacking(row);
    const asked = office.missing.filter(one => one.key === row.key && !waits.has(one.key));
    if (columns.length) found.push({ row, words: lackingWords(columns) });
    else if (row.what === "left" ? asked.some(one => one.sure) && !lacking(row).length : asked.length) found.push({ row, words: asked.map(one => one.words).join(" ") });
  }
  const unread = told.rows.filter(row => row.what === "left" && lacking(row).length);
  return { found, unread };
}

function drawEnd() {
  const { found, unread } = missing();
  const count = found.length + unread.length;
  document.getElementById("end-h").textContent = count ? `${count} ${count === 1 ? "thing" : "things"} still missing` : state().finished ? "The day is finished" : "Everything is written";
  document.querySelector("#end .missing").replaceChildren(...found.map(({ row, words: text }) => {
    const button = make("button", { type: "button", class: "button" }, make("span", {}, make("b", {}, `✕ ${titleOf(row)}: `), text), make("b", {}, "Write ›"));
    button.addEventListener("click", () => askFor([row.key], ""));
    return make("li", {}, button);
  }));
  for (const line of document.querySelectorAll(".tank-line")) {
    fillSlot(line.querySelector(".slot"), line.dataset.row, [line.dataset.row], ["gal"]);
    line.querySelector("input").setAttribute("aria-label", `Gallons read in ${rowOf.get(line.dataset.row).position}`);
  }
  const sprays = told.rows.filter(row => row.what === "spray").map(row => cellsOf(row.key).done);
  document.getElementById("count").textContent = `${sprays.filter(done => done === true).length} done · ${sprays.filter(done => done === false).length} skipped`;
  const button = document.querySelector("[data-do=finish]");
  button.toggleAttribute("data-wait", count > 0);
  button.textContent = count ? `Finish: ${count} still missing` : state().finished ? "Finished" : "Finish the day";
}

function askReason(stop) {
  const known = stop.kind === "visit" && phaseOf(stop)[0] === "ready" ? reasonOf[forbidding(phaseOf(stop)[1])[0]] : "";
  writing = stop.rows.filter(key => !settled(key));
  const box = document.querySelector("#skip .reasons");
  const slot = document.querySelector("#skip .slot");
  const input = make("input", { type: "text", autocomplete: "off" });
  const field = make("label", { class: "field" }, make("span", {}, "In a few words"), input);
  field.hidden = true;
  slot.replaceChildren(field);
  box.replaceChildren(...(reasons[stop.kind] ?? reasons.refill).map(text => {
    const button = make("button", { type: "button", "aria-pressed": String(text === known) }, text);
    button.addEventListener("click", () => {
      for (const one of box.children) one.setAttribute("aria-pressed", String(one === button));
      field.hidden = text !== "Something else";
      if (!field.hidden) input.focus();
    });
    return button;
  }));
  go("skip");
}

function skipIt() {
  const chosen = document.querySelector("#skip [aria-pressed=true]")?.textContent ?? "";
  const note = chosen === "Something else" ? document.querySelector("#skip input").value.trim() : chosen;
  if (!note) { document.querySelector("#skip .reasons button").focus(); return; }
  for (const key of writing) tick(key, { done: false, note });
  const stop = told.stops.find(one => one.rows.includes(writing[0]));
  if (stop && stop.kind !== "visit") pass(stop);
  go(`stop-${myStop().seq}`);
}

function pass(stop) {
  change(now => { now.passed = [...new Set([...(now.passed ?? []), nameOf(stop)])]; });
}

// The actuals sheet of this truck, for a phone that never comes into reach of the office.
const quoted = value => {
  let text = value === true ? "yes" : value === false ? "no" : value === undefined || value === null ? "" : String(value);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
};
function sheetText() {
  const lines = [told.columns.join(",")];
  for (const row of told.rows) {
    const cells = { ...cellsOf(row.key) };
    if (row.what !== "spray" && typeof cells.gal === "number" && cells.done === undefined) cells.done = true;
    if (!Object.values(cells).some(value => value !== null && value !== undefined)) continue;
    if (typeof cells.level === "number") cells.note = [cells.note, `mark read ${cells.level} gal`].filter(Boolean).join("; ");
    for (const column of ["start", "end"]) if (typeof cells[column] === "number") cells[column] = clock(cells[column]);
    const all = { ...cells, truck: told.truck, stop: row.stop, what: row.what, order: row.order, compartment: row.compartment, plan: told.planMark };
    lines.push(told.columns.map(column => quoted(all[column])).join(","));
  }
  return `${lines.join("\r\n")}\r\n`;
}

function saveFile() {
  const url = URL.createObjectURL(new Blob([sheetText()], { type: "text/csv" }));
  const link = make("a", { href: url, download: `actuals-${told.date}-${told.truck}.csv` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  document.getElementById("saved").textContent = "Saved in the phone's downloads. Send it to the office.";
}
