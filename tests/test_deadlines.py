"""No order with later days is served in place of one on its last day that would have fitted.

The days are invented; what an exchange would save is worked out by brute force in
tests/deadlines.py. The large case is tests/bench/bench_deadlines.py.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from planner.day.life import urgency
from planner.routing.engines import engine_named
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions
from tests.deadlines import missed_exchanges
from tests.routing_cases import random_problem

SEEDS = (0, 1, 2)


def crowded(seed: int) -> RoutingProblem:
    """Two trucks on a short day with 24 orders, half of them on their last day, the others with one
    to ten days left."""
    problem = random_problem(seed, 24, 2, tight=True)
    rng = random.Random(seed)
    left = [0] * 12 + [rng.randint(1, 10) for _ in range(12)]
    rng.shuffle(left)
    orders = tuple(
        replace(order, worth=order.price, price=order.price * urgency(days))
        for order, days in zip(problem.orders, left, strict=True)
    )
    return replace(problem, orders=orders)


def solved(problem: RoutingProblem, engine: str, seed: int) -> Solution:
    return engine_named(engine).solve(problem, SolveOptions(Effort(count=2), seed))


@pytest.mark.parametrize(
    ("seed", "engine"), [*[(seed, "nearest-fit") for seed in SEEDS], (0, "ortools")]
)
def test_no_exchange_is_missed(seed: int, engine: str) -> None:
    problem = crowded(seed)
    answer = solved(problem, engine, seed)
    assert answer.unserved
    assert list(missed_exchanges(problem, answer)) == []
