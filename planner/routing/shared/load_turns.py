"""In which order trucks that are ready together are loaded at the yard's hoses (rule 38).

Every truck waits on paid time, and what a wait costs hangs on its day: whose customers open late
loses nothing. So orders of loading are priced with the whole day behind them: all of them for a
few trucks, else changed by twos as long as that helps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, permutations
from typing import Final

from planner.routing.problem import RoutingProblem, TruckSpec
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.shared.queues import Queued, queued
from planner.routing.shared.site_queue import DEPART

ALL_ORDERS_UP_TO: Final = 5
"""Trucks at one yard of which every order is tried: 120 of them take a fifth of a second."""
USUAL_SHARE: Final = 0.75
"""Of what a truck can hold or carry, before its day is known."""
USUAL_LB_PER_GAL: Final = 8.5


def in_best_turns(draft: Draft) -> None:
    """Set the order in which the draft's trucks are loaded."""
    now = queued(draft)
    for rows in _yards(draft, now):
        in_turn = sorted(
            rows, key=lambda row: (draft.turns.get(row, 0), _begin(draft, now, row), row)
        )
        now = _with(draft, in_turn)
        while not draft.stop.is_set:
            best, least = None, now.key(draft)
            for other in _others(in_turn):
                found = _with(draft, other)
                key = found.key(draft)
                if key[0] < least[0] or (key[0] == least[0] and key[1] < least[1] - GAIN):
                    best, least = other, key
            if best is None:
                break
            in_turn, now = best, _with(draft, best)
            if len(rows) <= ALL_ORDERS_UP_TO:
                break
        # Told as they begin, so that the plan's own times say the order.
        now = _with(draft, sorted(in_turn, key=lambda row: _begin(draft, now, row)))


def with_usual_waits(problem: RoutingProblem) -> RoutingProblem:
    """The problem for an engine that routes each truck as if it were alone: its morning with the
    wait that its place in the yard's queue usually means, the quickest to load first."""
    trucks = {truck.truck_id: truck for truck in problem.trucks}
    for site in problem.sites:
        mine = [
            (
                truck.shift_start_min + truck.prepare_min,
                _usual_min(truck, site.setup_min, site.fill_gal_per_min),
                name,
            )
            for name, truck in trucks.items()
            if truck.yard_id == site.site_id and truck.loads == "morning" and truck.start is None
        ]
        if site.trucks_at_once is None or len(mine) <= site.trucks_at_once:
            continue
        free = [0.0] * site.trucks_at_once
        for ready, lasts, name in sorted(mine):
            begin = max(ready, min(free))
            free[free.index(min(free))] = begin + lasts
            trucks[name] = replace(trucks[name], prepare_min=begin - trucks[name].shift_start_min)
    if all(trucks[truck.truck_id] is truck for truck in problem.trucks):
        return problem
    return replace(problem, trucks=tuple(trucks.values()))


def _usual_min(truck: TruckSpec, setup_min: float, flow: float) -> float:
    holds = sum(part.capacity_gal - part.start_gal for part in truck.compartments)
    return setup_min + USUAL_SHARE * min(holds, truck.payload_lb / USUAL_LB_PER_GAL) / flow


def _yards(draft: Draft, now: Queued) -> Iterator[list[int]]:
    """Trucks of each yard where somebody waits for his first fill."""
    crowded = {draft.days[row].truck.yard_id for row, waits in now.waits.items() if DEPART in waits}
    for yard_id in sorted(crowded):
        yield [
            row
            for row, day in enumerate(draft.days)
            if draft.stops[row]
            and day.truck.yard_id == yard_id
            and day.truck.loads == "morning"
            and not day.is_out
        ]


def _begin(draft: Draft, now: Queued, row: int) -> float:
    return now.waits.get(row, {}).get(DEPART, draft.days[row].start_min)


def _with(draft: Draft, in_turn: list[int]) -> Queued:
    draft.turns = draft.turns | {row: place for place, row in enumerate(in_turn)}
    return queued(draft)


def _others(in_turn: list[int]) -> Iterator[list[int]]:
    if len(in_turn) <= ALL_ORDERS_UP_TO:
        yield from map(list, permutations(in_turn))
        return
    for one, other in combinations(range(len(in_turn)), 2):
        swapped = in_turn.copy()
        swapped[one], swapped[other] = swapped[other], swapped[one]
        yield swapped
        moved = in_turn.copy()
        moved.insert(other, moved.pop(one))
        yield moved
