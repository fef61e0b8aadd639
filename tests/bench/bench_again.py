"""Days planned again at noon: seconds, what the audit finds, whether what is done stays.

Run `python -m tests.bench.bench_again --days 100 --engine ortools --effort 300`, or with `--season`
the days of the demo season on its streets (five disruptions of each of its 20 days). Each day has
100 orders and its own disruption between 11 and 1 o'clock: trucks down or late, orders left out,
taken in, done sooner or not done. Ends with exit code 1 when a plan breaks a rule, a done stop
differs from the earlier plan, or one takes more than ten seconds of the processor.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from planner.again.said import Said, check_said
from planner.chain import open_day, open_day_roads, solve_day
from planner.day.day import Day
from planner.plan.audit import audit
from planner.plan.model import Plan
from planner.roads.travel import Travel
from planner.routing.problem import Effort, SolveOptions
from tests.again_cases import as_filed, disruption, planned_again
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.test_again_random_days import check_again

ORDERS = 100
SECONDS_MOST = 10.0
SEASON = Path(__file__).resolve().parents[2] / "demo_data" / "season"
A_DAY = 5
"""Disruptions of each day of the season."""

Running = tuple[str, Day, Plan, Said, Mapping[str, Travel]]


def random_running_days(count: int) -> Iterator[Running]:
    """Random days with a plan of the plain engine, and what happens at noon."""
    for seed in range(count):
        day = random_day(seed, ORDERS)
        plan = as_filed(plan_random(day))
        rng = random.Random(f"noon {seed}")
        yield f"random {seed}", day, plan, _said(day, plan, rng), straight_travel(day)


def season_days(count: int) -> Iterator[Running]:
    """Days of the demo season, filled up to 100 orders with those of the next day, on its
    streets."""
    orders = open_day(SEASON, date(2027, 3, 22)).workbook.orders.values()
    dates = sorted({order.due_from for order in orders})
    for number in range(-(-count // A_DAY)):
        when = dates[number % len(dates)]
        due = [order.order_id for order in orders if order.due_from == when]
        homes = {order.property_id for order in orders if order.order_id in due}
        following = dates[(number + 1) % len(dates)]
        more = [
            order.order_id
            for order in orders
            if order.due_from == following and order.property_id not in homes
        ]
        earlier = [order.order_id for order in orders if order.due_to < when]
        day = open_day(SEASON, when, more[: ORDERS - len(due)], earlier)
        roads = open_day_roads(SEASON, day, None)
        plan, _, _ = solve_day(
            day,
            roads.travel_by_truck,
            (roads.roads.description, ""),
            SolveOptions(Effort(count=60), engine="ortools"),
        )
        plan = as_filed(plan)
        known = {order.property_id for order in day.orders.values()}
        for turn in range(min(A_DAY, count - number * A_DAY)):
            rng = random.Random(f"season {when} {turn}")
            said = _said(day, plan, rng, known)
            yield f"{when} {turn}", day, plan, said, roads.travel_by_truck


def _said(day: Day, plan: Plan, rng: random.Random, known: set[str] | None = None) -> Said:
    while True:
        said = disruption(day, plan, rng, rng.uniform(660.0, 780.0), known)
        # Orders that the day was filled up with stay.
        due = day.orders.keys() - {order_id for order_id in day.orders if order_id in said.skipped}
        extra = [
            name
            for name in due
            if not day.orders[name].due_from <= day.date <= day.orders[name].due_to
        ]
        said = Said(
            said.at_min,
            said.done,
            said.opened,
            said.skipped,
            (*said.added, *extra),
            said.down,
            said.free_min,
            said.filled,
        )
        if not check_said(said, plan, day):
            return said


def main() -> None:
    """Plan them and print the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=100)
    parser.add_argument("--engine", default="ortools")
    parser.add_argument("--effort", type=int, default=300)
    parser.add_argument("--season", action="store_true")
    chosen = parser.parse_args()
    seconds: list[float] = []
    busy: list[float] = []
    bad = left = moved = 0
    days = season_days(chosen.days) if chosen.season else random_running_days(chosen.days)
    for name, day, plan, said, travel in days:
        begun, idle = time.perf_counter(), time.process_time()
        now, again = planned_again(
            day, plan, said, engine=chosen.engine, count=chosen.effort, travel=travel
        )
        found = [str(row) for row in audit(again, now, travel)]
        seconds.append(time.perf_counter() - begun)
        busy.append(time.process_time() - idle)
        left += sum(
            len(stop.orders) for truck in again.trucks for stop in truck.stops if not stop.done
        )
        moved += _moved(again)
        try:
            check_again(plan, again, said)
        except AssertionError as error:
            found.append(str(error))
        if found:
            bad += 1
            print(f"{name}: {found[0]}", file=sys.stderr)
    print(
        f"{len(seconds)} days, {chosen.engine}, effort {chosen.effort}: median "
        f"{statistics.median(seconds):.2f} s, most {max(seconds):.2f} s by the clock; of the "
        f"processor {statistics.median(busy):.2f} s, most {max(busy):.2f} s; {bad} with faults; "
        f"{left} orders planned again, {moved} of them on another truck than before"
    )
    sys.exit(1 if bad or max(busy) > SECONDS_MOST else 0)


def _moved(plan: Plan) -> int:
    assert plan.again is not None
    before = {row.order_id: row.truck_id for row in plan.again.before}
    return sum(
        before.get(work.order_id, "") not in ("", truck.truck_id)
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    )


if __name__ == "__main__":
    main()
