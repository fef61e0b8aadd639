"""Random days (tests/random_days.py) as the engines get them."""

from __future__ import annotations

from collections.abc import Mapping

from planner.day.day import Day
from planner.mixing.limits import holds, order_windows
from planner.mixing.recipes import order_gal, recipes
from planner.mixing.separation import separation
from planner.roads.travel import Travel
from planner.routing.build import build_problem
from planner.routing.loading.allowed import loadings
from planner.routing.problem import RoutingProblem
from tests.random_days import random_day, straight_travel


def problem_of_random_day(seed: int, size: str) -> RoutingProblem | None:
    """The day's problem, None when all of its orders are held."""
    problem = problem_of(random_day(seed, size))
    return problem if problem.orders else None


def problem_of(day: Day, travel: Mapping[str, Travel] | None = None) -> RoutingProblem:
    """The day as the engines get it, over straight lines when no travel is given."""
    book, held_ids = day.workbook, frozenset(hold.order_id for hold in holds(day))
    free = {name: order for name, order in day.orders.items() if name not in held_ids}
    need_gal: dict[str, float] = {}
    for order in free.values():
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    apart = separation(book)
    return build_problem(
        day,
        recipes(book),
        {name: order_windows(day, order) for name, order in free.items()},
        held_ids,
        travel or straight_travel(day),
        {name: loadings(book, truck, apart, need_gal) for name, truck in book.trucks.items()},
    )
