"""A random day planned the way the chain plans one, without files or roads."""

from __future__ import annotations

from planner.day.day import Day
from planner.mixing.limits import holds, order_windows
from planner.mixing.recipes import order_gal, recipes
from planner.mixing.separation import separation
from planner.mixing.stock import stock_limits
from planner.plan.assemble import Origin, make_plan
from planner.plan.model import Plan
from planner.routing.build import build_problem
from planner.routing.engines import engine_named
from planner.routing.loading.allowed import loadings
from planner.routing.problem import Answer, Effort, RoutingProblem
from tests.random_days import straight_travel


def plan_random(day: Day, engine: str = "nearest-fit", count: int = 1, seed: int = 1) -> Plan:
    """The day's plan by one engine over straight lines."""
    return solve_random(day, engine, count, seed)[2]


def solve_random(
    day: Day, engine: str, count: int, seed: int = 1
) -> tuple[RoutingProblem, Answer, Plan]:
    """What the engine was given, what it answered, and the plan made of it."""
    book, travel = day.workbook, straight_travel(day)
    held = holds(day)
    held_ids = frozenset(hold.order_id for hold in held)
    free = {name: order for name, order in day.orders.items() if name not in held_ids}
    windows = {name: order_windows(day, order) for name, order in free.items()}
    need_gal: dict[str, float] = {}
    for order in free.values():
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    all_recipes, apart = recipes(book), separation(book)
    problem = build_problem(
        day,
        all_recipes,
        windows,
        held_ids,
        travel,
        {name: loadings(book, truck, apart, need_gal) for name, truck in book.trucks.items()},
        stock=stock_limits(book, all_recipes),
    )
    answer = engine_named(engine).solve(
        problem, Effort(count=count), seed, lambda _share, _text: None
    )
    origin = Origin(seed, f"count {count}", engine, "straight lines", "straight lines only")
    plan = make_plan(day, all_recipes, windows, held, answer, travel, origin)
    return problem, answer, plan
