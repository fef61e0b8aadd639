"""Two plans against each other: an earlier one as a wish, whose orders and streets stay with the
trucks that had them; what became of each order when a day was planned again; the difference in
words."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from planner.day.day import Day
from planner.day.parts import whole_id
from planner.plan.model import Before, NotDone, Plan
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


SAME_TIME_MIN: Final = 10.0
"""A crew and a customer take so much earlier or later for the same time (common sense, no
source)."""


class ChangeKind(StrEnum):
    """What became of an order that is not done."""

    NEW = "new"
    MOVED = "moved"
    TIME = "time"
    NOT_TODAY = "not today"
    LEFT_OUT = "left out"


@dataclass(frozen=True)
class Change:
    """One order that does not stand where it stood. was_truck, truck_id: '' = none; was_min,
    begin_min: begin of its work, None without a truck. tell: the customer must hear of it."""

    order_id: str
    kind: ChangeKind
    was_truck: str
    was_min: float | None
    truck_id: str
    begin_min: float | None
    tell: bool


def changes(plan: Plan, told_within_min: float) -> tuple[Change, ...]:
    """Every change against the earlier plan, by truck and clock; those that no truck does at the
    end. () for a plan that was not made again."""
    if plan.again is None:
        return ()
    before = {row.order_id: row for row in plan.again.before}
    found = list(_planned(plan, before, told_within_min))
    found += [
        _change(row.order_id, ChangeKind.NOT_TODAY, before[row.order_id], "", None, True)
        for row in (*plan.held, *plan.unserved)
        if row.order_id in before and before[row.order_id].truck_id
    ]
    found += [
        _change(name, ChangeKind.LEFT_OUT, before[name], "", None, False)
        for name in plan.again.skipped
        if name in before
    ]
    return tuple(found)


def _planned(plan: Plan, before: dict[str, Before], told_within_min: float) -> Iterator[Change]:
    for truck in plan.trucks:
        for stop in truck.stops:
            for number, work in enumerate(stop.orders):
                if stop.done:
                    continue
                begin = stop.begin_min if number == 0 else work.begin_min
                was = before.get(work.order_id)
                if was is None or not was.truck_id:
                    kind, tell = ChangeKind.NEW, True
                else:
                    shift = abs(begin - was.begin_min)
                    tell = shift > told_within_min
                    kind = ChangeKind.TIME
                    if was.truck_id != truck.truck_id:
                        kind = ChangeKind.MOVED
                    elif shift <= SAME_TIME_MIN and not tell:
                        continue
                yield _change(work.order_id, kind, was, truck.truck_id, begin, tell)


def _change(
    order_id: str,
    kind: ChangeKind,
    was: Before | None,
    truck_id: str,
    begin_min: float | None,
    tell: bool,
) -> Change:
    was_truck = was.truck_id if was is not None else ""
    was_min = was.begin_min if was is not None and was_truck else None
    return Change(order_id, kind, was_truck, was_min, truck_id, begin_min, tell)


def difference(before: Plan, after: Plan) -> str:
    """'saves 12.30, 3 orders change trucks, 2 more orders in'."""
    change = after.totals.totals.cost - before.totals.totals.cost
    cost = f"costs {change:,.2f} more" if change > 0 else f"saves {-change:,.2f}"
    return ", ".join(filter(None, (cost, moves(before, after))))


def moves(before: Plan, after: Plan) -> str:
    """'3 orders change trucks, 2 more orders in'; '' = every order stays on its truck. One that is
    done in parts is one."""
    was, now = _trucks_of_whole(before), _trucks_of_whole(after)
    words = []
    moved = sum(1 for name, trucks in now.items() if was.get(name, trucks) != trucks)
    came, went = len(now.keys() - was.keys()), len(was.keys() - now.keys())
    for count, one, more in (
        (moved, "order changes trucks", "orders change trucks"),
        (came, "more order in", "more orders in"),
        (went, "order out", "orders out"),
    ):
        if count:
            words.append(f"{count} {one if count == 1 else more}")
    return ", ".join(words)


def _trucks_of_whole(plan: Plan) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for name, truck in trucks_of(plan).items():
        found.setdefault(whole_id({}, name), set()).add(truck)
    return found


def trucks_of(plan: Plan) -> dict[str, str]:
    """Order -> truck."""
    return {
        work.order_id: truck.truck_id
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }
