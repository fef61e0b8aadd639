"""Which changes of a day are looked at when an order is not served, from the simplest on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import ceil

from planner.routing.problem import Loading, OrderTask, TruckSpec
from planner.routing.repair.draft import Draft, nothing_loaded
from planner.routing.unserved.relaxation import Relaxation

LATER, WINDOW, WEIGHT, SITES = RULES = ("later_min", "window", "payload_lb", "sites_open")
"""Rules that may stand in an order's way, by the field of Relaxation that loosens them."""

Offer = tuple[int, Relaxation, tuple[str, ...]]
"""Row of a truck, what is changed in any case, and the rules that may be loosened on top."""


def near_trucks(draft: Draft, order: int) -> list[int]:
    """Rows of all trucks, those whose day comes nearest to the order first."""
    place = draft.tables.place

    def away(row: int) -> tuple[float, int]:
        day = draft.days[row]
        seen = [place[other] for other in draft.orders_of(row)] or [day.yard_place]
        return min(day.minutes[here][place[order]] for here in seen), row

    return sorted(range(len(draft.days)), key=away)


def _as_loaded(draft: Draft, order: int) -> Iterator[Offer]:
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        if draft.days[row].can[order]:
            yield row, Relaxation(draft.days[row].truck.truck_id), RULES


def _loaded_another_way(draft: Draft, order: int) -> Iterator[Offer]:
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        for room in other_loadings(draft, order, row):
            yield row, room, (LATER, WINDOW)


def other_loadings(draft: Draft, order: int, row: int) -> Iterator[Relaxation]:
    """Other loadings with which the truck can still do all that it does."""
    problem = draft.tables.problem
    truck, task = problem.trucks[row], problem.orders[order]
    if truck.start is not None or truck.truck_id not in task.allowed_trucks:
        return
    needed = {problem.orders[other].mix_id for other in draft.orders_of(row)}
    for loading in most_of_mix(truck, task, needed)[: draft.tuning.unserved_loadings]:
        if loading != draft.days[row].loading:
            yield Relaxation(truck.truck_id, loading=loading)


def most_of_mix(truck: TruckSpec, task: OrderTask, needed: set[str]) -> list[Loading]:
    """Loadings that carry the needed mixes and the order's, with a hose and a compartment that
    serve the order; those with the most of its mix first."""
    hose = {line.line_id: line.hose_ft for line in truck.lines}
    offers = []
    for rank, loading in enumerate(truck.loadings):
        if task.mix_id not in loading.mix_of or not needed <= set(loading.mix_of):
            continue
        parts = [
            part
            for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True)
            if mix_id == task.mix_id
        ]
        usable = sum(part.capacity_gal - part.heel_gal for part in parts)
        if hose[parts[0].line_id] >= task.hose_run_ft and usable >= task.gal:
            offers.append((-usable, rank, loading))
    return [loading for _, _, loading in sorted(offers, key=lambda offer: offer[:2])]


def _one_more_compartment(draft: Draft, order: int) -> Iterator[Offer]:
    """A further compartment, like one that may carry the mix, as large as the order needs."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        if truck.start is not None or truck.truck_id not in task.allowed_trucks:
            continue
        asked = set()
        for at, part in enumerate(truck.compartments):
            line = next(line for line in truck.lines if line.line_id == part.line_id)
            if line.hose_ft < task.hose_run_ft or not _may_join(draft, row, at, task.mix_id):
                continue
            least = ceil(task.gal + line.hose_gal + part.heel_gal)
            capacity_gal = max(part.capacity_gal, float(least))
            if (part.line_id, capacity_gal) in asked:
                continue
            asked.add((part.line_id, capacity_gal))
            loading = _loading_now(draft, row)
            loading = replace(loading, mix_of=(*loading.mix_of, task.mix_id))
            room = Relaxation(
                truck.truck_id, loading=loading, compartment=(part.compartment_id, capacity_gal)
            )
            yield row, room, (LATER, WINDOW, WEIGHT)


def _loading_now(draft: Draft, row: int) -> Loading:
    """What the truck is loaded with; one that stays home carries nothing."""
    day = draft.days[row]
    return day.loading if draft.stops[row] else nothing_loaded(day.truck)


def _may_join(draft: Draft, row: int, at: int, mix_id: str) -> bool:
    """Whether a compartment like the one at that place, with that mix, may join what the truck
    carries. What may be carried together is read off the truck's loadings; what they leave in
    doubt counts as no."""
    day = draft.days[row]
    truck, now = day.truck, _loading_now(draft, row).mix_of
    line_id = truck.compartments[at].line_id
    if mix_id in now:
        # One mix, one line.
        return now[at] == mix_id
    if not any(loading.mix_of[at] == mix_id for loading in truck.loadings):
        return False
    for part, other in zip(truck.compartments, now, strict=True):
        if other is None:
            if part.start_mix not in (None, mix_id) and part.line_id == line_id:
                # It may owe a cleaning that only the tables know of.
                return False
            continue
        if not any(
            _on_line(truck, loading, line_id, mix_id)
            and _on_line(truck, loading, part.line_id, other)
            for loading in truck.loadings
        ):
            return False
    return True


def _on_line(truck: TruckSpec, loading: Loading, line_id: str, mix_id: str) -> bool:
    return any(
        loaded == mix_id and part.line_id == line_id
        for part, loaded in zip(truck.compartments, loading.mix_of, strict=True)
    )


def _barred(draft: Draft, order: int) -> Iterator[Offer]:
    """Trucks that the order excludes or whose hose is too short, as if neither were so."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        allowed = truck.truck_id not in task.allowed_trucks
        reachable = replace(task, hose_run_ft=0.0)
        needed = {draft.tables.problem.orders[other].mix_id for other in draft.orders_of(row)}
        other_ways = [] if truck.start is not None else most_of_mix(truck, reachable, needed)
        loadings = [day.loading] if task.mix_id in day.loading.mix_of else other_ways
        for loading in loadings[: draft.tuning.unserved_loadings]:
            at = loading.mix_of.index(task.mix_id)
            line_id = truck.compartments[at].line_id
            hose_ft = next(line.hose_ft for line in truck.lines if line.line_id == line_id)
            short = hose_ft < task.hose_run_ft
            if (short and truck.start is not None) or not (allowed or short):
                continue
            room = Relaxation(
                truck.truck_id,
                loading=None if loading == day.loading else loading,
                allowed=allowed,
                hose=(line_id, task.hose_run_ft) if short else None,
            )
            yield row, room, (LATER, WINDOW)


def _in_parts(draft: Draft, order: int) -> Iterator[Offer]:
    """The order in as few parts as its gallons ask for."""
    task = draft.tables.problem.orders[order]
    for row in near_trucks(draft, order)[: draft.tuning.unserved_trucks]:
        day = draft.days[row]
        truck = day.truck
        if truck.truck_id not in task.allowed_trucks or task.mix_id not in day.loading.mix_of:
            continue
        k = day.mixes.index(task.mix_id)
        usable = day.tanks.usable_gal[k] - day.hose_gal[day.line_of[k]]
        if day.truck.lines[day.line_of[k]].hose_ft < task.hose_run_ft or usable <= 0.0:
            continue
        parts = ceil(task.gal / usable)
        if 2 <= parts <= draft.tuning.unserved_parts:
            yield row, Relaxation(truck.truck_id, parts=parts), (LATER,)


OFFERS: tuple[Callable[[Draft, int], Iterator[Offer]], ...] = (
    _as_loaded,
    _loaded_another_way,
    _one_more_compartment,
    _barred,
    _in_parts,
)
"""From the simplest on; a later one is looked at when those before it make no room."""
