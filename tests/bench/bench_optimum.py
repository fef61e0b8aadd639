"""How often the search reaches the optimum of tiny days, by effort.

    python -m tests.bench.bench_optimum [--days 50] [--counts 20 60 200]

Days of five to seven orders and one to three trucks with windows, lunch, refills, pins and several
loadings; the optimum is proved by tests/optimum.py. Prints each day that is missed at the highest
count, and per count how many are and by how much. By count: the same on any machine, busy or not.
"""

from __future__ import annotations

import argparse
import statistics

from planner.routing.problem import Effort, RoutingProblem
from tests.bench.ours import solve
from tests.optimum import least_money
from tests.routing_cases import random_problem

FIRST_SEED = 20
SEARCH_SEEDS = (1, 2)
NOISE = 1e-6


def tiny_day(seed: int) -> RoutingProblem:
    """A day small enough to look at everything."""
    return random_problem(
        seed,
        orders=5 + seed % 3,
        trucks=1 + seed % 3,
        limited=seed % 3 == 0,
        tight=seed % 4 == 0,
        gal=(6.0, 17.0),
    )


def gaps(seed: int, counts: list[int]) -> list[list[float]]:
    """Share over the optimum, by count and search seed."""
    problem = tiny_day(seed)
    found = [
        [solve(problem, Effort(count=count), s).cost for s in SEARCH_SEEDS] for count in counts
    ]
    best = least_money(problem, min(min(row) for row in found))
    return [[cost / best - 1 for cost in row] for row in found]


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=50)
    parser.add_argument("--counts", type=int, nargs="+", default=[20, 60, 200])
    options = parser.parse_args()
    counts = sorted(options.counts)
    days = {}
    for seed in range(FIRST_SEED, FIRST_SEED + options.days):
        days[seed] = gaps(seed, counts)
        if max(days[seed][-1]) > NOISE:
            told = ", ".join(f"{100 * gap:.2f}" for gap in days[seed][-1])
            print(f"day {seed}: {told} percent over the optimum at count {counts[-1]}", flush=True)
    for row, count in enumerate(counts):
        runs = [gap for one in days.values() for gap in one[row]]
        missed = [gap for gap in runs if gap > NOISE]
        by = f", by {100 * statistics.mean(missed):.1f} percent on average" if missed else ""
        print(f"count {count}: {len(missed)} of {len(runs)} runs miss the optimum{by}")


if __name__ == "__main__":
    main()
