"""What would make room for an order that is not served, found by building it.

A room is named only when, with exactly that room, a stop order of one truck takes the order in
beside everything that the truck does already, keeps every rule, and costs less than leaving the
order out. So making the room and planning again from the same plan serves the order.
"""

import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil, floor, inf

from planner.day.clock import Window
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.repair.draft import Draft, insertion, thorough_insertion
from planner.routing.unserved.offers import (
    ALWAYS,
    ANY_HOUR,
    LATER,
    OFFERS,
    SITES,
    WEIGHT,
    WINDOW,
    Relaxation,
    most_of_mix,
    near_trucks,
    other_loadings,
    relaxed,
)

STEP_MIN = 5.0
"""Windows are named in whole steps."""
STEP_LB = 10.0
WEIGHT_ROUNDS = 14
"""Halvings of the added weight rating: from four tons down to less than a step."""
MOST_LB = 8000.0
FREE: dict[str, float | Window | bool] = {LATER: inf, WINDOW: ALWAYS, WEIGHT: inf, SITES: True}
"""Rules of RULES set aside for a look."""


@dataclass(frozen=True)
class FoundRoom:
    """A room that lets the order in. row: of the truck; stops: its stop order with the order (of
    one more truck: that truck's); more: money on top of the plan."""

    room: Relaxation
    row: int
    stops: tuple[int, ...]
    more: float


def day_with(draft: Draft, order: int, row: int, room: Relaxation) -> TruckDay:
    """The truck in that row as it would be with that room, ready to price stop orders."""
    tables = copy.copy(draft.tables)
    problem = relaxed(tables.problem, tables.problem.orders[order], room)
    tables.problem = problem
    if room.window is not None:
        windows = problem.orders[order].windows
        tables.windows = tables.windows.copy()
        tables.windows[order] = (
            None
            if windows is None
            else sorted((window.open_min, window.close_min) for window in windows)
        )
    return TruckDay(tables, row, room.loading or draft.days[row].loading)


def insertion_with(
    draft: Draft, order: int, row: int, room: Relaxation, under: float, *, thorough: bool = False
) -> FoundRoom | None:
    """The cheapest way found to take the order in with exactly that room, for less than `under`
    more money than the plan. thorough: all refills of a long day are put anew, too."""
    day = day_with(draft, order, row, room)
    if draft.stop.is_set or not day.can[order]:
        return None
    before = 0.0 if room.one_more else draft.costs[row]
    stops: list[int] = [] if room.one_more else draft.stops[row]
    cost = day.cost(stops)
    if cost == inf or (room.loading is not None and stops):
        # What changes the truck may ask for other refills before anything is added.
        placed = place_refills(day, draft.orders_of(row))
        if placed is None:
            return None
        cost, stops = placed
    for _ in range(room.parts):
        look = (
            thorough_insertion
            if thorough or len(stops) <= draft.tuning.unserved_short_day
            else insertion
        )
        more = look(day, stops, cost, order, before + under - cost)
        if more is None:
            return None
        cost, stops = cost + more[0], more[1]
    return FoundRoom(room, row, tuple(stops), cost - before)


def as_planned(draft: Draft, order: int) -> FoundRoom | None:
    """The cheapest way found to take the order in with no room made, whatever it costs; trucks may
    be loaded another way if they can go on with all they do."""
    best: FoundRoom | None = None
    for rank, row in enumerate(near_trucks(draft, order)):
        as_it_is = Relaxation(draft.days[row].truck.truck_id)
        others = other_loadings(draft, order, row) if rank < draft.tuning.unserved_trucks else ()
        for room in (as_it_is, *others):
            under = inf if best is None else best.more
            found = insertion_with(draft, order, row, room, under, thorough=True)
            if found is not None:
                best = found
    return best


def put_found(draft: Draft, found: FoundRoom) -> None:
    """Give the truck what as_planned() found for it."""
    if found.room.loading is not None:
        rank = draft.tables.problem.trucks[found.row].loadings.index(found.room.loading)
        draft.days[found.row] = draft.memory.loaded(draft.tables, found.row, rank)
    draft.put(found.row, list(found.stops), draft.costs[found.row] + found.more)


Stands = Callable[[int, FoundRoom], bool]
"""Whether a room for the order in a row keeps the limits that trucks share, too."""


def rooms(draft: Draft, order: int, stands: Stands) -> list[FoundRoom]:
    """What would make room, the smallest of each kind, simple kinds first."""
    for offers in OFFERS:
        found = [
            room
            for row, base, rules in offers(draft, order)
            for room in _smallest(draft, order, row, base, rules)
            if stands(order, room)
        ]
        if found:
            break
    found += one_more_truck(draft, order, stands)
    best: dict[tuple[str, ...], FoundRoom] = {}
    for one in found:
        kind = one.room.kind
        if kind not in best or _size(one, draft, order) < _size(best[kind], draft, order):
            best[kind] = one
    least = [
        one
        for kind, one in best.items()
        if not any(set(other) < set(kind) for other in best if other != kind)
    ]
    return sorted(least, key=lambda one: (len(one.room.kind), *one.room.kind))


def one_more_truck(draft: Draft, order: int, stands: Stands) -> list[FoundRoom]:
    """One more truck like one of the fleet that has the order as its only one; the cheapest."""
    best: FoundRoom | None = None
    task = draft.tables.problem.orders[order]
    for row, truck in enumerate(draft.tables.problem.trucks):
        if truck.start is not None or truck.truck_id not in task.allowed_trucks:
            continue
        under = task.price if best is None else best.more
        for loading in most_of_mix(truck, task, set())[: draft.tuning.unserved_loadings]:
            room = Relaxation(truck.truck_id, one_more=True, loading=loading)
            found = insertion_with(draft, order, row, room, under)
            if found is not None and stands(order, found):
                best, under = found, found.more
    return [] if best is None else [best]


def _smallest(
    draft: Draft, order: int, row: int, base: Relaxation, rules: tuple[str, ...]
) -> Iterator[FoundRoom]:
    """The base alone if it makes room, else the fewest rules set aside, as far as needed."""
    under = draft.tables.problem.orders[order].price
    if base.kind:
        found = insertion_with(draft, order, row, base, under)
        if found is not None:
            yield found
            return
    rules = tuple(rule for rule in rules if _may_bind(draft, order, rule))
    if not rules or insertion_with(draft, order, row, _free(base, rules), under) is None:
        return
    for count in range(1, len(rules) + 1):
        any_found = False
        for some in combinations(rules, count):
            free = _free(base, some)
            loose = [insertion_with(draft, order, row, free, under)]
            if WINDOW in some and base.loading is None:
                loose.append(_nearest_in_time(draft, order, row, free, under))
            for one in loose:
                exact = None if one is None else _held_to_need(draft, order, base, one, under)
                if exact is not None:
                    any_found = True
                    yield exact
        if any_found:
            return


def _nearest_in_time(
    draft: Draft, order: int, row: int, room: Relaxation, under: float
) -> FoundRoom | None:
    """As insertion_with, at the place of the stop order that asks for the least of a window."""
    day = day_with(draft, order, row, room)
    known = draft.tables.problem.orders[order].windows or ()
    best: tuple[float, FoundRoom] | None = None
    for at in range(len(draft.stops[row]) + 1):
        stops = [*draft.stops[row][:at], order, *draft.stops[row][at:]]
        walk = full_walk(day, stops)
        more = walk.cost - draft.costs[row]
        if more < under:
            timing = walk.timings[at]
            wider = _wider(_window(known, timing.begin_min, timing.leave_min), known)
            if best is None or wider < best[0]:
                best = wider, FoundRoom(room, row, tuple(stops), more)
    return None if best is None else best[1]


def _may_bind(draft: Draft, order: int, rule: str) -> bool:
    problem = draft.tables.problem
    if rule == WINDOW:
        return problem.orders[order].windows is not None
    if rule == SITES:
        return any(s.open_min is not None or s.close_min is not None for s in problem.sites)
    return True


def _free(base: Relaxation, rules: tuple[str, ...]) -> Relaxation:
    free = FREE | {WINDOW: ANY_HOUR}
    return replace(base, **{rule: free[rule] for rule in rules})  # type: ignore[arg-type]


def _held_to_need(
    draft: Draft, order: int, base: Relaxation, loose: FoundRoom, under: float
) -> FoundRoom | None:
    """A room no larger than its stop order needs, in whole minutes and pounds; None when the order
    does not fit into that after all."""
    room, row, stops = loose.room, loose.row, list(loose.stops)
    day = day_with(draft, order, row, room)
    walk = full_walk(day, stops)
    truck = draft.tables.problem.trucks[row]
    if room.later_min > 0.0:
        room = replace(
            room, later_min=float(max(0, ceil(walk.return_min - truck.latest_return_min)))
        )
    if room.window is not None:
        at = stops.index(order)
        begin, end = walk.timings[at].begin_min, walk.timings[at].leave_min
        known = draft.tables.problem.orders[order].windows or ()
        room = replace(room, window=_window(known, begin, end))
    if room.payload_lb > 0.0:
        room = replace(room, payload_lb=_pounds(draft, order, row, room, stops))
    return None if room == base else insertion_with(draft, order, row, room, under)


def _window(known: tuple[Window, ...], begin: float, end: float) -> Window | None:
    """The span that an order's windows lack for work from begin to end, None if nothing: a window
    it has made longer where that does it, in whole steps."""
    if any(window.open_min <= begin and end <= window.close_min for window in known):
        return None
    last = max(known, default=None, key=lambda window: window.close_min)
    first = min(known, default=None)
    from_min, until_min = floor(begin / STEP_MIN) * STEP_MIN, ceil(end / STEP_MIN) * STEP_MIN
    if last is not None and begin >= last.open_min:
        return Window(last.open_min, until_min)
    if first is not None and end <= first.close_min:
        return Window(from_min, first.close_min)
    return Window(from_min, until_min)


def _pounds(draft: Draft, order: int, row: int, room: Relaxation, stops: list[int]) -> float:
    """The least weight rating on top with which the stop order stands, to the next step."""
    day = day_with(draft, order, row, replace(room, payload_lb=0.0))
    own_lb = day.tanks.payload_lb
    least, most = 0.0, MOST_LB
    for _ in range(WEIGHT_ROUNDS):
        middle = (least + most) / 2.0
        day.tanks.payload_lb = own_lb + middle
        if day.cost(stops) < inf:
            most = middle
        else:
            least = middle
    return ceil(most / STEP_LB) * STEP_LB if most > MOST_LB / 2.0**WEIGHT_ROUNDS else 0.0


def _wider(window: Window | None, known: tuple[Window, ...]) -> float:
    """Minutes that a window adds to those that an order has."""
    if window is None:
        return 0.0
    covered = sum(
        old.close_min - old.open_min
        for old in known
        if window.open_min <= old.open_min and old.close_min <= window.close_min
    )
    return window.close_min - window.open_min - covered


def _size(found: FoundRoom, draft: Draft, order: int) -> tuple[float, float]:
    """How large a room of one kind is, and its money."""
    room = found.room
    wider = _wider(room.window, draft.tables.problem.orders[order].windows or ())
    gal = 0.0 if room.compartment is None else room.compartment[1]
    hose_ft = 0.0 if room.hose is None else room.hose[1]
    return (
        room.later_min + wider + room.payload_lb / STEP_LB + gal + hose_ft + room.parts,
        found.more,
    )
