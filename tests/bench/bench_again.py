"""Days planned again at noon: seconds, what the audit finds, whether what is done stays.

Run `python -m tests.bench.bench_again --days 100 --engine search --effort 60`. Each day is a random
one of 100 orders with its own disruption between 11 and 1 o'clock (trucks down or late, orders left
out, taken in, done sooner or not done). Ends with exit code 1 when a plan breaks a rule or a done
stop differs from the earlier plan.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time

from planner.again.said import Said, check_said
from planner.day.day import Day
from planner.plan.audit import audit
from planner.plan.model import Plan
from tests.again_cases import as_filed, disruption, planned_again
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.test_again_random_days import check_again

ORDERS = 100
SECONDS_MOST = 10.0


def running_day(seed: int) -> tuple[Day, Plan, Said]:
    """A day of 100 orders with its plan of the morning, and what happens at noon."""
    day = random_day(seed, ORDERS)
    plan = as_filed(plan_random(day))
    rng = random.Random(f"noon {seed}")
    said = disruption(day, plan, rng, rng.uniform(660.0, 780.0))
    while check_said(said, plan, day):
        said = disruption(day, plan, rng, rng.uniform(660.0, 780.0))
    return day, plan, said


def main() -> None:
    """Plan them, print a line each hundredth and the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=100)
    parser.add_argument("--engine", default="ortools")
    parser.add_argument("--effort", type=int, default=300)
    chosen = parser.parse_args()
    seconds: list[float] = []
    busy: list[float] = []
    bad = left = moved = 0
    for seed in range(chosen.days):
        day, plan, said = running_day(seed)
        begun, idle = time.perf_counter(), time.process_time()
        now, again = planned_again(day, plan, said, engine=chosen.engine, count=chosen.effort)
        found = audit(again, now, straight_travel(now))
        seconds.append(time.perf_counter() - begun)
        busy.append(time.process_time() - idle)
        left += sum(not stop.done for truck in again.trucks for stop in truck.stops)
        moved += _moved(again)
        try:
            check_again(plan, again, said)
        except AssertionError as error:
            found = (*found, error)  # type: ignore[assignment]
        if found:
            bad += 1
            print(f"day {seed}: {found[0]}", file=sys.stderr)
    print(
        f"{chosen.days} days, {chosen.engine}, effort {chosen.effort}: median "
        f"{statistics.median(seconds):.2f} s, most {max(seconds):.2f} s by the clock; of the "
        f"processor {statistics.median(busy):.2f} s, most {max(busy):.2f} s; {bad} with faults; "
        f"{left} stops planned again, {moved} orders on another truck than before"
    )
    sys.exit(1 if bad or max(seconds) > SECONDS_MOST else 0)


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
