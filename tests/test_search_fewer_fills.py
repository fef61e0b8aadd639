"""Plans with a fill too many are known by their gallons and annealed again with dearer fills.

Outside references: every way of giving a few orders to trucks, tried; days cut from full tanks,
whose least number of fills is known by the way they were made (bin packing with a known answer).
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from math import ceil

import numpy as np
import pytest

from planner.routing.engines import search_engine
from planner.routing.problem import Effort, RoutingProblem, StopToken
from planner.routing.tuning import DEFAULT_TUNING
from tests.bench.instances import as_problem, bench_day
from tests.bench.ours import solve
from tests.test_search_lenience import TANK_GAL, day_of

pytest.importorskip("numba")

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.search.fewer_fills import dearer_fills, saves_a_fill
from planner.routing.search.parallel import Searcher, plan_of


def asked(problem: RoutingProblem, stops: list[list[int]]) -> bool:
    loads = list(range(len(problem.trucks)))
    return saves_a_fill(day_arrays(problem), loads, stops, 10.0, 1, StopToken())


def least_fills(gal: list[int], trucks: int) -> int:
    """By trying every way: a truck is filled as often as its gallons ask for."""
    return min(
        sum(
            ceil(sum(one for one, who in zip(gal, given, strict=True) if who == truck) / TANK_GAL)
            for truck in range(trucks)
        )
        for given in itertools.product(range(trucks), repeat=len(gal))
    )


def with_fills(stops: list[list[int]], fills: int, orders: int) -> list[list[int]]:
    """Those sequences with refills at the first water point, so many fills in all."""
    out = sum(1 for one in stops if one)
    return [
        [*one, *([orders + 1] * (fills - out) if at == 0 else [])] for at, one in enumerate(stops)
    ]


@pytest.mark.parametrize("seed", range(8))
def test_it_is_known_whether_a_fill_less_would_do(seed: int) -> None:
    rng = np.random.default_rng(seed)
    gal, trucks = rng.integers(10, 120, 8).tolist(), 2 + seed % 2
    problem = day_of(gal, trucks, seed)
    halves = [list(range(at, len(gal), trucks)) for at in range(trucks)]
    least = least_fills(gal, trucks)
    for fills in (trucks, trucks + 1, trucks + 2, trucks + 3):
        assert asked(problem, with_fills(halves, fills, len(gal))) == (fills > least), fills


def test_full_tanks_cannot_be_one_less_whatever_the_sequences_are() -> None:
    rng = np.random.default_rng(5)
    gal: list[int] = []
    for _ in range(5):
        cuts = np.sort(rng.choice(np.arange(1, TANK_GAL), 5, replace=False))
        gal += np.diff([0, *cuts, TANK_GAL]).tolist()
    problem = day_of(gal, 3, 5)
    mixed = [list(range(at, len(gal), 3)) for at in range(3)]
    assert not asked(problem, with_fills(mixed, 5, len(gal)))
    assert asked(problem, with_fills(mixed, 6, len(gal)))


def test_minutes_count_too() -> None:
    """Two trucks of half a shift each do what one full tank would do in one shift."""
    problem = day_of([40, 40, 30, 30], 2, 1)
    apart = [[0, 1], [2, 3]]
    assert asked(problem, apart)
    # Each order takes some 25 minutes with its set-up: two fit into an hour, four do not.
    short = tuple(replace(truck, latest_return_min=60.0) for truck in problem.trucks)
    assert not asked(replace(problem, trucks=short), apart)


def test_dearer_fills_cost_that_much_more_and_nothing_else() -> None:
    problem = day_of([100, 100, 100], 2, 1)
    day = day_arrays(problem)
    searcher = Searcher(day, 1, problem.tuning)
    searcher.start_from([0, 1], [[0, 1], [2]])
    before, plan = searcher.cost, plan_of(searcher)[1]
    assert sum(stop >= 3 for one in plan for stop in one) == 1
    searcher.priced_by(dearer_fills(day, 1000.0))
    assert searcher.cost == pytest.approx(before + 3 * 1000.0)
    searcher.priced_by(day)
    assert searcher.cost == pytest.approx(before)
    assert day.truck[:, c.PER_REFILL].max() == 0.0


@pytest.mark.parametrize(("seed", "fills"), [(4101, 5), (4300, 5)])
def test_a_fill_too_many_is_not_left_over(seed: int, fills: int) -> None:
    """Days of 60 orders whose plans had one fill more than their gallons need."""
    problem = as_problem(bench_day(60, 4, seed))
    counts = []
    for most in (0, DEFAULT_TUNING.search_again_most):
        tuning = replace(DEFAULT_TUNING, search_again_most=most)
        solved = solve(problem, Effort(count=60, tuning=tuning))
        assert solved.left_out == 0
        stops = [truck.stops for truck in solved.answer.routes if truck.stops]
        refills = sum(stop.kind == "refill" for one in stops for stop in one)
        counts.append((len(stops) + refills, solved.cost))
    (before, dear), (after, cheap) = counts
    assert after == fills < before
    assert cheap < dear


@pytest.mark.parametrize(("worth", "is_kept_back"), [(0.001, True), (1.0, False)])
def test_seconds_are_kept_back_only_where_refills_matter(
    worth: float, is_kept_back: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    widths: list[float] = []

    def noted(solve: search_engine._Solve, heat: float, begun: float, width: float) -> None:
        widths.append(width)

    monkeypatch.setattr(search_engine._Solve, "_anneal_again", noted)
    tuning = replace(DEFAULT_TUNING, search_again_worth=worth)
    solve(day_of([90, 90, 90], 2, 1), Effort(seconds=0.5, tuning=tuning))
    assert [width > 0 for width in widths] == [is_kept_back]
