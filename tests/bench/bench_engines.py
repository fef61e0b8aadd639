"""Both engines on generated days: money against the stand-in, and CPU seconds.

Run from the checkout: python -m tests.bench.bench_engines [count] [days]
"""

from __future__ import annotations

import sys
import time

from planner.routing.engines import engine_named
from planner.routing.problem import Effort, SolveOptions
from tests.routing_cases import random_problem
from tests.test_engines import money

SIZES = [(20, 2), (40, 3), (60, 4), (85, 5)]


def main(count: int, days: int) -> None:
    """One line per day: orders, trucks, money of both, ratio, unserved, CPU seconds."""
    ratios = []
    for seed in range(days):
        orders, trucks = SIZES[seed % len(SIZES)]
        problem = random_problem(seed, orders, trucks, limited=seed % 2 == 1)
        plain = engine_named("nearest-fit").solve(problem, SolveOptions(Effort(count=count), seed))
        begun = time.process_time()
        good = engine_named("ortools").solve(problem, SolveOptions(Effort(count=count), seed))
        spent = time.process_time() - begun
        ratios.append(money(problem, good) / money(problem, plain))
        print(
            f"{orders:4d} orders {trucks} trucks: nearest-fit {money(problem, plain):9.2f} "
            f"({len(plain.unserved)} unserved), ortools {money(problem, good):9.2f} "
            f"({len(good.unserved)} unserved), ratio {ratios[-1]:.3f}, {spent:.1f} s CPU"
        )
    print(f"mean ratio {sum(ratios) / len(ratios):.3f}")


if __name__ == "__main__":
    main(*(int(word) for word in [*sys.argv[1:], "100", "8"][:2]))
