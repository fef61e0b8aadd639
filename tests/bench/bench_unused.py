"""What is never used must not make a day dearer: python -m tests.bench.bench_unused [DAYS] [FIRST]

Small random days, planned at the default effort as they are, with a truck more that costs too much
to go out, with a water point that opens too late, and with an order that no hose reaches. Prints
each day whose plans differ by more than 0.1 percent, every ten days how many so far differ by more
than 0.5, and all at the end.
"""

from __future__ import annotations

import sys

from planner.cli.common import DEFAULT_EFFORT_COUNT
from planner.routing.problem import Effort
from tests.bench.ours import Bar, show, solve
from tests.routing_cases import random_problem
from tests.test_search_exchange import with_a_site, with_a_truck, with_an_order

FRESH = 1000
MOST = 1.005
SAID_EVERY = 10


def dearest(seed: int) -> float:
    """Cost of the dearest of the four plans over the cheapest."""
    problem = random_problem(
        seed, orders=8 + seed % 7, trucks=2 + seed % 2, limited=seed % 3 == 0, gal=(6.0, 17.0)
    )
    days = {
        "as it is": (problem, 0.0),
        "a truck more": (with_a_truck(problem, 4900.0), 0.0),
        "a site more": (with_a_site(problem), 0.0),
        "an order more": (with_an_order(problem), 1000.0),
    }
    effort = Effort(count=DEFAULT_EFFORT_COUNT)
    costs = {name: solve(day, effort).cost - more for name, (day, more) in days.items()}
    ratio = max(costs.values()) / min(costs.values())
    if ratio > 1.001:
        told = ", ".join(f"{name} {cost:.2f}" for name, cost in costs.items())
        print(f"day {seed}: {told}", flush=True)
    return ratio


def main() -> None:
    """The bench as a command."""
    days, first = ([int(word) for word in sys.argv[1:]] + [200, FRESH][len(sys.argv) - 1 :])[:2]
    ratios: list[float] = []
    for seed in range(first, first + days):
        ratios.append(dearest(seed))
        if len(ratios) % SAID_EVERY == 0 or len(ratios) == days:
            differ = sum(ratio > MOST for ratio in ratios)
            print(f"{differ} of {len(ratios)} days differ by more than half a percent", flush=True)
    show([Bar("dearest / cheapest with something unused", tuple(ratios), MOST, MOST)])


if __name__ == "__main__":
    main()
