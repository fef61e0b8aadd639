"""CP-SAT's last word on refills: python -m tests.bench.bench_refills [DAYS] [FIRST]

Random days of up to 10 trucks, every second one with a yard clock, each once as it is and once with
one truck at a time at every site. The yardstick's plan is held to the queues by the local search,
then settled: is it ever dearer, how often is it proved, in how many processor seconds? At the end a
morning of 7 trucks at one hose.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

from planner.routing.engines.nearest_fit import NearestFit
from planner.routing.problem import Effort, RoutingProblem, SolveOptions, StopToken
from planner.routing.shared.limits import held_to_limits, with_usual_waits
from planner.routing.shared.queues import queued
from planner.routing.shared.settled import Settling
from tests.random_days import random_day
from tests.random_problems import problem_of
from tests.test_queues import one_at_a_time
from tests.test_yard_clock import yard_day
from tests.yard_days import with_yard_clock

EFFORT = Effort(count=625)
"""About ten seconds of CP-SAT."""


def settled(problem: RoutingProblem) -> tuple[float, float, float | None, float, bool]:
    """Cost before and after, the gap told, processor seconds, whether somebody waits."""
    answer = NearestFit().solve(with_usual_waits(problem), SolveOptions(Effort(count=1)))
    before, _ = held_to_limits(problem, answer, StopToken())
    settling = Settling(EFFORT, 1)
    begun = time.process_time()
    after, _ = held_to_limits(problem, answer, StopToken(), settling)
    took = time.process_time() - begun
    now = queued(before)
    return now.key(before)[1], queued(after).key(after)[1], settling.gap, took, bool(now.waits)


def main() -> None:
    days, first = (int(word) for word in [*sys.argv[1:], "200", "0"][:2])
    rows = []
    for seed in range(first, first + days):
        day = random_day(seed, ("medium", "large")[seed % 2])
        day = with_yard_clock(day, seed) if seed % 4 >= 2 else day
        problem = problem_of(one_at_a_time(day) if seed % 3 else day)
        if problem.orders:
            rows.append(settled(problem))
    for name, some in (
        ("nobody waits", [row for row in rows if not row[4]]),
        ("queues bind", [row for row in rows if row[4]]),
    ):
        proved = sum(row[2] == 0.0 and row[3] <= 10.0 for row in some)
        print(
            f"{name}: {len(some)} days, proved within 10 s {proved}, dearer "
            f"{sum(row[1] > row[0] + 0.005 for row in some)}, cheaper "
            f"{sum(row[1] < row[0] - 0.005 for row in some)} by "
            f"{sum(row[0] - row[1] for row in some):.2f}, longest "
            f"{max((row[3] for row in some), default=0.0):.1f} s"
        )
    problem = problem_of(yard_day(7, 3, inspection_min=10.0))
    trucks = tuple(replace(t, shift_end_min=900.0, latest_return_min=960.0) for t in problem.trucks)
    before, after, gap, took, _ = settled(replace(problem, trucks=trucks))
    print(f"7 trucks, one hose: {before:.2f} -> {after:.2f}, gap {gap}, {took:.1f} s")


if __name__ == "__main__":
    main()
