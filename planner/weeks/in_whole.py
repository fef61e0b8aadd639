"""A calendar as people read it: an order that is done in parts (rule 39) is one order."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from planner.day.orders import Order
from planner.day.parts import whole_id
from planner.weeks.model import Calendar, LaidOrder, TruckShare, WaitingOrder


def in_whole(calendar: Calendar, orders: Mapping[str, Order]) -> Calendar:
    """The calendar with the parts of an order that one truck does on a day as one row, named as the
    order, and those that wait as one. orders: of the tables."""
    names = [row.order_id for share in calendar.shares for row in share.orders]
    names += [row.order_id for row in calendar.waiting]
    whole = {name: whole_id(orders, name) for name in [*names, *calendar.told]}
    if all(name == other for name, other in whole.items()):
        return calendar
    waiting: dict[str, list[WaitingOrder]] = {}
    for row in calendar.waiting:
        waiting.setdefault(whole[row.order_id], []).append(row)
    return replace(
        calendar,
        shares=tuple(_share(share, whole) for share in calendar.shares),
        waiting=tuple(_waiting(name, rows) for name, rows in waiting.items()),
        told={whole[name]: when for name, when in calendar.told.items()},
    )


def _share(share: TruckShare, whole: Mapping[str, str]) -> TruckShare:
    groups: dict[str, list[LaidOrder]] = {}
    for row in share.orders:
        groups.setdefault(whole[row.order_id], []).append(row)
    return replace(share, orders=tuple(_laid(name, rows) for name, rows in groups.items()))


def _laid(name: str, rows: Sequence[LaidOrder]) -> LaidOrder:
    first = rows[0]
    if first.order_id == name:
        return first
    return replace(
        first,
        order_id=name,
        gal=sum(row.gal for row in rows),
        in_parts=True,
        late_cost=sum(row.late_cost for row in rows),
    )


def _waiting(name: str, rows: Sequence[WaitingOrder]) -> WaitingOrder:
    """What keeps one part off its days keeps off all: the others wait for it."""
    first = next((row for row in rows if row.code != "LINKED"), rows[0])
    return replace(
        first,
        order_id=name,
        late_cost=sum(row.late_cost for row in rows),
        later_cost=sum(row.later_cost for row in rows),
    )
