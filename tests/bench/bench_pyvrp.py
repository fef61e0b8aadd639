"""The search beside PyVRP, the reference: the same days, loading fixed alike, equal wall time.

    pip install -e '.[bench]'
    python -m tests.bench.bench_pyvrp --cell 100:6:10 --cell 150:6:20:small --seeds 5

Each cell is orders:trucks:seconds[:small]. PyVRP searches on one core, as it comes from PyPI; so
that both cores work for it too, it runs twice at once with two seeds and the better run counts. Our
engine uses its two threads. Prints each day's ratio ours / PyVRP on seconds of driving and
refilling (100,000 per order left out), then medians.
"""

from __future__ import annotations

import argparse
import statistics
import time
from concurrent.futures import ProcessPoolExecutor

from planner.routing.engines import engine_named
from planner.routing.evaluate import walk
from planner.routing.problem import Effort
from tests.bench.instances import LEFT_OUT, BenchDay, as_problem, bench_day, pyvrp_cost


def our_cost(day: BenchDay, seconds: float, seed: int) -> tuple[float, int, float]:
    """Our cost by the plain walk, orders left out, and the wall seconds it took."""
    problem = as_problem(day)
    engine = engine_named("search")
    assert engine.name == "search", "numba is missing"
    begun = time.monotonic()
    answer = engine.solve(problem, Effort(seconds=seconds), seed, lambda _share, _text: None)
    took = time.monotonic() - begun
    cost = sum(
        walk(problem, truck, given.loading, given.stops).cost
        for truck, given in zip(problem.trucks, answer.trucks, strict=True)
    )
    return cost + LEFT_OUT * len(answer.unserved), len(answer.unserved), took


def reference_cost(day: BenchDay, seconds: float, seed: int) -> tuple[int, int]:
    """The better of two PyVRP runs side by side."""
    with ProcessPoolExecutor(2) as pool:
        runs = [pool.submit(pyvrp_cost, day, seconds, seed + 1000 * turn) for turn in range(2)]
        return min(run.result() for run in runs)


def cell_days(cell: str, seeds: int) -> tuple[float, list[BenchDay]]:
    """Seconds and days of a cell."""
    orders, trucks, seconds, *kind = cell.split(":")
    return float(seconds), [
        bench_day(int(orders), int(trucks), seed, small=kind == ["small"]) for seed in range(seeds)
    ]


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cell", action="append", required=True)
    parser.add_argument("--seeds", type=int, default=5)
    options = parser.parse_args()
    # What compiling takes is no part of the comparison.
    our_cost(bench_day(12, 2, 0), 0.5, 1)
    for cell in options.cell:
        seconds, days = cell_days(cell, options.seeds)
        ratios = []
        for day in days:
            ours, ours_out, took = our_cost(day, seconds, 1)
            theirs, theirs_out = reference_cost(day, seconds, 1)
            ratios.append(ours / theirs)
            print(
                f"{day.name}: ours {ours:.0f} ({ours_out} out, {took:.1f} s)  "
                f"PyVRP {theirs} ({theirs_out} out)  ratio {ratios[-1]:.4f}",
                flush=True,
            )
        print(
            f"{cell}: median {statistics.median(ratios):.4f}, worst {max(ratios):.4f}", flush=True
        )


if __name__ == "__main__":
    main()
