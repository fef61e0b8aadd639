"""The part of a truck's day that is done when the day is planned again (rules 20 to 22)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from planner.day.fleet import Truck
from planner.mixing.recipes import Recipe
from planner.plan.done_replay import Replay, Told, loading_of
from planner.plan.model import Stop, TruckPlan, Work
from planner.roads.travel import Travel
from planner.routing.problem import TruckStanding

HAIR_GAL: Final = 1e-4
"""More than a day of figures rounded to six decimals can add up to, less than any gauge shows."""


@dataclass(frozen=True)
class Underway:
    """A truck that is out already. planned: its day in the earlier plan; done: the stops that are
    done; standing: after them."""

    planned: TruckPlan
    done: tuple[Stop, ...]
    standing: TruckStanding

    @property
    def home(self) -> bool:
        """Whether it is home or on its way: its day is over."""
        return self.done[-1].kind == "return"


def set_out_for(stops: tuple[Stop, ...], row: int, at_min: float) -> bool:
    """Whether a truck has set out for a stop by then (the departure: whether it has left)."""
    stop = stops[row]
    return stop.done or stops[max(0, row - 1)].leave_min <= at_min


def done_part(
    truck: Truck,
    planned: TruckPlan,
    recipes: Mapping[str, Recipe],
    travel: Travel,
    at_min: float,
    told: Told,
) -> tuple[Stop, ...]:
    """The stops of a truck that are done, numbered anew and marked; as the earlier plan has them
    where nothing in between was left out and nothing else is recorded. A return at the end: the
    truck is home or on its way. () for one that has not left and does not stand filled."""
    kept = _kept(planned.stops, at_min, told)
    if not kept:
        return ()
    stops = [
        stop
        if len(works) == len(stop.orders)
        else replace(stop, orders=works, leave_min=works[-1].end_min)
        for _, stop, works in kept
    ]
    if kept[-1][1].orders and not set_out_for(planned.stops, kept[-1][0], at_min):
        stops = _hurried(stops, at_min)
    gap = [row for row, _, _ in kept] != list(range(len(kept)))
    other = gap or any(
        work.order_id in told.sprayed for stop in planned.stops for work in stop.orders
    )
    other = other or any(name == truck.truck_id for name, _, _ in told.fill_gal)
    other = other or any(len(works) < len(stop.orders) for _, stop, works in kept)
    if other:
        stops = Replay(truck, planned, recipes, travel, told).run(stops)
    return tuple(replace(stop, seq=row, done=True) for row, stop in enumerate(stops))


def standing_of(
    truck: Truck, planned: TruckPlan, done: tuple[Stop, ...], at_min: float, free_min: float
) -> TruckStanding:
    """Where a truck stands after its done stops. at_min: the day is planned again from then;
    free_min: it does not go on before that. One that stands long enough within its lunch hours has
    lunch meanwhile."""
    loading = loading_of(truck, planned)
    levels = dict(planned.start_gal)
    hoses = truck.hose_mix
    for stop in done:
        for fill in stop.fills:
            levels[fill.compartment_id] += fill.gal
        for work in stop.orders:
            hoses[work.line_id] = work.mix_id
            for taken in (*work.hose_compartments, *work.compartments):
                levels[taken.compartment_id] -= taken.gal
    cleaned = {entry.compartment_id for entry in loading.cleaning}
    inside: dict[str, str | None] = {}
    for tank, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        last = None if tank.compartment_id in cleaned else tank.last_mix
        inside[tank.compartment_id] = mix_id if mix_id is not None else last
    lunched = any(stop.kind == "lunch" for stop in done)
    lunch = None if lunched else _lunch_meanwhile(truck, max(at_min, done[-1].leave_min), free_min)
    return TruckStanding(
        place_id=done[-1].place_id,
        free_min=max(at_min, free_min, done[-1].leave_min),
        miles=sum(stop.drive_miles for stop in done),
        lunched=lunched or lunch is not None,
        loading=loading,
        level_gal={
            name: _without_hair(gal, truck.compartment(name).heel_gal)
            for name, gal in levels.items()
        },
        inside=inside,
        hose_mix=hoses,
        lunch_begin_min=lunch,
    )


def _lunch_meanwhile(truck: Truck, since_min: float, until_min: float) -> float | None:
    """When a crew that stands from then to then has its lunch, None = it has none or no time."""
    earliest, latest = truck.lunch_earliest_min, truck.lunch_latest_min
    if truck.lunch_min <= 0:
        return None
    begin = since_min if earliest is None else max(since_min, earliest)
    in_time = latest is None or begin <= latest
    return begin if in_time and begin + truck.lunch_min <= until_min else None


def _without_hair(gal: float, heel_gal: float) -> float:
    """A level that plan.json's last decimals put a hair beside the heel, on the heel."""
    return heel_gal if abs(gal - heel_gal) < HAIR_GAL else gal


def _kept(
    stops: tuple[Stop, ...], at_min: float, told: Told
) -> list[tuple[int, Stop, tuple[Work, ...]]]:
    """Row, stop and works of what is done."""
    works = [
        tuple(
            work
            for work in stop.orders
            if told.is_done(work.order_id, set_out_for(stops, row, at_min))
        )
        for row, stop in enumerate(stops)
    ]
    last = max((row for row, done in enumerate(works) if done), default=-1)
    left_out = any(
        set_out_for(stops, row, at_min) and stop.orders and not works[row]
        for row, stop in enumerate(stops)
        if row > last
    )
    kept = []
    for row, stop in enumerate(stops):
        if stop.kind == "visit":
            here = bool(works[row])
        elif row == 0:
            here = told.filled or last > 0 or set_out_for(stops, row, at_min)
        else:
            # After a stop that the crew has not done, the clock of the plan says nothing more.
            recorded = any(seq == stop.seq for _, seq, _ in told.fill_gal)
            reached = set_out_for(stops, row, at_min) and (stop.done or not left_out)
            here = row < last or reached or recorded
        if here:
            kept.append((row, stop, works[row]))
    return kept


def _hurried(stops: list[Stop], at_min: float) -> list[Stop]:
    """A crew that is ahead of the plan: what it has done is moved together, so that it ended by
    at_min. Nobody wrote down when each stop was done."""
    ends = stops[-1].leave_min
    if ends <= at_min:
        return stops
    before = max((s.leave_min for s in stops if s.leave_min <= at_min), default=at_min)
    share = (at_min - before) / (ends - before)

    def moved(minute: float) -> float:
        return minute if minute <= before else before + (minute - before) * share

    return [
        replace(
            stop,
            arrive_min=moved(stop.arrive_min),
            begin_min=moved(stop.begin_min),
            leave_min=moved(stop.leave_min),
            orders=tuple(
                replace(work, begin_min=moved(work.begin_min), end_min=moved(work.end_min))
                for work in stop.orders
            ),
        )
        for stop in stops
    ]
