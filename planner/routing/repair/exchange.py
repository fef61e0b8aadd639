"""Unserved orders in place of served ones of less price: what a deadline asks for at the last."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations, pairwise

from planner.routing.exact.route_cost import TruckDay, full_walk
from planner.routing.repair.draft import GAIN, Draft, places_of, thorough_insertion

MOST_GONE = 2
"""Orders of one truck that one order may take the place of."""
TRIED_MOST = 4_000
"""Looks for a place, after which the draft stays as it is: half a minute at most."""


def exchange(draft: Draft, over: Callable[[], bool]) -> None:
    """Put unserved orders in where one or two orders of a truck with less price together make room
    and money is saved; those are put in elsewhere if they fit. over: asked whether to stop."""
    settled: dict[tuple[int, int], list[int]] = {}
    left = TRIED_MOST
    busy = True
    while busy:
        busy = False
        for order in sorted(draft.unserved, key=lambda row: (-draft.prices[row], row)):
            for row, day in enumerate(draft.days):
                stops = draft.stops[row]
                if not day.can[order] or settled.get((order, row)) is stops:
                    continue
                if over() or left <= 0:
                    return
                found, tried = _exchanged(draft, order, row)
                left -= tried
                if found is not None:
                    draft.adopt(found)
                    busy = True
                    break
                settled[order, row] = stops


def _exchanged(draft: Draft, order: int, row: int) -> tuple[Draft | None, int]:
    """The draft with the order on that truck in place of others, and how often a place was looked
    for."""
    day, tried = draft.days[row], 0
    for gone in _cheaper(draft, order, row):
        trial = draft.copy()
        trial.take_out(row, gone)
        if len(trial.unserved) != len(draft.unserved) + len(gone):
            continue
        under = draft.prices[order] - sum(draft.prices[other] for other in gone)
        under += draft.costs[row] - trial.costs[row] - GAIN
        stops = trial.stops[row]
        if not _has_time(day, stops, order):
            continue
        tried += 1
        found = thorough_insertion(day, stops, trial.costs[row], order, under, len(stops) + 1)
        if found is not None:
            trial.put(row, found[1], trial.costs[row] + found[0])
            trial.serve(gone)
            return trial, tried
    return None, tried


def _cheaper(draft: Draft, order: int, row: int) -> Iterator[tuple[int, ...]]:
    """Orders of the truck that together have less price, few and cheap ones first."""
    price = draft.prices[order]
    served = [other for other in draft.orders_of(row) if draft.prices[other] < price]
    served.sort(key=lambda other: draft.prices[other])
    for count in range(1, MOST_GONE + 1):
        for gone in combinations(served, count):
            if sum(draft.prices[other] for other in gone) < price - GAIN:
                yield gone


def _has_time(day: TruckDay, stops: list[int], order: int) -> bool:
    """Whether the truck's day leaves the minutes that the order takes at the least, if every wait
    and every minute of overtime is used for it."""
    if not stops:
        return True
    walk = full_walk(day, stops)
    places = [day.start_place, *places_of(day, stops), day.yard_place]
    there, minutes = day.place[order], day.minutes
    detour = min(minutes[a][there] + minutes[there][b] - minutes[a][b] for a, b in pairwise(places))
    if there not in places:
        detour += day.setup_min
    waits = sum(timing.begin_min - timing.arrive_min for timing in walk.timings)
    left = day.truck.latest_return_min - walk.return_min + waits
    return detour + day.spray_min[order] <= left
