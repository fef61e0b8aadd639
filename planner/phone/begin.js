// Buttons, and what makes the page look again.
const doing = {
  here: stop => { for (const key of stop.rows) if (!settled(key)) tick(key, { arrived: minutesNow() }); },
  // Pressed straight from the field: the reading is known only now.
  start: stop => { const key = phaseOf(stop)[1]; if (!forbidding(key).length) tick(key, { start: minutesNow() }); },
  wait: (stop, screen) => waitFor(stop, screen),
  done: stop => tick(phaseOf(stop)[1], { done: true, end: Math.max(minutesNow(), (cellsOf(phaseOf(stop)[1]).start ?? 0) + 1) }),
  next: stop => { if (stop.kind !== "visit") pass(stop); go(`stop-${myStop().seq}`); },
  change: stop => askFor(stop.rows.slice(0, 1), ""),
  skip: stop => askReason(stop),
  skipped: () => skipIt(),
  stay: () => go(cameFrom),
  written: () => go(cameFrom),
  go: () => { change(now => { now.seen = told.plan; }); go(`stop-${myStop().seq}`); },
  in: (_, screen) => stepOn(screen, 1),
  back: (_, screen) => stepOn(screen, -1),
  finish: () => {
    const { found, unread } = missing();
    if (found.length + unread.length === 0) change(now => { now.finished = true; });
    else document.querySelector(found.length ? "#end .missing button" : `[data-row="${unread[0].key}"] input`).focus();
  },
  save: () => saveFile(),
  print: () => print(),
  take: () => location.reload(),
};

document.documentElement.classList.add("running");
// What is alike on every screen is not written into each.
for (const screen of document.querySelectorAll(".screen")) {
  const middle = screen.querySelector(".middle"), title = screen.querySelector("h1");
  for (const part of [screen, middle]) part.setAttribute("aria-labelledby", title.id);
  middle.setAttribute("role", "group");
  middle.tabIndex = 0;
  title.tabIndex = -1;
}
document.addEventListener("click", event => {
  const button = event.target.closest("[data-do]");
  if (!button) return;
  leaveField();
  const screen = button.closest(".screen");
  doing[button.dataset.do](screen?.id.startsWith("stop-") ? stopOf.get(Number(screen.id.slice(5))) : undefined, screen);
  draw();
  focusNext();
});
document.addEventListener("changed", () => { draw(); if (told.sentTo && state().outbox.length) later(SOON_MS); });
addEventListener("hashchange", show);
addEventListener("storage", draw);
addEventListener("online", exchange);
document.addEventListener("visibilitychange", () => { if (!document.hidden) exchange(); });
change(() => {});
show();
exchange();
