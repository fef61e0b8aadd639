"""How the search grows with the day, and how soon there is a first plan.

    python -m tests.bench.bench_scale [--quick]

1. Days of 60 to 960 orders at one effort by count, each in a process of its own: seconds, CPU
   seconds and money per order, and the most memory that the process had.
2. A day of 100 orders from the start of the process to a plan in hand (all orders placed, or told
   why not): the search is interrupted as by Ctrl-C when it says that it has begun. And the whole
   command on the demo day with the least effort. Both with compiled code on disk.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from planner.routing.engines import engine_named
from planner.routing.problem import Effort, SolveOptions
from tests.bench.instances import as_problem, bench_day
from tests.bench.ours import Bar, counted, show, solve
from tests.routing_cases import random_problem

SIZES, QUICK_SIZES = (60, 120, 240, 480, 960), (60, 120)
ORDERS_PER_TRUCK = 20
COUNT = 10
FIRST_PLAN_MOST_S = 3.0
FIRST_PLAN_DAYS = {
    "all that can be done": lambda: as_problem(bench_day(100, 6, 0)),
    "lunch, limited sites, some that no truck can do": lambda: random_problem(1, 100, 6),
}
"""Days of 100 orders; the second is told for what reasons cost, and has no bar."""
KB_PER_MB = 1024


def one_size(orders: int) -> dict[str, float]:
    """Figures of one size, in this process."""
    day = bench_day(orders, max(2, orders // ORDERS_PER_TRUCK), 0)
    problem = as_problem(day)
    before = time.process_time()
    solved = solve(problem, Effort(count=COUNT))
    return {
        "seconds": solved.took_s,
        "cpu": time.process_time() - before,
        "cost": solved.cost,
        "left_out": solved.left_out,
        "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KB_PER_MB,
    }


def first_plan(name: str) -> dict[str, float]:
    """Figures of a plan as soon as there is one, in this process."""

    def at_once(share: float, text: str) -> None:
        # The first words come before there is anything to hand over.
        if share > 0.0:
            raise KeyboardInterrupt

    problem = FIRST_PLAN_DAYS[name]()
    begun = time.monotonic()
    answer = engine_named("search").solve(
        problem, SolveOptions(Effort(seconds=60.0), progress=at_once)
    )
    return {
        "seconds": time.monotonic() - begun,
        "cpu": time.process_time(),
        "cost": counted(problem, answer),
        "left_out": len(answer.unserved),
    }


def _in_a_process(*words: str) -> tuple[float, dict[str, float]]:
    """Wall seconds of this bench's own child, and what it tells."""
    begun = time.monotonic()
    told = subprocess.run(
        [sys.executable, "-m", "tests.bench.bench_scale", *words],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    return time.monotonic() - begun, json.loads(told)


def growth(sizes: tuple[int, ...]) -> None:
    """Print a row for each size."""
    print(f"count {COUNT}: orders  s/order  CPU s/order  money/order  left out  MB", flush=True)
    for orders in sizes:
        _, row = _in_a_process("--size", str(orders))
        print(
            f"          {orders:6d} {row['seconds'] / orders:8.4f} {row['cpu'] / orders:12.4f} "
            f"{row['cost'] / orders:12.1f} {row['left_out']:9.0f} {row['mb']:5.0f}",
            flush=True,
        )


def first_plans(name: str, times: int) -> list[float]:
    """Seconds from the start of a process to a plan."""
    found = []
    for _ in range(times):
        seconds, row = _in_a_process("--first-plan", name)
        found.append(seconds)
        print(
            f"first plan of 100 orders ({name}): {seconds:.2f} s from the start "
            f"({row['cpu']:.2f} s CPU), of them {row['seconds']:.2f} s solving; "
            f"{row['left_out']:.0f} left out, money {row['cost']:.0f}",
            flush=True,
        )
    return found


def demo_command(times: int) -> list[float]:
    """Seconds of the whole command with the least effort, papers and map included."""
    found = []
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            command = ("demo", "--out", str(Path(folder) / "out"), "--engine", "search")
            begun = time.monotonic()
            subprocess.run(
                [sys.executable, "-m", "planner", *command, "--seconds", "0.5"],
                check=True,
                capture_output=True,
            )
            found.append(time.monotonic() - begun)
    print(f"demo day with --seconds 0.5, all of it: {statistics.median(found):.2f} s", flush=True)
    return found


def bars(*, quick: bool) -> Iterator[Bar]:
    """Rows of the table, as they are done."""
    # Compiled code on disk first.
    solve(as_problem(bench_day(12, 2, 0)), Effort(count=1))
    growth(QUICK_SIZES if quick else SIZES)
    times = 1 if quick else 3
    plain, rich = FIRST_PLAN_DAYS
    most = None if quick else FIRST_PLAN_MOST_S
    yield Bar("first plan of 100 orders, s", tuple(first_plans(plain, times)), most, text="{:.2f}")
    left_out = tuple(first_plans(rich, 1))
    yield Bar("first plan with orders left out, s", left_out, None, text="{:.2f}")
    whole = tuple(demo_command(times))
    yield Bar("demo command, --seconds 0.5, s", whole, None, text="{:.2f}")


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--size", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--first-plan", choices=FIRST_PLAN_DAYS, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.size:
        print(json.dumps(one_size(options.size)))
    elif options.first_plan:
        print(json.dumps(first_plan(options.first_plan)))
    else:
        show(bars(quick=options.quick))


if __name__ == "__main__":
    main()
