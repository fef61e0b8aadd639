"""Days of twice the orders that fit, half of them on their last day: which ones are left out.

    python -m tests.bench.bench_deadlines [--seeds 5] [--engine search] [--effort 40] [--level]

The orders of two days of the demo season together on its streets, for two of its trucks; the
others have ten days left. Printed by seed: what is served and left out of both halves, and how many
exchanges the plan missed (an unserved order on its last day for one or two of a truck's orders that
have later days and are no more important). Ends with 1 when one was missed. By count: a busy
machine does not matter. --level plans as if it were the last day of every order, for comparison;
then one order is exchanged for one.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

from planner.chain import checked_workbook, open_day_roads
from planner.day.day import Day, Workbook
from planner.roads.travel import Travel
from planner.routing.engines import engine_named
from planner.routing.problem import Effort, RoutingProblem, SolveOptions, at_worth
from tests.deadlines import half_on_their_last_day, missed_exchanges
from tests.random_problems import problem_of

SEASON = Path(__file__).resolve().parents[2] / "demo_data" / "season"
TRUCKS = ("T1", "T2")


@cache
def _season() -> Workbook:
    return checked_workbook(SEASON)


def crowded(seed: int) -> tuple[Day, dict[str, Travel]]:
    """The day and its roads."""
    book = _season()
    dates = sorted({order.due_from for order in book.orders.values()})
    pair = dates[2 * seed % len(dates) : 2 * seed % len(dates) + 2]
    due = {name: order for name, order in book.orders.items() if order.due_from in pair}
    trucks = {name: book.trucks[name] for name in TRUCKS}
    day = Day(pair[0], replace(book, trucks=trucks, orders=due), due)
    return half_on_their_last_day(day, seed), open_day_roads(SEASON, day, None).travel_by_truck


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--engine", default="search")
    parser.add_argument("--effort", type=int, default=40)
    parser.add_argument("--level", action="store_true")
    options = parser.parse_args()
    missed, most = 0, 1 if options.level else 2
    for seed in range(options.first, options.first + options.seeds):
        day, travel = crowded(seed)
        problem = problem_of(day, travel)
        begun = time.process_time()
        answer = engine_named(options.engine, 1).solve(
            at_worth(problem) if options.level else problem,
            SolveOptions(Effort(count=options.effort), seed),
        )
        took_s = time.process_time() - begun
        found = {
            one.order_id: one for one in missed_exchanges(problem, answer, most, thorough=False)
        }
        missed += len(found)
        print(
            f"seed {seed}: {_counted(problem, day, answer.unserved.keys())}; {len(found)} could "
            f"have been exchanged in; {took_s:.1f} s of the processor",
            flush=True,
        )
    sys.exit(1 if missed else 0)


def _counted(problem: RoutingProblem, day: Day, left_out: object) -> str:
    halves = []
    for name, is_last in (("last day", True), ("ten days left", False)):
        rows = [o for o in problem.orders if (day.orders[o.order_id].due_to == day.date) is is_last]
        out = sum(order.order_id in left_out for order in rows)
        halves.append(f"{name}: {len(rows) - out} served, {out} left out")
    return "; ".join(halves)


if __name__ == "__main__":
    main()
