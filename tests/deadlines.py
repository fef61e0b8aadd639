"""Days with more orders than room, half of them on their last day, and what their plans missed."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import combinations
from math import inf

from planner.day.day import Day
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import LUNCH, TruckDay
from planner.routing.problem import RoutingProblem, Solution, StopToken
from planner.routing.repair.draft import Draft
from planner.routing.shared.store import draft_of

SPAN = timedelta(days=10)


def half_on_their_last_day(day: Day, seed: int) -> Day:
    """The day with every order due from it on: half of them that day only, the others for ten days
    more."""
    names = sorted(day.orders)
    last = set(random.Random(f"last day {seed}").sample(names, len(names) // 2))
    orders = {
        name: replace(
            order,
            due_from=day.date,
            due_to=day.date if name in last else day.date + SPAN,
        )
        for name, order in day.orders.items()
    }
    return replace(day, workbook=replace(day.workbook, orders=orders), orders=orders)


@dataclass(frozen=True)
class Exchange:
    """An unserved order that fits on a truck when orders of less price are taken off it."""

    order_id: str
    truck_id: str
    gone: tuple[str, ...]
    saves: float


def missed_exchanges(
    problem: RoutingProblem, answer: Solution, most: int = 2, *, thorough: bool = True
) -> Iterator[Exchange]:
    """Exchanges that would save money: any unserved order on its last day (or past it) in place of
    one or two orders of its truck with later days, no more important than itself. Every place of
    the stop order is tried, and (thorough) all refills put anew at every place."""
    draft = draft_of(problem, answer, StopToken())
    orders = problem.orders
    for row in draft.unserved:
        if orders[row].price < orders[row].worth:
            continue
        for at, day in enumerate(draft.days):
            if not day.can[row]:
                continue
            later = [
                other
                for other in draft.orders_of(at)
                if orders[other].price < orders[other].worth <= orders[row].worth
            ]
            for gone in _sets(later, most):
                saves = _saves(draft, at, row, gone, thorough=thorough)
                if saves > 1e-6:
                    names = tuple(orders[other].order_id for other in gone)
                    yield Exchange(orders[row].order_id, day.truck.truck_id, names, saves)


def _sets(later: list[int], most: int) -> Iterator[tuple[int, ...]]:
    for size in range(1, most + 1):
        yield from combinations(later, size)


def _saves(draft: Draft, at: int, row: int, gone: Collection[int], *, thorough: bool) -> float:
    day, stops = draft.days[at], [stop for stop in draft.stops[at] if stop not in gone]
    before = draft.costs[at] + draft.prices[row] - sum(draft.prices[other] for other in gone)
    best = min(day.cost([*stops[:n], row, *stops[n:]]) for n in range(len(stops) + 1))
    if best == inf or thorough:
        best = min(best, _with_refills_anew(day, stops, row, 4 if not thorough else None))
    return before - best


def _with_refills_anew(day: TruckDay, stops: list[int], row: int, places: int | None) -> float:
    sequence = [stop for stop in stops if stop != LUNCH and stop < day.orders]
    away = [day.minutes[day.place[row]][day.place[other]] for other in sequence]
    near = sorted(range(len(sequence)), key=lambda n: away[n])
    tried = (
        range(len(sequence) + 1)
        if places is None
        else {n for m in near[:places] for n in (m, m + 1)}
    )
    found = [place_refills(day, [*sequence[:n], row, *sequence[n:]]) for n in tried]
    return min((one[0] for one in found if one is not None), default=inf)
