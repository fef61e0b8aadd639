"""Why an order is not served, in words, and what would make room for it.

Found by asking again: could any truck carry it, could a truck do it if it did nothing else, and
which single rule, relaxed, would let it into the day as planned.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import replace
from math import ceil, inf

from planner.day.clock import clock_text
from planner.routing.draft import Draft, thorough_insertion
from planner.routing.evaluate import TruckDay, full_walk
from planner.routing.problem import Loading, OrderTask, TruckSpec
from planner.routing.refills import place_refills

UNSERVED_CODES = {
    "NO-TRUCK": "No truck may do it",
    "NO-HOSE": "No hose is long enough",
    "NO-MIX": "No truck can carry its mix",
    "TOO-LARGE": "More gallons than any truck can spray from one fill",
    "TOO-HEAVY": "Its gallons alone pass the weight rating",
    "NEVER-OPEN": "No time of the day is allowed",
    "WINDOW": "Its window closes before a truck can be done",
    "SITE": "Its mix cannot be made in time",
    "SHIFT": "It does not fit a whole shift",
    "LOADING": "The trucks that could carry its mix carry others",
    "FULL": "The day is full",
    "PRICE": "Serving it costs more than leaving it out",
    "HAND": "It was taken out by hand",
}
"""Codes of unserved orders -> title."""

LOADINGS_ASKED = 4
"""Loadings per truck tried for an order alone: those with the most gallons of its mix."""
FULL_ASKED = 15
"""Orders for which room is looked for in detail; a day this short of trucks needs no more hints."""


def reasons(draft: Draft) -> dict[str, tuple[str, str]]:
    """Code and words for every unserved order of a draft, by order id."""
    orders = draft.tables.problem.orders
    given: dict[str, tuple[str, str]] = {}
    for asked, row in enumerate(draft.unserved):
        reason = (
            _no_truck(draft, orders[row])
            or _not_even_alone(draft, row)
            or _not_loaded(draft, row)
            or _full(draft, row, in_detail=asked < FULL_ASKED)
        )
        given[orders[row].order_id] = reason
    return given


def _names(names: list[str]) -> str:
    """`T1`, `T1 and T2`, `T1, T2 and T3`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _allowed(draft: Draft, order: OrderTask) -> list[TruckSpec]:
    return [
        truck for truck in draft.tables.problem.trucks if truck.truck_id in order.allowed_trucks
    ]


def _line_and_gal(truck: TruckSpec, loading: Loading, mix_id: str) -> tuple[float, float]:
    """Hose ft and usable gallons that a loading has for a mix."""
    hose = {line.line_id: line.hose_ft for line in truck.lines}
    carrying = [
        part
        for part, loaded in zip(truck.compartments, loading.mix_of, strict=True)
        if loaded == mix_id
    ]
    usable = sum(part.capacity_gal - part.heel_gal for part in carrying)
    return (hose[carrying[0].line_id] if carrying else 0.0), usable


def _no_truck(draft: Draft, order: OrderTask) -> tuple[str, str] | None:
    """What rules out every truck before any clock is looked at."""
    trucks = _allowed(draft, order)
    if not trucks:
        return "NO-TRUCK", "no truck in service may do it (only/never trucks)"
    offers = [
        (truck, *_line_and_gal(truck, loading, order.mix_id))
        for truck in trucks
        for loading in truck.loadings
        if order.mix_id in loading.mix_of
    ]
    names = _names([truck.truck_id for truck in trucks])
    if not offers:
        return "NO-MIX", f"{names} cannot be loaded with {order.mix_id} (see keep apart, reserved)"
    reach = [offer for offer in offers if offer[1] >= order.hose_run_ft]
    if not reach:
        longest = max(offer[1] for offer in offers)
        return (
            "NO-HOSE",
            f"needs {order.hose_run_ft:g} ft of hose; the longest that can carry "
            f"{order.mix_id} has {longest:g} ft",
        )
    truck, _, most = max(reach, key=lambda offer: offer[2])
    if most < order.gal:
        return (
            "TOO-LARGE",
            f"needs {order.gal:.1f} gal of {order.mix_id}; the most a truck can pump from one "
            f"fill is {most:g} gal ({truck.truck_id}); split the order",
        )
    return None


def _candidates(draft: Draft, row: int) -> Iterator[TruckDay]:
    """Every allowed truck with the loadings that carry the most of the order's mix."""
    order = draft.tables.problem.orders[row]
    for place, truck in enumerate(draft.tables.problem.trucks):
        if truck.truck_id not in order.allowed_trucks:
            continue
        offers = []
        for rank, loading in enumerate(truck.loadings):
            if order.mix_id in loading.mix_of:
                hose, usable = _line_and_gal(truck, loading, order.mix_id)
                if hose >= order.hose_run_ft and usable >= order.gal:
                    offers.append((-usable, rank, loading))
        offers.sort(key=lambda offer: offer[:2])
        for _, _, loading in offers[:LOADINGS_ASKED]:
            yield TruckDay(draft.tables, place, loading)


def _not_even_alone(draft: Draft, row: int) -> tuple[str, str] | None:
    """Which rule stops every truck even when it does nothing else all day."""
    order = draft.tables.problem.orders[row]
    if order.windows == ():
        return "NEVER-OPEN", "its customer's times and the weather leave no time"
    blocked: list[tuple[TruckDay, str]] = []
    for day in _candidates(draft, row):
        if place_refills(day, [row]) is not None:
            return None
        for rule in ("window", "weight", "hours", "shift"):
            if place_refills(relaxed(day, row, rule), [row]) is not None:
                blocked.append((day, rule))
                break
    rules = [rule for _, rule in blocked]
    if "window" in rules:
        day = blocked[rules.index("window")][0]
        return "WINDOW", _window_text(day, row, order)
    if "weight" in rules:
        return (
            "TOO-HEAVY",
            f"its {order.gal:.1f} gal of {order.mix_id} with what the truck must carry anyway "
            "pass the weight rating of every truck that could take it",
        )
    sites = draft.tables.problem.sites
    made = any(site.mixes is None or order.mix_id in site.mixes for site in sites)
    if "hours" in rules or not made:
        return "SITE", f"no site that is open in time makes {order.mix_id}"
    if not rules:
        return (
            "TOO-LARGE",
            f"its {order.gal:.1f} gal of {order.mix_id} and filling the hose first take more than "
            "any truck can pump from one fill; split the order",
        )
    return "SHIFT", "driving and spraying it alone take longer than any truck's day"


def _window_text(day: TruckDay, row: int, order: OrderTask) -> str:
    found = place_refills(relaxed(day, row, "window"), [row])
    assert found is not None
    walk = full_walk(relaxed(day, row, "window"), found[1])
    done = next(
        timing.leave_min for stop, timing in zip(found[1], walk.timings, strict=True) if stop == row
    )
    last = order.windows[-1].close_min if order.windows else inf
    if done <= last:
        longest = max(window.close_min - window.open_min for window in order.windows or ())
        return f"the work takes longer than its longest window of {longest:.0f} min"
    return (
        f"its last window closes at {clock_text(last)}; {day.truck.truck_id} straight from the "
        f"yard would be done at {clock_text(done)}"
    )


def _not_loaded(draft: Draft, row: int) -> tuple[str, str] | None:
    """Trucks could carry it, but not as they are loaded in this plan."""
    if any(day.can[row] for day in draft.days):
        return None
    order = draft.tables.problem.orders[row]
    names = list(dict.fromkeys(day.truck.truck_id for day in _candidates(draft, row)))
    verb = "is" if len(names) == 1 else "are"
    return (
        "LOADING",
        f"{_names(names)} could carry {order.mix_id} but {verb} loaded with what serves more of "
        "the day",
    )


def _full(draft: Draft, row: int, *, in_detail: bool) -> tuple[str, str]:
    """The day is full: the least that would make room."""
    price = draft.prices[row]
    shortest: tuple[float, str] | None = None
    others: list[tuple[float, str]] = []
    days = [day for day in draft.days if day.can[row]] if in_detail else []
    for day in days:
        stops, cost = draft.stops[day.row], draft.costs[day.row]
        name = day.truck.truck_id
        fits = thorough_insertion(day, stops, cost, row, inf)
        if fits is not None:
            return (
                "PRICE",
                f"doing it with {name} would cost {fits[0]:.0f} more; leaving it out is priced "
                f"at {price:.0f}",
            )
        late = relaxed(day, row, "shift")
        found = thorough_insertion(late, stops, cost, row, inf)
        if found is not None:
            minutes = full_walk(late, found[1]).return_min - day.truck.latest_return_min
            if shortest is None or minutes < shortest[0]:
                shortest = (minutes, name)
        for rule, words in (
            ("window", "it could be done at any time of day"),
            ("weight", "the weight rating allowed it"),
        ):
            found = thorough_insertion(relaxed(day, row, rule), stops, cost, row, inf)
            if found is not None:
                others.append((found[0], f"{name} has room if {words}"))
    hints = []
    if shortest is not None:
        hints.append(f"{max(1, ceil(shortest[0]))} more minutes on truck {shortest[1]}")
    if others:
        hints.append(min(others)[1])
    if not hints:
        return "FULL", "the day is full: another truck or a longer day would be needed"
    return "FULL", "the day is full; what would make room: " + ", or ".join(hints)


def relaxed(day: TruckDay, row: int, rule: str) -> TruckDay:
    """The same truck as if one rule did not hold: 'window' (of the order in that row), 'weight',
    'shift' (the return) or 'hours' (of the sites)."""
    free = copy.copy(day)
    if rule == "window":
        free.windows = day.windows.copy()
        free.windows[row] = None
    elif rule == "weight":
        free.tanks = copy.copy(day.tanks)
        free.tanks.payload_lb = inf
    elif rule == "shift":
        free.truck = replace(day.truck, latest_return_min=inf)
    elif rule == "hours":
        free.sites = [(place, setup, flow, -inf, inf) for place, setup, flow, _, _ in day.sites]
    else:
        raise ValueError(rule)
    return free
