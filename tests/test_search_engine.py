"""The search engine keeps every rule, is never dearer than the yardstick, and can be repeated.

Outside references: planner.routing.exact.route_cost for prices (the engine itself reads its plan
back and would raise), the stand-in engine for cost, enumeration for small days.
"""

from __future__ import annotations

import itertools
import math

import pytest

from planner.routing.compiled.python_api import place_refills
from planner.routing.engines import engine_named
from planner.routing.engines.nearest_fit import nearest_fit
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import walk
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions, StopToken
from tests.random_problems import problem_of_random_day
from tests.routing_cases import random_problem

pytest.importorskip("numba")


def solve(problem: RoutingProblem, count: int = 4, seed: int = 1) -> Solution:
    engine = engine_named("search")
    assert engine.name == "search"
    return engine.solve(problem, SolveOptions(Effort(count=count), seed))


def total(problem: RoutingProblem, answer: Solution) -> float:
    """Money of a plan by the plain walk; every order must be somewhere once."""
    done: list[str] = []
    money = 0.0
    for truck, given in zip(problem.trucks, answer.routes, strict=True):
        walked = walk(problem, truck, given.loading, given.stops)
        assert walked.feasible, walked.fault
        money += walked.cost
        done += [stop.ref for stop in given.stops if stop.kind == "order"]
    assert sorted([*done, *answer.unserved]) == sorted(o.order_id for o in problem.orders)
    return money + sum(o.price for o in problem.orders if o.order_id in answer.unserved)


@pytest.mark.parametrize("seed", range(24))
def test_random_problems(seed: int) -> None:
    problem = random_problem(seed, orders=14, trucks=2, limited=seed % 3 == 0, tight=seed % 4 == 0)
    assert (
        total(problem, solve(problem)) <= nearest_fit(DayTables(problem), StopToken()).total + 1e-6
    )


@pytest.mark.parametrize("seed", range(0, 24, 2))
def test_random_days(seed: int) -> None:
    problem = problem_of_random_day(seed, "medium" if seed % 4 else "small")
    if problem is None:
        pytest.skip("every order of the day is held")
    assert (
        total(problem, solve(problem)) <= nearest_fit(DayTables(problem), StopToken()).total + 1e-6
    )


def test_same_seed_and_count_give_the_same_plan() -> None:
    problem = random_problem(5, orders=25, trucks=3)
    assert solve(problem, 6, seed=3) == solve(problem, 6, seed=3)


def test_one_thread_gives_the_plan_of_two() -> None:
    problem = random_problem(6, orders=25, trucks=3)
    alone = engine_named("search", threads=1).solve(problem, SolveOptions(Effort(count=6), 3))
    assert alone == solve(problem, 6, seed=3)


def best_of_all(problem: RoutingProblem) -> float:
    """Optimum of one truck's day by trying every set, sequence and loading (plain Python)."""
    tables, truck = DayTables(problem), problem.trucks[0]
    prices = [order.price for order in problem.orders]
    best = sum(prices)
    for loading in truck.loadings:
        day = TruckDay(tables, 0, loading)
        can = [row for row in range(len(prices)) if day.can[row]]
        for size in range(1, len(can) + 1):
            for chosen in itertools.combinations(can, size):
                rest = sum(prices) - sum(prices[row] for row in chosen)
                for sequence in itertools.permutations(chosen):
                    found = place_refills(day, sequence, under_cost=best - rest)
                    if found is not None:
                        best = found[0] + rest
    return best


@pytest.mark.parametrize("seed", range(10))
def test_small_days_against_trying_everything(seed: int) -> None:
    """Five orders, one truck, every loading."""
    problem = random_problem(seed, orders=5, trucks=1, limited=seed % 2 == 0, tight=seed % 3 == 0)
    found = total(problem, solve(problem, 10))
    assert math.isclose(found, best_of_all(problem), rel_tol=1e-3), seed
