"""The search beside PyVRP, the reference: the same days, loading fixed alike, equal wall time.

    pip install -e '.[bench]'
    python -m tests.bench.bench_pyvrp                        # all cells, five days each
    python -m tests.bench.bench_pyvrp --cell 100:6:10 --cell 150:9:20:small --seeds 3
    python -m tests.bench.bench_pyvrp --fresh --count 200    # days not tuned on, on a busy machine

A cell is orders:trucks:seconds[:small]. Both use two cores: our engine two threads, PyVRP two runs,
the better of which counts (tests/bench/referee.py says how it is asked). Money = seconds of driving
and refilling, 100,000 per order left out, by both models: each plan is also counted by the other's
rules, and a difference is told. With --count, ours goes so many steps and PyVRP's two runs get its
seconds of the processor between them: equal work whatever else the machine does. Prints each day's
ratio ours / PyVRP, then medians and worst.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from planner.routing.problem import Effort
from tests.bench.instances import as_problem, bench_day
from tests.bench.ours import Bar, show, solve
from tests.bench.referee import (
    RUNS,
    better_of_two,
    by_its_rules,
    by_our_rules,
    referee,
    two_workers,
)

SEARCH_SEED = 1
FRESH = 1000
"""Days from here on were never used for tuning."""


@dataclass(frozen=True)
class Cell:
    """Days of one size. median_most, worst_most: of ours / PyVRP, None = nothing is asked."""

    orders: int
    trucks: int
    seconds: float
    small: bool = False
    median_most: float | None = None
    worst_most: float | None = None

    @property
    def name(self) -> str:
        """For the table."""
        kind = " refill-heavy" if self.small else ""
        return (
            f"{self.orders} orders / {self.trucks} trucks{kind}, {self.seconds:g} s, ours / PyVRP"
        )


CELLS = (
    Cell(60, 4, 10, median_most=1.0, worst_most=1.01),
    Cell(100, 6, 10, median_most=1.0, worst_most=1.01),
    Cell(120, 7, 10, median_most=1.0, worst_most=1.01),
    Cell(200, 10, 20, median_most=1.0),
    Cell(150, 9, 20, small=True, median_most=1.0),
    Cell(600, 30, 60, median_most=0.99),
)
QUICK_CELLS = (Cell(60, 4, 3), Cell(100, 6, 3), Cell(150, 9, 5, small=True))


def warm_up() -> None:
    """Compile: what that takes is no part of a comparison."""
    solve(as_problem(bench_day(12, 2, 0)), Effort(seconds=0.5))


def ratio(pool: ProcessPoolExecutor, cell: Cell, seed: int, count: int | None) -> float:
    """Ours / PyVRP on one day; prints both."""
    day = bench_day(cell.orders, cell.trucks, seed, small=cell.small)
    problem = as_problem(day)
    given = referee(problem, [truck.loadings[0] for truck in problem.trucks])
    effort = Effort(seconds=cell.seconds) if count is None else Effort(count=count)
    ours = solve(problem, effort, SEARCH_SEED)
    seconds = cell.seconds if count is None else ours.processor_s / RUNS
    by_processor = count is not None
    theirs = better_of_two(pool, given, seconds, SEARCH_SEED, by_processor=by_processor)
    notes = []
    for whose, other, own in (
        ("ours by PyVRP's rules", by_its_rules(given, ours.answer), ours.cost),
        ("PyVRP's by our rules", by_our_rules(given, theirs), theirs.cost),
    ):
        if abs(other - own) > 0.5:
            notes.append(f"  {whose} {other:.0f}")
    refills = [
        sum(stop.kind == "refill" for truck in ours.answer.routes for stop in truck.stops),
        sum(what == "site" for _, route in theirs.routes for what, _ in route),
    ]
    print(
        f"{day.name}: ours {ours.cost:.0f} ({refills[0]} refills, {ours.left_out} out, "
        f"{ours.took_s:.1f} s, {ours.processor_s:.1f} s of processor)  "
        f"PyVRP {theirs.cost} ({refills[1]} refills, {theirs.left_out} out)  "
        f"ratio {ours.cost / theirs.cost:.4f}{''.join(notes)}",
        flush=True,
    )
    return ours.cost / theirs.cost


def bars(
    cells: tuple[Cell, ...], seeds: int, first: int = 0, count: int | None = None
) -> Iterator[Bar]:
    """A row for each cell, as it is done: days of seeds from first on; count: steps of ours."""
    warm_up()
    with two_workers() as pool:
        for cell in cells:
            ratios = tuple(ratio(pool, cell, seed, count) for seed in range(first, first + seeds))
            yield Bar(cell.name, ratios, cell.median_most, cell.worst_most)


def cell_of(text: str) -> Cell:
    """A cell of the command line; one of the known sizes keeps its bar."""
    orders, trucks, seconds, *kind = text.split(":")
    given = Cell(int(orders), int(trucks), float(seconds), small=kind == ["small"])
    return next((cell for cell in CELLS if cell.name == given.name), given)


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cell", action="append", type=cell_of)
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--fresh", action="store_true", help=f"days from seed {FRESH} on")
    parser.add_argument("--count", type=int, help="steps of ours, and equal processor time")
    parser.add_argument("--quick", action="store_true", help="two days of three small cells")
    options = parser.parse_args()
    cells = tuple(options.cell or (QUICK_CELLS if options.quick else CELLS))
    seeds = min(2, options.seeds) if options.quick else options.seeds
    show(bars(cells, seeds, FRESH if options.fresh else 0, options.count))


if __name__ == "__main__":
    main()
