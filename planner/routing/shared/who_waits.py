"""Which orders wait when the store does not hold enough of a product for all, chosen by CP-SAT."""

from __future__ import annotations

from math import ceil, floor
from typing import Any

from planner.routing.loading.cp_sat import solved
from planner.routing.problem import OrderTask, RoutingProblem, StockLimit, StopToken, TruckSpec
from planner.routing.unserved.offers import most_of_mix

PARTS = 100_000
"""Of a gallon or pound, the smallest amount that is told apart; needs round up, stock down."""
CENTS = 100


def who_waits(problem: RoutingProblem, stop: StopToken) -> list[int]:
    """Rows of the orders that must wait so that the others can be mixed from the store, as little
    worth as possible together; of orders that no truck can do none has to wait.

    Of each mix that is made counts, beside what is sprayed and its margin, the hose and the heel of
    one truck and a gallon of rounding. A second truck with the same mix needs more: what a plan
    then really takes out is counted afterwards (planner/routing/shared/store.py).
    """
    rows = [
        row
        for row, order in enumerate(problem.orders)
        if any(order.mix_id in limit.per_gal for limit in problem.stock)
        and any(
            truck.truck_id in order.allowed_trucks and most_of_mix(truck, order, set())
            for truck in problem.trucks
        )
    ]
    if all(_in_parts(problem, limit, rows) <= _stock(limit) for limit in problem.stock):
        return []
    chosen = _chosen(problem, rows, stop)
    return [row for row in rows if row not in chosen]


def needed(problem: RoutingProblem, limit: StockLimit, order: OrderTask) -> float:
    """What an order takes of a product, with the margin; gal or lb."""
    return (
        limit.per_gal.get(order.mix_id, 0.0)
        * order.gal
        * (1.0 + problem.fill_margin_percent / 100.0)
    )


def _stock(limit: StockLimit) -> int:
    return floor(limit.in_store * PARTS)


def _in_parts(problem: RoutingProblem, limit: StockLimit, rows: list[int]) -> int:
    """What all these orders take of a product."""
    mixes = {problem.orders[row].mix_id for row in rows}
    return sum(_need(problem, limit, problem.orders[row]) for row in rows) + sum(
        _once(problem, limit, mix_id) for mix_id in mixes
    )


def _need(problem: RoutingProblem, limit: StockLimit, order: OrderTask) -> int:
    return ceil(needed(problem, limit, order) * PARTS)


def _once(problem: RoutingProblem, limit: StockLimit, mix_id: str) -> int:
    """What a mix takes of a product once, however little is sprayed: the hose, the heel and the
    rounding of the truck with the least of them."""
    gal = min((_once_gal(truck, mix_id) for truck in problem.trucks), default=0.0)
    return ceil(limit.per_gal.get(mix_id, 0.0) * (gal + 1.0) * PARTS)


def _once_gal(truck: TruckSpec, mix_id: str) -> float:
    hose_gal = {line.line_id: line.hose_gal for line in truck.lines}
    return min(
        (
            hose_gal[part.line_id] + part.heel_gal
            for loading in truck.loadings
            for part, loaded in zip(truck.compartments, loading.mix_of, strict=True)
            if loaded == mix_id
        ),
        default=0.0,
    )


def _chosen(problem: RoutingProblem, rows: list[int], stop: StopToken) -> set[int]:
    """Rows of the orders that go, dearest together."""
    # Half a second to import: only where something is short.
    from ortools.sat.python import cp_model

    # CP-SAT's classes are not typed for strict checking; Any stays inside this function.
    model: Any = cp_model.CpModel()
    goes = {row: model.new_bool_var("") for row in rows}
    made = {problem.orders[row].mix_id: model.new_bool_var("") for row in rows}
    for row, it_goes in goes.items():
        model.add_implication(it_goes, made[problem.orders[row].mix_id])
    for limit in problem.stock:
        orders = [_need(problem, limit, problem.orders[row]) * it for row, it in goes.items()]
        once = [_once(problem, limit, mix_id) * it for mix_id, it in made.items()]
        model.add(sum([*orders, *once]) <= _stock(limit))
    model.maximize(
        sum(round(problem.orders[row].price * CENTS) * it_goes for row, it_goes in goes.items())
    )
    solver = solved(model, problem.tuning.shared_stock_effort, 1, stop)
    if solver is None:
        return set()
    return {row for row, it_goes in goes.items() if solver.boolean_value(it_goes)}
