"""What a plan takes out of the store, counted from its fills (rule 27)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.problem import OrderTask, RoutingProblem, Solution, StockLimit, StopToken
from planner.routing.repair.draft import Draft
from planner.routing.shared.who_waits import needed
from planner.routing.unserved.relax import FoundRoom, put_found
from planner.units import practical_amount

NOISE = 1e-7
"""Gallons or pounds over the stock that are float noise."""


def without(problem: RoutingProblem, rows: list[int]) -> RoutingProblem:
    """The day without the orders in these rows."""
    if not rows:
        return problem
    stay = [row for row in range(len(problem.orders)) if row not in set(rows)]
    wanted = problem.preferences
    return replace(
        problem,
        orders=tuple(problem.orders[row] for row in stay),
        preferences=replace(
            wanted,
            truck_price=None if wanted.truck_price is None else wanted.truck_price[:, stay],
            told=_only(wanted.told, stay),
            told_price=_only(wanted.told_price, stay),
        ),
    )


def _only(by_order: tuple[Any, ...] | None, rows: list[int]) -> tuple[Any, ...] | None:
    return None if by_order is None else tuple(by_order[row] for row in rows)


def draft_of(problem: RoutingProblem, answer: Solution, stop: StopToken) -> Draft:
    """An answer as a draft, exactly priced."""
    draft = Draft(DayTables(problem), [truck.loading for truck in answer.routes], stop)
    draft.turns = {row: truck.load_turn for row, truck in enumerate(answer.routes)}
    for row, truck in enumerate(answer.routes):
        stops = draft.tables.numbers(truck.stops)
        if stops:
            draft.put(row, stops, draft.days[row].cost(stops))
    return draft


def filled_gal(day: TruckDay, stops: list[int]) -> dict[str, float]:
    """Gallons of each mix that a truck is filled with over the day: what it draws, and by how much
    more is on board at the end than at the start."""
    if not stops:
        return {}
    walk = full_walk(day, stops)
    _, _, spray, hose = day.hoses(stops)
    filled = {}
    for k, mix_id in enumerate(day.mixes):
        drawn = sum(row[k] for row in spray) + sum(row[k] for row in hose)
        rows = day.tanks.rows_of[k]
        more = sum(walk.end_gal[row] - day.tanks.start[row] for row in rows)
        filled[mix_id] = max(0.0, drawn + more)
    return filled


def taken_out(draft: Draft) -> list[float]:
    """What the draft's fills take of each limited product (in the order of problem.stock)."""
    filled = [filled_gal(day, stops) for day, stops in zip(draft.days, draft.stops, strict=True)]
    return [
        sum(
            gal * limit.per_gal.get(mix_id, 0.0)
            for mixes in filled
            for mix_id, gal in mixes.items()
        )
        for limit in draft.tables.problem.stock
    ]


def within_stock(draft: Draft) -> bool:
    """Whether the store holds what the draft takes out."""
    return not any(_excess(draft))


def _excess(draft: Draft) -> list[float]:
    """By how much more than the stock is taken out, of each limited product."""
    return [
        max(0.0, used - limit.in_store - NOISE)
        for used, limit in zip(taken_out(draft), draft.tables.problem.stock, strict=True)
    ]


def drop_beyond_stock(draft: Draft) -> None:
    """Take orders out until the store holds what is left: those of the lowest price first, of
    these one that is enough, and no more than it takes."""
    problem = draft.tables.problem
    while True:
        excess = _excess(draft)
        if not any(excess):
            return
        worst = max(range(len(excess)), key=lambda at: excess[at])
        limit = problem.stock[worst]
        candidates = [
            (_rank(problem, limit, problem.orders[order], excess[worst]), order, row)
            for row in range(len(draft.days))
            for order in draft.orders_of(row)
            if problem.orders[order].mix_id in limit.per_gal
        ]
        _, order, row = min(candidates)
        draft.take_out(row, [order])
        if not draft.stop.is_set:
            draft.tidy(row)


def _rank(
    problem: RoutingProblem, limit: StockLimit, order: OrderTask, excess: float
) -> tuple[float, bool, float]:
    amount = needed(problem, limit, order)
    enough = amount >= excess
    return order.price, not enough, amount if enough else -amount


def lacking(draft: Draft, row: int, found: FoundRoom | None) -> str | None:
    """What the store lacks for an order on top of the plan, in words; None when it lacks nothing.
    found: how the plan would take the order in, None = it would not, and what the order asks for
    itself is counted."""
    problem = draft.tables.problem
    order = problem.orders[row]
    used = taken_out(draft)
    if found is not None:
        trial = draft.copy()
        put_found(trial, found)
        with_it = taken_out(trial)
    else:
        with_it = [
            now + needed(problem, limit, order)
            for now, limit in zip(used, problem.stock, strict=True)
        ]
    words = [
        f"the store holds {_amount(limit.in_store, limit)} of {limit.name}; the orders that go "
        f"first take {_amount(now, limit)}, margins and hoses included, and with this one "
        f"{_amount(then - limit.in_store, limit)} would be lacking"
        for now, then, limit in zip(used, with_it, problem.stock, strict=True)
        if then > limit.in_store + NOISE
    ]
    return "; ".join(words) if words else None


def _amount(amount: float, limit: StockLimit) -> str:
    return practical_amount(amount, limit.unit).text
