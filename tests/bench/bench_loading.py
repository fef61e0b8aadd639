"""Free loading: which mix goes into which compartment, chosen together with the routes.

    python -m tests.bench.bench_loading [--seeds 4] [--quick]
    python -m tests.bench.bench_loading --count 200 --seeds 20 --first 2000  # 1. alone, by count

1. Days of 100 orders and six trucks alike, the mixes of the day in other shares than the
   compartments: the search with every loading free against the best of several loadings that a
   sensible office would fix (same engine, same seconds each; with --count the same steps, so that
   a busy machine does not matter).
2. Days of 20 to 30 orders, two or three trucks: against every fleet loading (like trucks not told
   apart) routed by PyVRP, all of them for a moment and the best ones at length.

Money = seconds of driving and refilling, as in bench_pyvrp.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from planner.routing.engines.nearest_fit import largest_need_first
from planner.routing.loading.assign import choose_loadings
from planner.routing.problem import (
    CompartmentSpec,
    Effort,
    LineSpec,
    Loading,
    RoutingProblem,
    StopToken,
)
from tests.bench.instances import MIXES, as_problem, bench_day
from tests.bench.ours import Bar, Solved, show, solve
from tests.bench.referee import by_our_rules, referee, search, two_workers

GAL_PER_1000_FT2 = 2.2
LARGE = (120.0, 80.0, 50.0, 50.0)
FREE_MOST, ENUMERATED_MOST = 0.97, 1.01
BEST_FLEETS = 8


@dataclass(frozen=True)
class Enumerated:
    """A small day. seconds: of ours; moment_s, length_s: of PyVRP for each fleet loading, and again
    for each of the best."""

    orders: int
    trucks: int
    mixes: int
    compartments: tuple[float, ...]
    seconds: float = 10.0
    moment_s: float = 0.2
    length_s: float = 2.0


SMALL_DAYS = (
    Enumerated(20, 2, 3, (120.0, 80.0, 50.0)),
    Enumerated(30, 3, 3, (100.0, 60.0)),
)


def free_day(
    orders: int, trucks: int, seed: int, mixes: int, compartments: Sequence[float]
) -> RoutingProblem:
    """A day of bench_day's places and windows with its own shares of mixes; all compartments hang
    on one line (without a hose, so that a changeover is nothing), every loading is allowed."""
    rng = np.random.default_rng([seed, orders, trucks, mixes])
    given = as_problem(bench_day(orders, trucks, seed))
    shares = rng.dirichlet([2.0] * mixes)
    mix = rng.choice(mixes, orders, p=shares)
    lawn = np.clip(rng.lognormal(np.log(8.5), 0.5, orders), 2.0, 60.0)
    gal = np.clip(np.ceil(lawn * GAL_PER_1000_FT2), 1.0, min(compartments))
    parts = tuple(
        CompartmentSpec(str(place), size, 0.0, "A", place, 0.0, None)
        for place, size in enumerate(compartments, 1)
    )
    loadings = different_loadings(MIXES[:mixes], compartments)
    gun = given.trucks[0].lines[0].gun_gal_per_min
    return replace(
        given,
        trucks=tuple(
            replace(
                truck,
                lines=(LineSpec("A", 1e9, 0.0, gun),),
                compartments=parts,
                loadings=loadings,
            )
            for truck in given.trucks
        ),
        orders=tuple(
            replace(
                order,
                mix_id=MIXES[mix[row]],
                gal=float(gal[row]),
                windows=order.windows
                and tuple(
                    # As long as before for the begin of the work.
                    replace(one, close_min=one.close_min + (gal[row] - order.gal) / gun)
                    for one in order.windows
                ),
            )
            for row, order in enumerate(given.orders)
        ),
    )


def different_loadings(mixes: Sequence[str], compartments: Sequence[float]) -> tuple[Loading, ...]:
    """Every way to fill all compartments that gives other gallons of some mix."""
    seen: dict[tuple[float, ...], Loading] = {}
    for mix_of in itertools.product(mixes, repeat=len(compartments)):
        gallons = tuple(
            sum(size for size, one in zip(compartments, mix_of, strict=True) if one == mix)
            for mix in mixes
        )
        seen.setdefault(gallons, Loading(mix_of, ()))
    return tuple(seen.values())


def with_fleet(problem: RoutingProblem, fleet: Sequence[Loading]) -> RoutingProblem:
    """The same day with one loading for each truck."""
    trucks = zip(problem.trucks, fleet, strict=True)
    return replace(problem, trucks=tuple(replace(truck, loadings=(one,)) for truck, one in trucks))


def sensible_fleets(problem: RoutingProblem) -> dict[str, list[Loading]]:
    """Loadings that an office would fix, and the one that CP-SAT proposes by volume."""
    need: dict[str, float] = dict.fromkeys(MIXES, 0.0)
    for order in problem.orders:
        need[order.mix_id] += order.gal
    mixes = sorted(MIXES, key=lambda mix_id: -need[mix_id])
    first, second, third, fourth = mixes
    count = len(problem.trucks)
    standing = Loading((first, second, third, fourth), ())
    most, rest = Loading((first, second, first, second), ()), Loading((third, fourth) * 2, ())
    shared = Loading((first, third, second, fourth), ())
    special = max(1, round(count * (need[third] + need[fourth]) / sum(need.values())))
    found = {
        "all alike, largest compartment to the largest mix": [standing] * count,
        "two kinds of trucks, by mixes": [most] * (count - special) + [rest] * special,
        "every other truck with the second compartment for the third mix": [
            shared if row % 2 else standing for row in range(count)
        ],
        "truck by truck by what is left": largest_need_first(problem, StopToken()),
    }
    # On large days it may run out of its effort before it has any.
    proposed = choose_loadings(problem, 1, 1, StopToken())
    return found | ({"CP-SAT by volume": proposed[0]} if proposed else {})


def free_against_fixed(seed: int, effort: Effort, orders: int, trucks: int) -> float:
    """Free / best fixed loading on one day."""
    problem = free_day(orders, trucks, seed, len(MIXES), LARGE)
    free = solve(problem, effort)
    _told(f"{orders} orders, day {seed}: free", free)
    costs = []
    for name, fleet in sensible_fleets(problem).items():
        fixed = solve(with_fleet(problem, fleet), effort)
        _told(f"    {name}", fixed)
        costs.append(fixed.cost)
    print(f"    ratio to the best {free.cost / min(costs):.4f}", flush=True)
    return free.cost / min(costs)


def _told(name: str, solved: Solved) -> None:
    refills = sum(stop.kind == "refill" for truck in solved.answer.routes for stop in truck.stops)
    print(f"{name} {solved.cost:.0f} ({refills} refills, {solved.left_out} out)", flush=True)


def fleets(problem: RoutingProblem) -> list[tuple[Loading, ...]]:
    """Every fleet loading that carries all mixes ordered. Trucks are alike: their order does not
    count."""
    mixes = {order.mix_id for order in problem.orders}
    ways = itertools.combinations_with_replacement(problem.trucks[0].loadings, len(problem.trucks))
    return [fleet for fleet in ways if mixes <= {mix for one in fleet for mix in one.mix_of}]


def best_of_all_fleets(
    pool: ProcessPoolExecutor, problem: RoutingProblem, day: Enumerated
) -> float:
    """Least money over all fleet loadings, by our rules."""
    given = [referee(with_fleet(problem, fleet), fleet) for fleet in fleets(problem)]

    def run(which: Sequence[int], seconds: float, seed: int) -> list[tuple[float, int]]:
        runs = [(row, pool.submit(search, given[row].data, seconds, seed)) for row in which]
        found = [(row, one.result()) for row, one in runs]
        return sorted((by_our_rules(given[row], one), row) for row, one in found if one.feasible)

    rough = run(range(len(given)), day.moment_s, 1)
    fine = [
        one
        for seed in (1, 2)
        for one in run([row for _, row in rough[:BEST_FLEETS]], day.length_s, seed)
    ]
    print(f"    {len(given)} fleet loadings, {len(rough)} of them serve all")
    return min(rough + fine)[0]


def free_against_all(pool: ProcessPoolExecutor, day: Enumerated, seed: int) -> float:
    """Ours / best of all fleet loadings on one small day."""
    problem = free_day(day.orders, day.trucks, seed, day.mixes, day.compartments)
    ours = solve(problem, Effort(seconds=day.seconds))
    _told(f"{day.orders} orders / {day.trucks} trucks, day {seed}: free", ours)
    best = best_of_all_fleets(pool, problem, day)
    print(f"    best of all {best:.0f}, ratio {ours.cost / best:.4f}", flush=True)
    return ours.cost / best


def bars(*, quick: bool, seeds: int = 2) -> Iterator[Bar]:
    """Rows of the table, as they are done. seeds: large days; small days, of each kind, are half as
    many."""
    if quick:
        large = (free_against_fixed(0, Effort(seconds=2.0), 50, 3),)
        days = [(replace(SMALL_DAYS[1], seconds=2.0, moment_s=0.1, length_s=0.5), 0)]
    else:
        effort = Effort(seconds=10.0)
        large = tuple(free_against_fixed(seed, effort, 100, 6) for seed in range(seeds))
        days = [(day, seed) for day in SMALL_DAYS for seed in range((seeds + 1) // 2)]
    yield Bar("free loading / best fixed one", large, None if quick else FREE_MOST)
    with two_workers() as pool:
        small = tuple(free_against_all(pool, day, seed) for day, seed in days)
    most = None if quick else ENUMERATED_MOST
    yield Bar("free loading / all loadings x PyVRP", small, None, most)


def main() -> None:
    """The bench as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--first", type=int, default=0, help="first day, with --count")
    parser.add_argument("--count", type=int)
    options = parser.parse_args()
    if options.count is not None:
        days = range(options.first, options.first + options.seeds)
        ratios = tuple(free_against_fixed(day, Effort(options.count), 100, 6) for day in days)
        show([Bar("free loading / best fixed one", ratios, FREE_MOST)])
        return
    show(list(bars(quick=options.quick, seeds=options.seeds)))


if __name__ == "__main__":
    main()
