"""What became of each order when a day was planned again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from planner.plan.model import Before, Plan

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
