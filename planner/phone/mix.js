// Mixing, one step at a time, with the level to read.
function drawFill(screen) {
  const key = screen.dataset.row;
  const steps = [...screen.querySelectorAll(".steps li")];
  const at = settled(key) ? steps.length : Math.min(state().mix[key] ?? 0, steps.length);
  screen.classList.add("stepping");
  steps.forEach((step, place) => {
    step.dataset.is = place < at ? "done" : place === at ? "now" : "next";
    if (place === at) step.setAttribute("aria-current", "step");
    else step.removeAttribute("aria-current");
  });
  const box = screen.querySelector(".gauge .tank").height.baseVal.value;
  const full = Number(screen.querySelector(".gauge").dataset.full);
  const y = gallons => (1 - Math.min(1, Math.max(0, gallons / full))) * box;
  const now = screen.querySelector(".gauge .now");
  const band = screen.querySelector(".gauge .band");
  now.dataset.y ??= now.getAttribute("y");
  const level = at === 0 ? Number(now.dataset.y) : y(Number(steps[at - 1].dataset.after));
  now.setAttribute("y", level);
  now.setAttribute("height", box - level);
  const { low, high } = steps[at]?.dataset ?? {};
  band.setAttribute("height", low && low !== high ? y(Number(low)) - y(Number(high)) : 0);
  if (low) band.setAttribute("y", y(Number(high)));
  const write = screen.querySelector(".on-write");
  write.hidden = at < steps.length;
  if (!write.hidden) fillSlot(write, key, [key], ["gal", "level", "lot"]);
  screen.querySelector(".mixing").hidden = !write.hidden;
  screen.querySelector("[data-do=in]").textContent = write.hidden ? "It is in" : "Write it down";
  document.getElementById("where").textContent = `${told.truck} · ${write.hidden ? `step ${at + 1} of ${steps.length}` : "write it down"}`;
}

function stepOn(screen, by) {
  const key = screen.dataset.row;
  const steps = screen.querySelectorAll(".steps li").length;
  const at = settled(key) ? steps : Math.min(state().mix[key] ?? 0, steps);
  if (by > 0 && at === steps) {
    tick(key, { done: true, ...(cellsOf(key).start === undefined ? { start: minutesNow() } : {}) });
    go(`stop-${screen.dataset.stop}`);
    return;
  }
  if (by < 0 && at === 0) { go(`stop-${screen.dataset.stop}`); return; }
  if (by < 0 && settled(key)) tick(key, { done: null });
  if (by > 0 && at === 0 && cellsOf(key).start === undefined) tick(key, { start: minutesNow() });
  change(now => { now.mix[key] = at + by; });
  const shown = screen.querySelector("[aria-current=step]") ?? screen.querySelector(".on-write");
  shown?.scrollIntoView({ block: "nearest" });
}
