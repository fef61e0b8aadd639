"""A random day planned the way the chain plans one, without files or roads."""

from __future__ import annotations

from planner.day.day import Day
from planner.plan.assemble import Origin, make_plan
from planner.plan.model import Plan
from planner.prepare import prepare_day, routing_problem
from planner.routing.engines import engine_named
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions
from tests.random_days import straight_travel


def plan_random(day: Day, engine: str = "nearest-fit", count: int = 1, seed: int = 1) -> Plan:
    """The day's plan by one engine over straight lines."""
    return solve_random(day, engine, count, seed)[2]


def solve_random(
    day: Day, engine: str, count: int, seed: int = 1
) -> tuple[RoutingProblem, Solution, Plan]:
    """What the engine was given, what it answered, and the plan made of it."""
    travel = straight_travel(day)
    prepared = prepare_day(day)
    problem = routing_problem(prepared, travel)
    answer = engine_named(engine).solve(problem, SolveOptions(Effort(count=count), seed))
    origin = Origin(seed, f"count {count}", engine, "straight lines", "straight lines only")
    plan = make_plan(prepared, answer, travel, origin)
    return problem, answer, plan
