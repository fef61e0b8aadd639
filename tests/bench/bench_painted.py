"""Milliseconds from a key to the painted page in a real browser, and the bytes of the answers.

Run `python -m tests.bench.bench_painted --moves 60`. The demo day on its streets and a random day
of 200 orders over straight lines, both planned by the plain engine. Each move takes a stop in hand
(M, until every truck has answered) and puts it down in a gap (Enter, until the frame with the new
plan is painted). The server is a process of its own, as for an office; the browser shares the
machine with it.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import random
import statistics
import tempfile
import time
from multiprocessing.connection import Connection
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


DAYS = ("demo day", "200 orders")


def opened(name: str, folder: Path) -> SharedDay:
    """A planned day of those that are measured."""
    if name == "demo day":
        day = open_day(DEMO_WORKBOOK, DEMO_DATE)
        roads = open_day_roads(DEMO_WORKBOOK, day, None)
    else:
        day = random_day(9001, 200)
        roads = DayRoads(StraightLineRoads(1.3, 26.0), straight_travel(day), {}, ())
    words = (roads.roads.description, roads.roads.warning)
    options = SolveOptions(Effort(count=1), engine="nearest-fit")
    plan, _, _ = solve_day(*(day, roads.travel_by_truck, words), options)
    return SharedDay(OfficeDay(day, roads, plan), Journal(folder / "journal"), folder)


def serve(name: str, pipe: Connection) -> None:
    """Serves the day and tells its orders by truck and its revision, until it is told to end."""
    with tempfile.TemporaryDirectory() as folder:
        day = opened(name, Path(folder))
        # As the office's server does once it has opened the day.
        gc.collect()
        gc.freeze()
        with served(day) as office:
            pipe.send((office.link, len(day.state.planned.day.orders)))
            while pipe.recv():
                trucks = [
                    (number, [item.name for item in truck.items if item.kind == "order"])
                    for number, truck in enumerate(day.state.trucks, start=1)
                ]
                pipe.send((trucks, day.state.revision))


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
    context = multiprocessing.get_context("spawn")
    for name in DAYS:
        here, there = context.Pipe()
        server = context.Process(target=serve, args=(name, there), daemon=True)
        server.start()
        link, orders = here.recv()
        put, asked, size, opened_s = run(here, link, moves)
        here.send(False)
        server.join(20)
        print(
            f"{name:<16}{orders:>6} {figures(put)} {figures(asked)} {size:>9} {opened_s:9.1f}",
            flush=True,
        )


def run(server: Connection, link: str, moves: int) -> tuple[list[float], list[float], int, float]:
    """Milliseconds of putting down and of asking, bytes of the largest answer, seconds to open."""
    put: list[float] = []
    asked: list[float] = []
    sizes = [0]
    rng = random.Random(1)
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.set_default_timeout(60_000)
        page.add_init_script(WATCH)
        page.on(
            "response",
            lambda answer: (
                sizes.append(int(answer.headers["content-length"]))
                if answer.url.endswith("/change")
                else None
            ),
        )
        begun = time.monotonic()
        page.goto(link)
        page.wait_for_selector('body[data-ready="1"]')
        opened_s = time.monotonic() - begun
        while len(put) < moves:
            server.send(True)
            trucks, revision = server.recv()
            number, orders = rng.choice(trucks)
            if not orders:
                continue
            page.locator(f"#open-{number}").click()
            key = rng.choice(orders)
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
            page.keyboard.press("Enter")
            page.wait_for_selector("body:not(.inhand):not([data-busy])")
            if page.evaluate("document.body.dataset.revision") == str(revision):
                continue  # It was put down where it was.
            page.wait_for_timeout(60)
            put.append(page.evaluate(f"window.painted['{revision + 1}']"))
    return put, asked, max(sizes), opened_s


if __name__ == "__main__":
    main()
