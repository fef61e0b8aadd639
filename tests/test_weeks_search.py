"""What the search of many days does with days that orders cannot see from their neighbors, and what
becomes of orders whose day has no time for its morning's cleaning. The answers are known from how
the days were made."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.routing.engines.many_days import lay_days
from planner.routing.exact.walk import walk
from planner.routing.problem import Effort, Preferences, RoutingProblem, SolveOptions
from planner.routing.search import parallel, recombine
from planner.routing.search.recombine import SeenDays
from tests.bench.instances import BenchDay, as_problem

pytest.importorskip("numba")

VILLAGE = 12
LATE = 50_000.0


def two_days() -> RoutingProblem:
    """A village a truck-day, 2,000 s apart. The last order lies in the second's village, and is
    late on the second's day; both trucks have room for all."""
    rng = np.random.default_rng(7)
    orders = 2 * VILLAGE + 1
    villages = np.repeat([[10.0, 0.0], [-10.0, 0.0]], [VILLAGE, VILLAGE + 1], axis=0)
    xy = np.vstack([np.zeros((4, 2)), villages + rng.normal(0.0, 0.3, (orders, 2))])
    miles = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    zeros = np.zeros(orders, dtype=np.int64)
    problem = as_problem(
        BenchDay(
            name="two villages", xy=xy, seconds=(miles * 100.0).astype(np.int64), mix=zeros,
            gal=zeros + 5, service_s=zeros + 60, window_s=np.tile([0, 10 * 3600], (orders, 1)),
            capacity_gal=np.tile([150, 90, 80, 25], (2, 1)),
        )
    )  # fmt: skip
    here = [frozenset({"T0"})] * VILLAGE + [frozenset({"T1"})] * VILLAGE + [frozenset(("T0", "T1"))]
    price = np.zeros((2, orders))
    price[1, -1] = LATE
    tuning = replace(
        problem.tuning,
        calendar_trucks_near=5,
        search_exchange_chance=0.0,
        calendar_steps_per_count=200,
    )
    return replace(
        problem,
        orders=tuple(
            replace(one, allowed_trucks=able)
            for one, able in zip(problem.orders, here, strict=True)
        ),
        preferences=Preferences(truck_price=price),
        tuning=tuning,
    )


def test_an_order_is_offered_its_cheap_day_though_nobody_near_lies_on_it() -> None:
    """Its five nearest orders lie on the other day, whose truck is never idle."""
    problem = two_days()
    names = [one.order_id for one in problem.orders]
    mixes = problem.trucks[0].loadings[0].mix_of
    start = {
        "T0": (mixes, tuple(names[:VILLAGE])),
        "T1": (mixes, tuple(names[VILLAGE:])),
    }
    options = SolveOptions(Effort(count=4, tuning=problem.tuning), engine="search")
    draft, engine = lay_days(problem, options, start=start)
    assert engine == "search"
    assert not draft.unserved
    assert len(names) - 1 in draft.orders_of(0)
    assert sum(draft.costs) < LATE


def test_a_calendar_by_the_search_asks_for_no_or_tools() -> None:
    """Its import takes half a second of an answer."""
    said = "import sys; from tests.test_weeks_search import *; "
    said += "lay_days(two_days(), SolveOptions(Effort(count=1))); "
    said += "sys.exit('ortools.sat.python.cp_model' in sys.modules)"
    subprocess.run([sys.executable, "-c", said], check=True)


@pytest.mark.parametrize(("steps_per_order", "asked"), [(1, True), (1_000, False)])
def test_the_best_calendar_of_truck_days_seen_is_taken(
    steps_per_order: int, asked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is the answer where it is cheaper; not asked for where a calendar has few steps. Which is
    the cheapest is known from how the days were made."""
    problem = two_days()
    orders = len(problem.orders)
    known = [[*range(VILLAGE), orders - 1], list(range(VILLAGE, orders - 1))]
    seen: list[int] = []

    def put(
        day: object, pools: Sequence[SeenDays], most: float, looks: int
    ) -> tuple[list[int], list[list[int]]]:
        seen.append(sum(len(one.days) for one in pools))
        return [0, 1], known

    monkeypatch.setattr(recombine, "best_day", put)
    tuning = replace(
        problem.tuning,
        calendar_recombine_steps=steps_per_order,
        calendar_steps_per_count=len(problem.orders),
        search_taken_mean=1.0,
    )
    draft, _ = lay_days(problem, SolveOptions(Effort(count=1, tuning=tuning), engine="search"))
    assert bool(seen) == asked
    assert all(seen)
    if asked:
        assert [set(draft.orders_of(row)) for row in (0, 1)] == list(map(set, known))


@pytest.mark.parametrize(
    ("large", "threads", "searches"), [(True, 1, 1), (True, 2, 2), (False, 1, 2)]
)
def test_a_large_branch_has_one_search_of_twice_the_steps(
    large: bool, threads: int, searches: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the one core that a branch gets. Both ways as many steps in all."""
    problem, made = two_days(), []

    class Counted(parallel.Searcher):
        """Remembers that it was made."""

        def __init__(self, *given: Any, **named: Any) -> None:
            super().__init__(*given, **named)
            made.append(self)

    monkeypatch.setattr(parallel, "Searcher", Counted)
    tuning = replace(problem.tuning, calendar_recombine_orders=5 if large else 600)
    options = SolveOptions(Effort(count=4, tuning=tuning), engine="search")
    draft, _ = lay_days(problem, options, threads=threads)
    assert not draft.unserved
    assert len(made) == searches
    # The first step puts every order somewhere.
    assert sum(one.steps - 1 for one in made) == 2 * 4 * tuning.calendar_steps_per_count


def test_an_order_whose_cheap_day_is_full_goes_to_a_truck_that_has_room() -> None:
    """Its neighbors' truck has no minute left, and every other day is late. One of two trucks of
    such a day has an order already, far from it: the other one's day would be paid for nothing."""
    problem = two_days()
    full, other = problem.trucks
    far, near = problem.orders[VILLAGE], problem.orders[VILLAGE - 1]
    trucks = (full, other, replace(other, truck_id="T2"))
    trucks = tuple(replace(one, cost_per_day=90_000.0) for one in trucks)
    alone = replace(problem, trucks=trucks[:1], orders=problem.orders[: VILLAGE - 1])
    alone = replace(alone, preferences=Preferences())
    options = SolveOptions(Effort(count=4, tuning=problem.tuning), engine="search")
    draft, _ = lay_days(alone, options)
    (day,) = draft.answer({}).routes
    back_min = walk(alone, trucks[0], day.loading, day.stops).return_min
    trucks = (replace(trucks[0], latest_return_min=back_min + 0.01), *trucks[1:])
    orders = (
        *problem.orders[: VILLAGE - 1],
        replace(near, allowed_trucks=frozenset(("T0", "T1", "T2"))),
        replace(far, allowed_trucks=frozenset({"T1"})),
    )
    price = np.zeros((3, len(orders)))
    price[1:, VILLAGE - 1] = LATE
    large = {"calendar_recombine_orders": 5, "calendar_trucks_near_large": 5}
    tuning = replace(problem.tuning, search_string_most=1.0, **large)
    problem = replace(
        problem,
        trucks=trucks,
        orders=orders,
        preferences=Preferences(truck_price=price),
        tuning=tuning,
    )
    mixes = full.loadings[0].mix_of
    names = [one.order_id for one in orders]
    start = {
        "T0": (mixes, tuple(names[: VILLAGE - 1])),
        "T1": (mixes, (names[VILLAGE],)),
        "T2": (mixes, (names[VILLAGE - 1],)),
    }
    options = SolveOptions(Effort(count=4, tuning=tuning), engine="search")
    draft, _ = lay_days(problem, options, start=start)
    assert not draft.unserved
    assert len(draft.orders_of(1)) == 2
    assert not draft.orders_of(2)
