"""Random days (tests/random_days.py) as the engines get them."""

from __future__ import annotations

from collections.abc import Mapping

from planner.day.day import Day
from planner.prepare import prepare_day, routing_problem
from planner.roads.travel import Travel
from planner.routing.problem import RoutingProblem
from tests.random_days import random_day, straight_travel


def problem_of_random_day(seed: int, size: str) -> RoutingProblem | None:
    """The day's problem, None when all of its orders are held."""
    problem = problem_of(random_day(seed, size))
    return problem if problem.orders else None


def problem_of(day: Day, travel: Mapping[str, Travel] | None = None) -> RoutingProblem:
    """The day as the engines get it, over straight lines when no travel is given."""
    return routing_problem(prepare_day(day), travel or straight_travel(day))
