"""Unserved orders in place of served ones of less price: what a deadline asks for at the last."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from itertools import combinations, pairwise
from math import inf

from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.repair.draft import GAIN, Draft, insertion, places_of, thorough_insertion


def exchange(draft: Draft, over: Callable[[], bool]) -> None:
    """Put unserved orders in where one or two orders of a truck with less price together make room
    and money is saved; those are put in elsewhere if they fit. over: asked whether to stop."""
    settled: dict[tuple[int, int], list[int]] = {}
    left = draft.tuning.repair_exchanges
    busy = True
    while busy:
        busy = False
        dearest = sorted(draft.unserved, key=lambda row: (-draft.prices[row], row))
        for order in dearest[: draft.tuning.unserved_tried]:
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
    """The draft with the order on that truck in place of others, and how many places were tried."""
    price, tried = draft.prices[order], 1
    cheaper = [other for other in draft.orders_of(row) if draft.prices[other] < price]
    if not cheaper or _in_place_of(draft, order, row, cheaper, inf) is None:
        return None, tried
    for gone in _few_of(
        sorted(cheaper, key=lambda other: draft.prices[other]), draft.tuning.repair_exchanged
    ):
        under = price - sum(draft.prices[other] for other in gone) - GAIN
        if draft.stop.is_set:
            break
        if under <= 0.0:
            continue
        trial = _in_place_of(draft, order, row, gone, under)
        tried += 1
        if trial is not None:
            trial.serve(gone)
            return trial, tried
    return None, tried


def _few_of(orders: list[int], most: int) -> Iterator[tuple[int, ...]]:
    for count in range(1, most + 1):
        yield from combinations(orders, count)


def _in_place_of(
    draft: Draft, order: int, row: int, gone: Collection[int], under: float
) -> Draft | None:
    """The draft with the order on that truck in place of others, for less than `under` more."""
    trial, day = draft.copy(), draft.days[row]
    trial.take_out(row, gone)
    stops, cost = trial.stops[row], trial.costs[row]
    if len(trial.unserved) != len(draft.unserved) + len(gone) or not _has_time(day, stops, order):
        return None
    under += draft.costs[row] - cost
    # All refills anew takes five times as long, and of pairs there are many.
    look = insertion if len(gone) == draft.tuning.repair_exchanged else thorough_insertion
    found = look(day, stops, cost, order, under, len(stops) + 1)
    if found is None:
        return None
    trial.put(row, found[1], cost + found[0])
    return trial


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
