"""Milliseconds from a key to the painted page in a real browser, and the bytes of the answers.

Run `python -m tests.bench.bench_painted --moves 60`. The demo day on its streets and a random day
of 200 orders over straight lines, both planned by the plain engine. Each move takes a stop in hand
(M, until every truck has answered) and puts it down in a gap (Enter, until the frame with the new
plan is painted). Server and browser share the machine.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from planner.chain import open_day, open_day_roads, solve_day
from planner.cli.demo import DEMO_DATE, DEMO_WORKBOOK
from planner.day_roads import DayRoads
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.ready import OfficeDay
from planner.roads.open import StraightLineRoads
from planner.routing.problem import Effort, SolveOptions
from tests.browser import chromium
from tests.office_server import served
from tests.random_days import random_day, straight_travel

WATCH = """
window.pressed = 0; window.painted = {};
addEventListener("keydown", () => { window.pressed = performance.now(); }, true);
const after = (name, from) => requestAnimationFrame(() => {
  const channel = new MessageChannel();
  channel.port1.onmessage = () => { window.painted[name] = performance.now() - from; };
  channel.port2.postMessage(0);
});
document.addEventListener("DOMContentLoaded", () => {
  new MutationObserver(() => after(document.body.dataset.revision, window.pressed))
    .observe(document.body, { attributes: true, attributeFilter: ["data-revision"] });
  new MutationObserver((all) => {
    if (all.some((one) => /\\bcan/.test(one.target.className))) { after("asked", window.pressed); }
  }).observe(document.getElementById("yard"),
    { attributes: true, attributeFilter: ["class"], subtree: true });
});
"""

CHOOSE = """([number, key]) => [...document.querySelectorAll(`#sheet-${number} tr.row`)]
  .find((row) => row.dataset.key === key || (row.dataset.items || "").includes(`"${key}"`))
  .click()"""


def days(folder: Path) -> Iterator[tuple[str, SharedDay]]:
    """Name and open day."""
    demo = open_day(DEMO_WORKBOOK, DEMO_DATE)
    large = random_day(9001, 200)
    straight = DayRoads(StraightLineRoads(1.3, 26.0), straight_travel(large), {}, ())
    for name, day, roads in (
        ("demo day", demo, open_day_roads(DEMO_WORKBOOK, demo, None)),
        ("200 orders", large, straight),
    ):
        words = (roads.roads.description, roads.roads.warning)
        plan, _, _ = solve_day(
            *(day, roads.travel_by_truck, words),
            SolveOptions(Effort(count=1), engine="nearest-fit"),
        )
        yield name, SharedDay(OfficeDay(day, roads, plan), Journal(folder / name), folder)


def figures(values: list[float]) -> str:
    """Median and 95th of a hundred."""
    ordered = sorted(values)
    return f"{statistics.median(ordered):9.0f}{ordered[int(0.95 * (len(ordered) - 1))]:8.0f}"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--moves", type=int, default=60)
    moves = parser.parse_args().moves
    print("                orders   Enter to painted    M to answered     bytes    start s")
    print("                          median    95 %    median    95 %   largest")
    with tempfile.TemporaryDirectory() as folder:
        for name, day in days(Path(folder)):
            put, asked, size, opened_s = run(day, moves)
            print(
                f"{name:<16}{len(day.state.planned.day.orders):>6} {figures(put)}"
                f" {figures(asked)} {size:>9} {opened_s:9.1f}"
            )


def run(day: SharedDay, moves: int) -> tuple[list[float], list[float], int, float]:
    """Milliseconds of putting down and of asking, bytes of the largest answer, seconds to open."""
    put: list[float] = []
    asked: list[float] = []
    sizes = [0]
    rng = random.Random(1)
    with served(day) as office, chromium() as browser:
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.set_default_timeout(60_000)
        page.add_init_script(WATCH)
        page.on(
            "response",
            lambda answer: (
                sizes.append(len(answer.body())) if answer.url.endswith("/day/change") else None
            ),
        )
        begun = time.monotonic()
        page.goto(office.link)
        page.wait_for_selector('body[data-ready="1"]')
        opened_s = time.monotonic() - begun
        while len(put) < moves:
            number, truck = rng.choice([*enumerate(day.state.trucks, start=1)])
            orders = [item for item in truck.items if item.kind == "order"]
            if not orders:
                continue
            page.locator(f"#open-{number}").click()
            key = rng.choice(orders).name
            page.evaluate(CHOOSE, [number, key])
            page.keyboard.press("m")
            page.wait_for_selector(".answer.can, .answer.cannot")
            page.wait_for_timeout(60)
            waited = page.evaluate("window.painted.asked")
            if waited is not None:
                asked.append(waited)
                page.evaluate("delete window.painted.asked")
            for _ in range(rng.randrange(3)):
                page.keyboard.press("ArrowUp")
            if page.locator("#put-down").is_disabled():
                page.keyboard.press("Escape")
                continue
            revision = day.state.revision
            page.keyboard.press("Enter")
            page.wait_for_selector(f'body[data-revision="{revision + 1}"]:not([data-busy])')
            page.wait_for_timeout(60)
            put.append(page.evaluate(f"window.painted['{revision + 1}']"))
    return put, asked, max(sizes), opened_s


if __name__ == "__main__":
    main()
