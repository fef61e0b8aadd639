"""The orders that rounds make: rows for the orders table, and what speaks against them."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from planner.day.day import Workbook
from planner.day.life import SIDE_BY_SIDE_SLACK, day_text
from planner.day.orders import Order, Status
from planner.rounds.standing import OPEN, RoundStanding, RoundState

DAYS_AHEAD: Final = 21
"""Orders are made for rounds that open within so many days, unless told otherwise (ours)."""

_GIVEN_UP: Final = (RoundState.LOST, RoundState.SKIPPED, RoundState.CANCELLED)

UNKNOWN_END_DAYS: Final = 21
"""Due span of a round whose end nobody can tell yet (ours)."""


@dataclass(frozen=True)
class RoundOrders:
    """new: rounds to make orders of, with their first and last due day. there: that have theirs.
    conflicts: rounds with what contradicts them, in words; no order is made of them."""

    new: tuple[tuple[RoundStanding, date, date], ...]
    there: tuple[RoundStanding, ...]
    conflicts: tuple[tuple[RoundStanding, str], ...]

    def rows(self, book: Workbook) -> list[dict[str, str]]:
        """Rows of the orders table, column -> text. book: as it was when they were made."""
        return [_row(book, *new) for new in self.new]


def round_orders(
    book: Workbook, standings: Sequence[RoundStanding], when: date, days_ahead: int = DAYS_AHEAD
) -> RoundOrders:
    """The orders of all rounds that may be done now or open within days_ahead."""
    by_lawn: dict[tuple[str, str], list[tuple[str, date, date, float]]] = defaultdict(list)
    for order in book.orders.values():
        if order.status is not Status.CANCELLED:
            span = order.order_id, order.due_from, order.due_to, order.area_ft2
            by_lawn[order.property_id, order.mix_id].append(span)
    new, there, conflicts = [], [], []
    for one in standings:
        own = book.orders.get(one.order_id)
        if own is not None and one.state in _GIVEN_UP and own.is_open(when):
            why = f" ({one.reason})" if one.reason else ""
            said = f"order {own.order_id} is still open, its round is {one.state.value}{why}"
            conflicts.append((one, f"{said}: cancel the order"))
            continue
        known = one.opens is not None and (one.state in OPEN or not one.about)
        if one.state not in (*OPEN, RoundState.LATER) or one.waits or not known:
            continue
        assert one.opens is not None
        if one.opens > when + timedelta(days=days_ahead):
            continue
        first = one.opens
        last = max(first, one.due_to or first + timedelta(days=UNKNOWN_END_DAYS))
        lawn = by_lawn[one.property_id, one.mix_id]
        if own is not None:
            said = _contradicts(own, one)
        else:
            room_ft2 = book.properties[one.property_id].lawn_ft2 * SIDE_BY_SIDE_SLACK
            said = _in_the_way(lawn, first, one.last_day or last, room_ft2 - one.area_ft2)
        if said:
            conflicts.append((one, said))
        elif own is not None:
            there.append(one)
        else:
            new.append((one, first, last))
            lawn.append((one.order_id, first, last, one.area_ft2))
    return RoundOrders(tuple(new), tuple(there), tuple(conflicts))


def _contradicts(order: Order, one: RoundStanding) -> str:
    """What of an order that is there is not as the round is now."""
    if (order.property_id, order.mix_id) != (one.property_id, one.mix_id):
        return (
            f"order {order.order_id} is of property {order.property_id} and mix {order.mix_id}: "
            "rename it"
        )
    assert one.opens is not None
    if order.due_to < one.opens or (one.last_day and order.due_from > one.last_day):
        last = f" to {day_text(one.last_day)}" if one.last_day else ""
        return (
            f"order {order.order_id} is due {day_text(order.due_from)} to "
            f"{day_text(order.due_to)}, the round now {day_text(one.opens)}{last}: "
            "change its days"
        )
    if order.due_from < one.opens:
        return (
            f"order {order.order_id} is due from {day_text(order.due_from)}, the round now from "
            f"{day_text(one.opens)} ({one.reason or 'its window'}): change due_from"
        )
    return ""


def _in_the_way(
    lawn: Sequence[tuple[str, date, date, float]], first: date, last: date, room_ft2: float
) -> str:
    for name, begins, ends, area_ft2 in lawn:
        if begins <= last and first <= ends and area_ft2 > room_ft2:
            return (
                f"order {name} puts the same mix on that lawn, due {day_text(begins)} to "
                f"{day_text(ends)}: cancel it, or leave the round to it"
            )
    return ""


def _row(book: Workbook, one: RoundStanding, first: date, last: date) -> dict[str, str]:
    whole = one.area_ft2 == book.properties[one.property_id].lawn_ft2
    cells = {
        "order": one.order_id,
        "property": one.property_id,
        "mix": one.mix_id,
        "due_from": first.isoformat(),
        "due_to": last.isoformat(),
        "area_ft2": "" if whole else f"{one.area_ft2:.10g}",
        "priority": str(one.priority),
        "last_day": one.last_day.isoformat() if one.last_day and one.last_day >= last else "",
        "revenue": f"{one.revenue:.2f}" if one.revenue is not None else "",
    }
    return {name: text for name, text in cells.items() if text}
