"""The search beside PyVRP in the money of a real day: pay by the minute, miles, trucks that go out,
and refills that take as long as their gallons.

    python -m tests.bench.bench_paid [--seeds 3] [--quick]

PyVRP knows refills of one length only. One of its two runs is told that of a full truck, one that
of a part of it; its plans are then counted by our rules, and the better one that keeps them counts
(a refill longer than it was told may make a plan too late; how many keep them is told).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

from planner.routing.problem import Effort, RoutingProblem
from tests.bench.bench_pyvrp import warm_up
from tests.bench.instances import SHIFT_S, as_problem, bench_day
from tests.bench.ours import Bar, show, solve
from tests.bench.referee import Terms, by_our_rules, referee, search, two_workers

PAY_PER_MIN, COST_PER_MILE, COST_PER_DAY, LEFT_OUT = 0.9, 0.7, 40.0, 5000.0
"""Invented; whole numbers in PyVRP's units below."""
SETUP_MIN, GAL_PER_MIN = 6.0, 15.0
MILES_PER_HOUR = 26.0
TERMS = tuple(Terms(money=0.001, miles=0.01, tank_share=share) for share in (1.0, 0.6))
"""0.6 of a full truck is near what refills on these days pour."""


@dataclass(frozen=True)
class Cell:
    """Days of one size."""

    orders: int
    trucks: int
    seconds: float
    small: bool = False


CELLS = (Cell(100, 6, 10), Cell(150, 9, 20, small=True))
QUICK_CELLS = (Cell(60, 4, 3),)


def paid_day(cell: Cell, seed: int) -> RoutingProblem:
    """A day of bench_day with money and pouring."""
    day = bench_day(cell.orders, cell.trucks, seed, small=cell.small)
    given = as_problem(day)
    return replace(
        given,
        trucks=tuple(
            replace(
                truck,
                pay_per_min=PAY_PER_MIN,
                cost_per_mile=COST_PER_MILE,
                cost_per_day=COST_PER_DAY,
                latest_return_min=SHIFT_S / 60,
            )
            for truck in given.trucks
        ),
        orders=tuple(replace(order, price=LEFT_OUT) for order in given.orders),
        sites=(
            given.sites[0],
            *(
                replace(site, setup_min=SETUP_MIN, fill_gal_per_min=GAL_PER_MIN)
                for site in given.sites[1:]
            ),
        ),
        drive_miles=given.drive_min * (MILES_PER_HOUR / 60),
    )


def reference_money(
    pool: ProcessPoolExecutor, problem: RoutingProblem, seconds: float
) -> tuple[float | None, int]:
    """Money of the better plan by our rules (None = neither keeps them), and how many keep them."""
    loadings = [truck.loadings[0] for truck in problem.trucks]
    told = [referee(problem, loadings, terms) for terms in TERMS]
    runs = [pool.submit(search, given.data, seconds, 1 + turn) for turn, given in enumerate(told)]
    counted = []
    for given, run in zip(told, runs, strict=True):
        found = run.result()
        if not found.feasible:
            continue
        try:
            counted.append(by_our_rules(given, found))
        except RuntimeError:
            continue
    return min(counted, default=None), len(counted)


def ratio(pool: ProcessPoolExecutor, cell: Cell, seed: int) -> float | None:
    """Ours / PyVRP on one day, None when none of its plans can be driven; prints both."""
    problem = paid_day(cell, seed)
    ours = solve(problem, Effort(seconds=cell.seconds))
    theirs, kept = reference_money(pool, problem, cell.seconds)
    told = "nothing that can be driven" if theirs is None else f"{theirs:.2f}"
    found = None if theirs is None else ours.cost / theirs
    print(
        f"paid {cell.orders}/{cell.trucks} seed {seed}: ours {ours.cost:.2f} ({ours.left_out} out) "
        f" PyVRP {told} ({kept} of {len(TERMS)} plans keep our rules)"
        + ("" if found is None else f"  ratio {found:.4f}"),
        flush=True,
    )
    return found


def bars(*, quick: bool, seeds: int = 3) -> Iterator[Bar]:
    """Rows of the table, as they are done; no bar is set for them."""
    warm_up()
    with two_workers() as pool:
        for cell in QUICK_CELLS if quick else CELLS:
            found = [ratio(pool, cell, seed) for seed in range(1 if quick else seeds)]
            figures = tuple(one for one in found if one is not None)
            if figures:
                kind = " refill-heavy" if cell.small else ""
                yield Bar(
                    f"{cell.orders} orders{kind}, money of a day, ours / PyVRP", figures, None
                )


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--quick", action="store_true")
    options = parser.parse_args()
    show(list(bars(quick=options.quick, seeds=options.seeds)))


if __name__ == "__main__":
    main()
