"""A truck's day -> what the office asks first: home, gallons and pounds to spare, tanks by stop.
A plan of the office, and what the journal keeps of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from planner.by_hand.sheet import rows_of_plan
from planner.day.fleet import Truck
from planner.maps.background import simple_way
from planner.office.day import Item, Points, Spare, TankCell
from planner.plan.audit import Violation
from planner.plan.model import Plan, TruckPlan
from planner.roads.travel import Place, Roads, VehicleLimits

KEPT_WAYS = 50_000
"""Legs that are remembered; a day of a large office has some thousands."""


def items_of(planned: TruckPlan) -> tuple[Item, ...]:
    """What can be lifted, in the order of the day."""
    found: list[Item] = []
    counted = {"refill": 0, "lunch": 0}
    for stop in planned.stops:
        for work in stop.orders:
            found.append(
                Item(f"order {work.order_id}", "order", work.order_id, stop.seq, stop.done)
            )
        if stop.kind in counted:
            name = f"{stop.kind} {counted[stop.kind]}"
            counted[stop.kind] += 1
            site = stop.place_id if stop.kind == "refill" else ""
            found.append(Item(name, stop.kind, site, stop.seq, stop.done))
    return tuple(found)


def tanks_of(planned: TruckPlan) -> tuple[Mapping[str, TankCell], ...]:
    """By stop: compartment -> what is drawn and filled there, and its level afterwards."""
    level = dict(planned.start_gal)
    rows: list[Mapping[str, TankCell]] = []
    for stop in planned.stops:
        drawn = dict.fromkeys(level, 0.0)
        filled = dict.fromkeys(level, 0.0)
        for fill in stop.fills:
            filled[fill.compartment_id] += fill.gal
        for work in stop.orders:
            for taken in (*work.hose_compartments, *work.compartments):
                drawn[taken.compartment_id] += taken.gal
        for name in level:
            level[name] += filled[name] - drawn[name]
        rows.append(
            MappingProxyType(
                {name: TankCell(drawn[name], filled[name], gal) for name, gal in level.items()}
            )
        )
    return tuple(rows)


def spare_of(
    planned: TruckPlan, truck: Truck, tanks: tuple[Mapping[str, TankCell], ...]
) -> Spare | None:
    """The tightest draw of the day."""
    heel = {one.compartment_id: one.heel_gal for one in truck.compartments}
    found: Spare | None = None
    for stop, row in zip(planned.stops, tanks, strict=True):
        for name, cell in row.items():
            left = cell.level_gal - heel.get(name, 0.0)
            if cell.drawn_gal > 0 and (found is None or left < found.gal):
                found = Spare(left, name, stop.seq, stop.leave_min)
    return found


class DrivenWays:
    """The streets of each leg, searched once for a pair of places and a size of truck."""

    def __init__(self, roads: Roads) -> None:
        self._roads = roads
        self._known: dict[tuple[VehicleLimits | None, str, str], Points] = {}

    def leg(self, limits: VehicleLimits | None, start: Place, end: Place) -> Points:
        """The way from one place to another, without bends that no map shows."""
        key = (limits, start.place_id, end.place_id)
        if key not in self._known:
            if len(self._known) >= KEPT_WAYS:
                self._known.clear()
            self._known[key] = simple_way(self._roads.points(start, end, limits))
        return self._known[key]

    def of(self, planned: TruckPlan, limits: VehicleLimits | None) -> Points:
        """A truck's whole way."""
        points: list[tuple[float, float]] = []
        for before, stop in zip(planned.stops, planned.stops[1:], strict=False):
            if before.place_id != stop.place_id:
                start = Place(before.place_id, before.lat, before.lon)
                leg = self.leg(limits, start, Place(stop.place_id, stop.lat, stop.lon))
                points += leg if not points else leg[1:]
        return tuple(points)


Body = dict[str, Any]
"""What a plan is made from, as the journal keeps it: rows, unserved, engine, seed, effort,
trucks_out."""


@dataclass(frozen=True)
class Made:
    """A plan of the office with what the audit found. trucks_out: taken out of the day."""

    plan: Plan
    violations: tuple[Violation, ...]
    trucks_out: tuple[str, ...]

    @property
    def body(self) -> Body:
        """For the journal: the same plan comes out of it on the same tables."""
        rows = rows_of_plan(self.plan)
        return {
            "rows": [
                [row.truck, row.does, row.what, row.mix, row.pinned]
                + ([] if row.fill_to_gal is None else [row.fill_to_gal])
                for row in rows
            ],
            "unserved": [[row.order_id, row.code, row.reason] for row in self.plan.unserved],
            "engine": self.plan.engine,
            "seed": self.plan.seed,
            "effort": self.plan.effort,
            "trucks_out": list(self.trucks_out),
        }


def same_stops(one: Body, other: Body) -> bool:
    """Whether two steps load and stop alike, whatever was said of orders that are out."""
    return _rows(one) == _rows(other)


def _rows(body: Body) -> list[tuple[str | float | None, ...]]:
    # A plan.json rounds gallons.
    return [
        tuple(round(cell, 3) if isinstance(cell, float) else cell for cell in row)
        for row in body["rows"]
    ]
