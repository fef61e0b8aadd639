"""Orders whose days depend on each other, in the search of several days: the plan is the cheapest
over all combinations of days, and every plan keeps one of them.

Outside reference: every combination of days and every sequence of every day, looked at one by one
(straight-line distances only, so that nothing of the planner's prices is asked).
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.compiled.scratch import QUICK
from planner.routing.engines.many_days import lay_days
from planner.routing.problem import (
    CompartmentSpec,
    Effort,
    LineSpec,
    Loading,
    OrderGroup,
    OrderTask,
    RoutingProblem,
    SiteTask,
    SolveOptions,
    TruckSpec,
)
from tests.few import few
from tests.test_search_tables import searched

DAYS, ROOM = 3, 4
DAY_MIN = 1440.0


def made_up(seed: int) -> RoutingProblem:
    """Seven to eight orders of four properties over three days with a truck each, which holds four
    of them; a truck-day costs its miles only."""
    chance = random.Random(seed)
    homes = [(chance.uniform(-9, 9), chance.uniform(-9, 9)) for _ in range(4)]
    points = np.array([(0.0, 0.0), *homes])
    miles = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    trucks = tuple(
        TruckSpec(
            truck_id=f"T@{day}", yard_id="Y", profile=0, day_min=DAY_MIN * day,
            shift_start_min=DAY_MIN * day, shift_end_min=1e7, latest_return_min=1e7, lunch_min=0.0,
            lunch_earliest_min=0.0, lunch_latest_min=0.0, payload_lb=1e9, pay_per_min=0.0,
            overtime_pay_per_min=0.0, cost_per_day=0.0, cost_per_mile=1.0,
            lines=(LineSpec("L", 1e7, 0.0, 1e9),),
            compartments=(CompartmentSpec("C", float(ROOM), 0.0, "L", 1, 0.0, None),),
            loadings=(Loading(("M",), ()),),
        )
        for day in range(DAYS)
    )  # fmt: skip
    everybody = frozenset(one.truck_id for one in trucks)
    orders, groups = [], []
    for home in range(4):
        names = [f"{home}.{turn}" for turn in range(1 if home == 3 else 2 + (seed + home) % 2)]
        orders += [
            OrderTask(name, home + 1, "M", 1.0, None, 0.0, everybody, 1e4, 1e4) for name in names
        ]
        if len(names) > 1:
            every = list(itertools.product(range(DAYS), repeat=len(names)))
            groups.append(OrderGroup(tuple(names), tuple(chance.sample(every, 3))))
    sites = (SiteTask("Y", 0, 0.0, 1e9, -2.0, -1.0, None),)
    square = np.stack([miles])
    return RoutingProblem(
        trucks, tuple(orders), sites, {"M": 0.0}, square, square, 0.0, 0.0, groups=tuple(groups)
    )


def least_miles(problem: RoutingProblem) -> float:
    """Of all combinations and sequences; inf when nothing has room."""
    place = {one.order_id: one.place for one in problem.orders}
    free = [name for name in place if not any(name in g.order_ids for g in problem.groups)]
    choices = [
        *([dict(zip(g.order_ids, days, strict=True)) for days in g.days] for g in problem.groups),
        *([{name: day} for day in range(DAYS)] for name in free),
    ]
    known: dict[tuple[int, ...], float] = {(): 0.0}

    def route(places: tuple[int, ...]) -> float:
        if places not in known:
            known[places] = min(
                sum(problem.drive_miles[0][a, b] for a, b in itertools.pairwise((0, *way, 0)))
                for way in itertools.permutations(places)
            )
        return known[places]

    best = np.inf
    for some in itertools.product(*choices):
        by_day: list[list[int]] = [[] for _ in range(DAYS)]
        for chosen in some:
            for name, day in chosen.items():
                by_day[day].append(place[name])
        if max(map(len, by_day)) <= ROOM:
            best = min(best, sum(route(tuple(sorted(set(one)))) for one in by_day))
    return float(best)


@pytest.mark.parametrize("seed", range(few(4, 30)))
@pytest.mark.parametrize("engine", ["search", "nearest-fit"])
def test_the_cheapest_combination_of_days_is_found(seed: int, engine: str) -> None:
    """By the search; nearest-fit keeps to one combination of each group, too."""
    if engine == "search":
        pytest.importorskip("numba")
    problem = made_up(seed)
    best = least_miles(problem)
    draft, name = lay_days(problem, SolveOptions(Effort(count=20), engine=engine))
    assert name == engine
    day_of = {
        problem.orders[order].order_id: day.truck.day
        for row, day in enumerate(draft.days)
        for order in draft.orders_of(row)
    }
    for group in problem.groups:
        lie = [day_of.get(one) for one in group.order_ids]
        assert any(
            all(a in (None, b) for a, b in zip(lie, days, strict=True)) for days in group.days
        )
    if best < np.inf and engine == "search":
        assert not draft.unserved
        assert sum(draft.costs) == pytest.approx(best)


@pytest.mark.parametrize("seed", range(few(2, 12)))
def test_no_index_counts_from_the_end(seed: int) -> None:
    """As tests/test_search_tables.py, with groups, one of which has an order without a day."""
    problem = made_up(seed)
    first, *rest = problem.groups
    lone = replace(first, days=((*first.days[0][:-1], None), *first.days))
    assert searched(day_arrays(replace(problem, groups=(lone, *rest))), QUICK, 15, seed) < np.inf
