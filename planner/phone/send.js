// To the office and back, whenever it can be reached. Everything is sent again until the office has
// said that it is kept: the id of each tick lets it count once.
const AT_ONCE = 100, SOON_MS = 300, AGAIN_MS = 15000, LOOK_MS = 60000;
let reach = "not tried";
let newer = null;
let busy = false;
let timer = 0;

function drawReach() {
  const waiting = state().outbox.length;
  const kept = `${waiting} ${waiting === 1 ? "tick" : "ticks"} kept here`;
  document.getElementById("reach").textContent =
    !told.sentTo ? "kept on this phone" : reach === "yes" ? (waiting ? `sending ${waiting}` : "in reach: all sent") : reach === "not tried" ? kept : `no reach: ${kept}`;
  const trouble = document.getElementById("trouble");
  const text = !keeps ? "This phone keeps nothing: what you write is lost when the page closes. Use paper." : reach === "refused" ? "The link of this page no longer holds. Ask the office for a new one. What you wrote stays on this phone." : state().refused ?? "";
  trouble.hidden = !text;
  if (trouble.textContent !== text) trouble.textContent = text;
  document.getElementById("news").hidden = !newer || ["newer", "write", "skip"].includes(opened);
}

function later(wait) {
  clearTimeout(timer);
  timer = setTimeout(exchange, wait);
}

async function exchange() {
  if (!told.sentTo || busy) return;
  busy = true;
  let wait = LOOK_MS;
  try {
    const ticks = state().outbox.slice(0, AT_ONCE);
    const answer = await fetch(told.sentTo, {
      method: "POST", headers: { "Content-Type": "application/json" }, cache: "no-store",
      body: JSON.stringify({ plan: told.plan, ticks }), signal: AbortSignal.timeout(20000),
    });
    if (answer.ok) {
      take(await answer.json());
      reach = "yes";
      if (state().outbox.length) wait = SOON_MS;
    } else {
      reach = [401, 403, 404].includes(answer.status) ? "refused" : "no";
      wait = AGAIN_MS;
    }
  } catch {
    reach = "no";
    wait = AGAIN_MS;
  } finally {
    busy = false;
  }
  later(wait);
  draw();
}

function take(answer) {
  const kept = new Set(answer.kept);
  const refused = answer.refused ?? [];
  for (const one of refused) kept.add(one.id);
  change(now => {
    now.outbox = now.outbox.filter(one => !kept.has(one.id));
    now.office = { missing: answer.missing, recorded: answer.recorded };
    if (refused.length) now.refused = `The office could not take ${refused.length} of what you wrote: ${refused[0].words}`;
    const mine = new Set(now.outbox.map(keyOf));
    // What another phone of this truck wrote.
    for (const [key, cells] of Object.entries(answer.cells)) if (rowOf.has(key) && !mine.has(key)) now.cells[key] = { ...now.cells[key], ...cells };
  });
  newer = answer.plan.checksum && answer.plan.checksum !== told.plan ? answer.plan : null;
  if (newer) document.querySelector("#newer .changes").replaceChildren(...newer.changes.map(text => make("li", {}, text)));
}
