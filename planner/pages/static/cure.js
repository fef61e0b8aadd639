// Beside a broken rule: the cheapest place in which its stop would break none, reckoned by the trucks.
import { answers, change, table } from "./wire.js";
import { held } from "./hold.js";
import { ordersOf } from "./keys.js";
import { chooseTruck, chosenRow, chooseRow, rowOf, truckName, view, whereIs } from "./view.js";

const MOST = 3;

// The stop that a broken rule is about: its own row, or, of a whole day, the stop that was chosen.
function stopOf(cause) {
  let row = cause;
  while (row && !row.classList.contains("row")) { row = row.previousElementSibling; }
  if (ordersOf(row).length) { return row; }
  const chosen = chosenRow();
  return chosen && chosen.closest(".sheet") === cause.closest(".sheet") ? chosen : null;
}

export async function offerCures() {
  const revision = table.revision;
  for (const cause of [...document.querySelectorAll("tr.cause")].slice(0, MOST)) {
    const row = stopOf(cause), box = cause.querySelector(".cure");
    if (!row || box.firstChild) { continue; }
    const orders = ordersOf(row), name = row.querySelector(".who").textContent;
    const told = await answers(orders);
    if (!told || held || table.revision !== revision) { return; }
    const best = told.trucks.filter((one) => one.can && (one.mends || !one.here)).sort((a, b) => a.cost - b.cost)[0];
    if (!best || !box.isConnected) { continue; }
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = `Put ${name} ${best.here ? "elsewhere " : ""}on ${truckName(best.number)}${best.here ? "" : " instead"}: ${best.price || "no change"}, no new rule broken`;
    button.addEventListener("click", () => cure(orders, best));
    box.replaceChildren("· Cure: ", button);
  }
}

async function cure(orders, best) {
  const what = { kind: "move", orders, truck: truckName(best.number), gap: best.best };
  if (best.load) { what.compartment = best.load; }
  if (!await change(what)) { return; }
  const key = `order ${orders[0]}`, now = whereIs(key);
  if (now) { chooseTruck(now, view.truck === now ? 0 : view.truck); chooseRow(rowOf(now, key)); }
}
