"""Milliseconds of the processor for one changed stop order: a ready day against one opened anew.

Run `python -m tests.bench.bench_changes --changes 1000`. The demo day on its streets and a random
day of 200 orders over straight lines, both planned by the plain engine; each change is made on the
plan of the one before. Ends with exit code 1 when the two answers differ in a byte.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Mapping

from planner.chain import open_day, open_day_roads, solve_day
from planner.changing import ReadyDay
from planner.cli.demo import DEMO_DATE, DEMO_WORKBOOK
from planner.day.day import Day
from planner.plan.document import to_json
from planner.roads.travel import Travel
from planner.routing.problem import Effort, SolveOptions
from tests.hand_changes import random_change
from tests.random_days import random_day, straight_travel
from tests.test_warm_changes import answered


def days() -> list[tuple[str, Day, Mapping[str, Travel], tuple[str, str]]]:
    """(name, day, travel by truck, words on the roads)."""
    demo = open_day(DEMO_WORKBOOK, DEMO_DATE)
    roads = open_day_roads(DEMO_WORKBOOK, demo, None)
    large = random_day(9001, 200)
    return [
        ("demo day", demo, roads.travel_by_truck, (roads.roads.description, roads.roads.warning)),
        ("200 orders", large, straight_travel(large), ("straight lines", "straight lines only")),
    ]


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    differ = 0
    print(f"{'day':<12}{'orders':>7}{'warm ms: median':>17}{'95 %':>7}{'cold ms':>9}{'ratio':>7}")
    for name, day, travel, words in days():
        plan, _, _ = solve_day(
            day, travel, words, SolveOptions(Effort(count=1), engine="nearest-fit")
        )
        rng, ready = random.Random(f"{name} {asked.seed}"), ReadyDay(day, travel, words)
        warm: list[float] = []
        cold: list[float] = []
        for _ in range(asked.changes):
            rows = random_change(plan, day, rng)
            begin = time.process_time()
            quick, said = answered(ready, rows, plan)
            middle = time.process_time()
            slow, anew = answered(ReadyDay(day, travel, words), rows, plan)
            end = time.process_time()
            warm.append(1000 * (middle - begin))
            cold.append(1000 * (end - middle))
            if quick is None or slow is None:
                differ += quick is not slow or said != anew
                continue
            differ += to_json(quick) != to_json(slow) or said != anew
            plan = quick
        late = sorted(warm)[int(0.95 * len(warm))]
        usual, anew_ms = statistics.median(warm), statistics.median(cold)
        print(
            f"{name:<12}{len(day.orders):>7}{usual:>17.1f}{late:>7.1f}{anew_ms:>9.1f}"
            f"{usual / anew_ms:>7.3f}"
        )
    print(f"answers that differ: {differ}")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
