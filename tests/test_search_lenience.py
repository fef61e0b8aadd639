"""What of a refill is not used, and days that fit without a refill.

Outside references: detours added up from the matrices; and days whose gallons were cut from full
tanks, so that a day without a refill is known to exist (bin packing with a known answer).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from planner.routing.problem import Effort, RoutingProblem
from tests.bench.instances import BenchDay, as_problem
from tests.bench.ours import solve

pytest.importorskip("numba")

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.search.parallel import Searcher

TANK_GAL = 150


def day_of(gal: list[int], trucks: int, seed: int) -> RoutingProblem:
    """Orders of one mix within a village: no way to avoid a refill (900 s) is as long as one."""
    rng = np.random.default_rng(seed)
    orders = len(gal)
    xy = np.vstack([np.zeros((2, 2)), rng.normal(0.0, 0.2, (orders + 2, 2))])
    miles = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    zeros = np.zeros(orders, dtype=np.int64)
    return as_problem(
        BenchDay(
            name=f"{orders} orders, seed {seed}",
            xy=xy,
            seconds=(miles * 100.0).astype(np.int64),
            mix=zeros,
            gal=np.array(gal, dtype=np.int64),
            service_s=zeros + 300,
            window_s=np.tile([0, 10 * 3600], (orders, 1)),
            capacity_gal=np.tile([TANK_GAL, 90, 80, 25], (trucks, 1)),
        )
    )


@pytest.mark.parametrize(
    ("gal", "refills", "used"),
    [
        ([100, 50], 0, None),
        ([100, 51], 1, 1 / 150),
        ([100, 149], 1, 99 / 150),
        ([150, 150], 1, 1.0),
        ([120, 120, 120], 2, 60 / 150),
    ],
)
def test_unused_share_of_the_last_refill(gal: list[int], refills: int, used: float | None) -> None:
    problem = day_of(gal, 1, seed=1)
    searcher = Searcher(day_arrays(problem), 1, problem.tuning)
    searcher.start_from([0], [list(range(len(gal)))])
    state = searcher.now
    assert state.truck[0, c.REFILLS] == refills
    assert state.drawn[0, 0] == sum(gal)
    # Money is seconds here, and those of a refill are on the way to its site (instances.py).
    seconds = problem.drive_miles[0]
    orders = len(problem.orders)
    places = [problem.orders[0].place - 4]
    for stop in state.stops[0, : state.truck[0, c.SIZE]]:
        row = problem.orders[stop] if stop < orders else problem.sites[stop - orders]
        places.append(row.place)
    least = min(
        seconds[here, site.place] + seconds[site.place, after] - seconds[here, after]
        for here, after in itertools.pairwise([*places, 0])
        for site in problem.sites[1:]
    )
    expected = 0.0 if used is None else (1.0 - used) * least
    assert state.money[0, c.UNUSED] == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_a_day_that_fits_without_a_refill_is_planned_without_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    trucks, each = 4, 6
    gal: list[int] = []
    for _ in range(trucks):
        cuts = np.sort(rng.choice(np.arange(1, TANK_GAL), each - 1, replace=False))
        gal += np.diff([0, *cuts, TANK_GAL]).tolist()
    solved = solve(day_of(gal, trucks, seed), Effort(count=50))
    stops = [stop.kind for truck in solved.answer.routes for stop in truck.stops]
    assert solved.left_out == 0
    assert stops.count("refill") == 0
