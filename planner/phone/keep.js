// What the crew wrote, kept on this phone. A tick is one message to the office: it is made once,
// carries its own id, and goes away only when the office says that it is kept there.
const told = JSON.parse(document.getElementById("data").textContent);
const rowOf = new Map(told.rows.map(row => [row.key, row]));
const storeName = `crew ${told.name}`;
const blank = () => ({ cells: {}, outbox: [], office: { missing: [], recorded: [] }, stop: null, mix: {}, finished: false });
let memory = blank();
let keeps = true;

function state() {
  try {
    // Read anew each time: another tab of this page writes into the same store.
    const text = localStorage.getItem(storeName);
    if (text) memory = { ...blank(), ...JSON.parse(text) };
  } catch { keeps = false; }
  return memory;
}

function change(edit) {
  const now = state();
  edit(now);
  memory = now;
  try {
    localStorage.setItem(storeName, JSON.stringify(now));
    keeps = localStorage.getItem(storeName) !== null;
  } catch { keeps = false; }
  document.dispatchEvent(new Event("changed"));
}

// crypto.randomUUID is missing on plain http; getRandomValues is not.
function newId() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map(byte => byte.toString(16).padStart(2, "0")).join("");
}

function tick(key, cells) {
  const row = rowOf.get(key);
  change(now => {
    now.cells[key] = { ...now.cells[key], ...cells };
    now.finished = false;
    now.outbox.push({
      id: newId(), at: new Date().toISOString(), plan: told.plan, truck: told.truck, what: row.what,
      stop: row.stop, order: row.order ?? "", compartment: row.compartment ?? "", mix: row.mix, cells,
    });
  });
}

const keyOf = one => one.what === "spray" ? `spray ${one.order}` : one.what === "fill" ? `fill ${one.stop} ${one.compartment}` : `left ${one.compartment}`;
const cellsOf = key => state().cells[key] ?? {};
const settled = key => typeof cellsOf(key).done === "boolean";
const minutesNow = () => { const now = new Date(); return now.getHours() * 60 + now.getMinutes(); };
const clock = minutes => {
  const whole = Math.round(minutes), hour = Math.floor(whole / 60) % 24;
  return `${(hour + 11) % 12 + 1}:${String(whole % 60).padStart(2, "0")} ${hour < 12 ? "AM" : "PM"}`;
};

// Columns that the row's record still needs; a skipped row needs to say why.
function lacking(row) {
  const cells = cellsOf(row.key);
  if (cells.done === false) return row.what === "spray" && !cells.note ? ["note"] : [];
  if (row.what === "left") return typeof cells.gal === "number" || row.gal < 0.05 ? [] : ["gal"];
  return ["done", ...row.needs].filter(column => {
    if (column === "wind_from" && !cells.wind_mph) return false;
    if (column === "applicator" && told.applicator) return false;
    if (column === "license" && told.license && !cells.applicator) return false;
    return cells[column] === undefined || cells[column] === null || cells[column] === "";
  });
}
