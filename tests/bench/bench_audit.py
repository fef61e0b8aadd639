"""Random days by an engine, one after another: evaluator, schedule and audit must agree on each.

    python -m tests.bench.bench_audit --days 200 --engine search

Prints what differs and ends with 1 when anything does. Every twelfth day is large.
"""

from __future__ import annotations

import argparse
import sys
import time

from planner.routing.engines import ENGINE_NAMES
from tests.agreement import disagreements

FIRST_SEED = 1000


def wrong_days(days: int, engine: str, count: int) -> int:
    """How many of the days have something to tell; prints it."""
    wrong = 0
    for turn in range(days):
        size = "large" if turn % 12 == 0 else ("small", "medium")[turn % 2]
        found = disagreements(FIRST_SEED + turn, size, engine, count)
        wrong += bool(found)
        for line in found:
            print(f"day {FIRST_SEED + turn} ({size}): {line}", flush=True)
    return wrong


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=200)
    parser.add_argument("--engine", choices=ENGINE_NAMES, default="search")
    parser.add_argument("--count", type=int, default=4)
    options = parser.parse_args()
    begun = time.monotonic()
    wrong = wrong_days(options.days, options.engine, options.count)
    print(
        f"{options.days} days by {options.engine}: {wrong} with something to tell "
        f"({time.monotonic() - begun:.0f} s)"
    )
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
