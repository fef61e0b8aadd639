"""The search on published instances: Solomon's six, and the one with facilities on the way.

    python -m tests.bench.bench_published [--seconds 30] [--only r104 ...]

Solomon: least distance against the best known. Facilities: miles against PyVRP in the same run
(without lunch, which it cannot be told), and with lunch against our own second engine.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from planner.routing.problem import Effort, RoutingProblem, StopKind
from tests.bench.ours import Bar, Solved, show, solve
from tests.bench.published import (
    FEET_PER_MILE,
    as_problem,
    distance_by_the_file,
    facilities_102,
    solomon,
)
from tests.bench.referee import better_of_two, by_our_rules, referee, two_workers

BEST_KNOWN = {
    "C101": 828.94,
    "R104": 976.61,
    "RC108": 1117.53,
    "C203": 591.17,
    "R205": 955.82,
    "RC208": 779.31,
}
"""Least distance known, double precision (../shared/benchmarks/README.md)."""
DAY_YARDS = 400.0
SECONDS, QUICK_SECONDS = 30.0, 4.0
FACILITY_SHARE = 1 / 3
"""Of the seconds: four runs there."""


def trucks_out(solved: Solved) -> int:
    """Trucks that leave the depot."""
    return sum(bool(truck.stops) for truck in solved.answer.routes)


def solomon_gaps(names: list[str], seconds: float) -> list[float]:
    """Percent over the best known distance."""
    gaps = []
    for name in names:
        given = solomon(name)
        solved = solve(as_problem(given), Effort(seconds=seconds))
        tours = [[int(stop.ref) for stop in truck.stops] for truck in solved.answer.routes]
        distance = distance_by_the_file(given, tours)
        gaps.append(100 * (distance / BEST_KNOWN[name] - 1))
        print(
            f"{name}: {distance:.2f} with {trucks_out(solved)} vehicles, {solved.left_out} out, "
            f"best known {BEST_KNOWN[name]:.2f}, gap {gaps[-1]:.2f} % ({solved.took_s:.1f} s)",
            flush=True,
        )
    return gaps


def _told(problem: RoutingProblem, name: str, solved: Solved) -> None:
    load = {order.order_id: order.gal for order in problem.orders}
    days = [
        sum(load[stop.ref] for stop in truck.stops if stop.kind is StopKind.ORDER)
        for truck in solved.answer.routes
    ]
    lunches = sum(
        stop.kind is StopKind.LUNCH for truck in solved.answer.routes for stop in truck.stops
    )
    print(
        f"facilities 102, {name}: {solved.cost / FEET_PER_MILE:.1f} miles, {trucks_out(solved)} "
        f"vehicles, {lunches} lunches, {solved.left_out} out; most yards of a vehicle "
        f"{max(days):.0f} ({DAY_YARDS:.0f} allowed there, not in our model)",
        flush=True,
    )


def facility_ratios(seconds: float) -> tuple[float, float]:
    """Ours / PyVRP without lunch, and search / ortools with lunch."""
    plain, lunch = (as_problem(facilities_102(lunch=lunch)) for lunch in (False, True))
    effort = Effort(seconds=seconds)
    ours = solve(plain, effort)
    _told(plain, "search, no lunch", ours)
    with two_workers() as pool:
        given = referee(plain, [truck.loadings[0] for truck in plain.trucks])
        theirs = better_of_two(pool, given, seconds, 1)
    by_us = by_our_rules(given, theirs)
    print(
        f"facilities 102, PyVRP, no lunch: {by_us / FEET_PER_MILE:.1f} miles, "
        f"{len(theirs.routes)} vehicles, {theirs.left_out} out",
        flush=True,
    )
    with_lunch = solve(lunch, effort)
    _told(lunch, "search, lunch", with_lunch)
    second = solve(lunch, effort, engine_name="ortools")
    _told(lunch, "ortools, lunch", second)
    return ours.cost / by_us, with_lunch.cost / second.cost


def bars(names: list[str], seconds: float, *, quick: bool = False) -> Iterator[Bar]:
    """Rows of the table, as they are done."""
    gaps = tuple(solomon_gaps(names, seconds))
    most = None if quick else 1.5
    yield Bar(f"Solomon, percent over best known, {seconds:g} s", gaps, most, text="{:.2f}")
    no_lunch, lunch = facility_ratios(seconds * FACILITY_SHARE)
    yield Bar("facilities on the way, no lunch, ours / PyVRP", (no_lunch,), None)
    yield Bar("facilities on the way, lunch, search / ortools", (lunch,), None)


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--only", nargs="+", choices=[name.lower() for name in BEST_KNOWN])
    options = parser.parse_args()
    names = [name for name in BEST_KNOWN if options.only is None or name.lower() in options.only]
    show(bars(names, options.seconds))


if __name__ == "__main__":
    main()
