"""An earlier plan as a wish: its orders and streets stay with the trucks that had them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from planner.day.day import Day
from planner.plan.model import NotDone, Plan
from planner.roads.sphere import FT_PER_MILE, great_circle_ft

STREETS_MILES: Final = 0.5
"""A property that the earlier plan did not serve goes with the nearest one that it did, up to this
far in a straight line: about a neighborhood (common practice, no source)."""


@dataclass(frozen=True)
class Kept:
    """Order id -> truck of the earlier plan, for orders of the day. served: orders whose property
    the earlier plan served; near: those that go with a property near by; pinned: those of `served`
    that a person gave to their truck for good. source: what says so, in words."""

    served: Mapping[str, str]
    near: Mapping[str, str]
    pinned: frozenset[str]
    source: str = "the earlier plan"

    @property
    def truck_of(self) -> dict[str, str]:
        """Both, order id -> truck."""
        return {**self.served, **self.near}


@dataclass(frozen=True)
class _Served:
    """One order of the earlier plan."""

    order_id: str
    property_id: str
    mix_id: str
    truck_id: str
    lat: float
    lon: float


def kept_trucks(earlier: Plan, day: Day) -> Kept:
    """What the earlier plan (of any date) says about this day's orders. Of several trucks at one
    property the one that did this very order counts, else the one that sprayed the same mix, else
    the first. Trucks that are not in service now have no say."""
    done = [one for one in _served(earlier) if one.truck_id in day.workbook.trucks]
    at_property: dict[str, list[_Served]] = {}
    for one in done:
        at_property.setdefault(one.property_id, []).append(one)
    served: dict[str, str] = {}
    near: dict[str, str] = {}
    pinned: set[str] = set()
    for order_id, order in day.orders.items():
        here = at_property.get(order.property_id)
        if here:
            best = min(here, key=lambda one: (one.order_id != order_id, one.mix_id != order.mix_id))
            served[order_id] = best.truck_id
            if best.order_id == order_id and order_id in earlier.pinned:
                pinned.add(order_id)
        else:
            truck_id = _nearest(day, order.property_id, done)
            if truck_id is not None:
                near[order_id] = truck_id
    return Kept(served, near, frozenset(pinned))


def stayed(kept: Kept, plan: Plan) -> tuple[int, int]:
    """How many orders of the plan are done by the truck that the earlier plan gave them, and how
    many of those that it gave one are done at all."""
    done = {one.order_id: one.truck_id for one in _served(plan)}
    given = {name: truck for name, truck in kept.truck_of.items() if name in done}
    return sum(done[name] == truck for name, truck in given.items()), len(given)


def still_pinned(kept: Kept, plan: Plan) -> tuple[str, ...]:
    """Orders of the plan that stay given to their truck for good, in its order. One that the tables
    took from its truck has lost its pin."""
    return tuple(
        one.order_id
        for one in _served(plan)
        if one.order_id in kept.pinned and one.truck_id == kept.served[one.order_id]
    )


def pins_told(kept: Kept, unserved: Sequence[NotDone]) -> tuple[NotDone, ...]:
    """The unserved orders; the reasons of pinned ones say that they are, for a pin is what keeps
    the other trucks from them."""
    return tuple(
        replace(one, reason=f"{one.reason} (pinned to {kept.served[one.order_id]} by hand)")
        if one.order_id in kept.pinned
        else one
        for one in unserved
    )


def _served(plan: Plan) -> tuple[_Served, ...]:
    return tuple(
        _Served(work.order_id, stop.place_id, work.mix_id, truck.truck_id, stop.lat, stop.lon)
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    )


def _nearest(day: Day, property_id: str, done: Sequence[_Served]) -> str | None:
    if not done:
        return None
    home = day.workbook.properties[property_id]
    away_ft = great_circle_ft(
        np.array([one.lat for one in done]),
        np.array([one.lon for one in done]),
        np.array(home.lat),
        np.array(home.lon),
    )
    row = int(np.argmin(away_ft))
    return done[row].truck_id if away_ft[row] <= STREETS_MILES * FT_PER_MILE else None
