"""What a plan takes out of the store, counted from its fills (rule 27), and which orders wait
when it does not hold enough of a product for all, chosen by CP-SAT."""

from dataclasses import replace
from math import ceil, floor
from typing import Any

from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.loading.assign import solved
from planner.routing.problem import (
    OrderTask,
    RoutingProblem,
    Solution,
    StockLimit,
    StopToken,
    TruckSpec,
)
from planner.routing.repair.draft import Draft
from planner.routing.unserved.offers import most_of_mix
from planner.routing.unserved.relax import FoundRoom, put_found
from planner.units import practical_amount

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


Known = dict[tuple[int, ...], dict[str, float]]
"""Gallons by mix of trucks (by row) with stop orders that were worked out before."""


def taken_out(draft: Draft, known: Known | None = None) -> list[float]:
    """What the draft's fills take of each limited product (in the order of problem.stock). known:
    of this draft's trucks as they are loaded, added to."""
    known = {} if known is None else known
    for row, stops in enumerate(draft.stops):
        if (row, *stops) not in known:
            known[row, *stops] = filled_gal(draft.days[row], stops)
    return [
        sum(
            gal * limit.per_gal.get(mix_id, 0.0)
            for row, stops in enumerate(draft.stops)
            for mix_id, gal in known[row, *stops].items()
        )
        for limit in draft.tables.problem.stock
    ]


def within_stock(draft: Draft) -> bool:
    """Whether the store holds what the draft takes out."""
    return not any(excess(draft))


def excess(draft: Draft, known: Known | None = None) -> list[float]:
    """By how much more than the stock is taken out, of each limited product."""
    return [
        max(0.0, used - limit.in_store - NOISE)
        for used, limit in zip(taken_out(draft, known), draft.tables.problem.stock, strict=True)
    ]


def drop_beyond_stock(draft: Draft) -> None:
    """Take orders out until the store holds what is left: those of the lowest price first, of
    these one that is enough, and no more than it takes."""
    problem = draft.tables.problem
    while True:
        over = excess(draft)
        if not any(over):
            return
        worst = max(range(len(over)), key=lambda at: over[at])
        limit = problem.stock[worst]
        candidates = [
            (_rank(problem, limit, problem.orders[order], over[worst]), order, row)
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
