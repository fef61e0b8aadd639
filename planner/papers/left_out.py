"""Orders that are late or not done today, in groups: for the day page and the summary."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from planner.day.day import Day
from planner.day.life import ahead_text, kept_out_text, overdue_text
from planner.day.parts import whole_id
from planner.day.places import Property
from planner.papers.lookup import mix_name, place_text
from planner.plan.model import NotDone, Plan
from planner.plan.totals import by_order


@dataclass(frozen=True)
class LeftOutLine:
    """An order that is not done today, with its customer and mix. at: the property, to reach the
    customer; code: of the reason; priority: None = the tables do not have the order."""

    order_id: str
    customer: str
    address: str
    at: Property | None
    mix: str
    priority: int | None
    reason: str
    code: str


LONG_REASON: Final = 60
"""Letters of a reason that is told once."""


@dataclass(frozen=True)
class LeftOut:
    """Orders that the office must look after for one reason. title: over their table; short: in the
    day's summary, after their number."""

    title: str
    short: str
    rows: tuple[LeftOutLine, ...]


def left_out(plan: Plan, day: Day) -> tuple[LeftOut, ...]:
    """What is late or not done today, in groups that have orders."""
    groups = (
        LeftOut("Overdue", "overdue", _overdue_lines(plan, day)),
        LeftOut("Held: kept back by a rule", "held", said_once(_lines(plan.held, day))),
        LeftOut("Unserved: did not fit the day", "unserved", said_once(_lines(plan.unserved, day))),
        LeftOut("Taken ahead: done before their first day", "taken ahead", _ahead_lines(plan, day)),
        LeftOut("Not for today", "not for today", _not_today_lines(plan, day)),
        LeftOut("Given up", "given up", _lines(plan.given_up, day)),
    )
    return tuple(group for group in groups if group.rows)


def said_once(rows: Sequence[Any]) -> tuple[Any, ...]:
    """LeftOutLines or NotDones with one reason one after the other; a long one is told once."""
    groups: dict[str, list[Any]] = {}
    for row in rows:
        groups.setdefault(row.reason, []).append(row)
    found: list[Any] = []
    for reason, (first, *rest) in groups.items():
        like = f"as order {first.order_id}"
        found.append(first)
        for row in rest:
            found.append(replace(row, reason=like) if len(reason) > LONG_REASON else row)
    return tuple(found)


def _lines(entries: tuple[NotDone, ...], day: Day) -> tuple[LeftOutLine, ...]:
    """Parts of one lawn, which wait together, as their order."""
    orders = day.workbook.orders
    at = {whole_id(orders, row.order_id): row.order_id for row in entries}
    return tuple(
        replace(left_out_line(day, at[row.order_id], row.reason, row.code), order_id=row.order_id)
        for row in by_order(entries, orders)
    )


def _stops_of(plan: Plan) -> dict[str, str]:
    return {
        work.order_id: f"truck {truck.truck_id}, stop {stop.seq}"
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }


def _ahead_lines(plan: Plan, day: Day) -> tuple[LeftOutLine, ...]:
    """Those that are done: one that a person took out of the plan is unserved."""
    orders, stops = day.workbook.orders, _stops_of(plan)
    return tuple(
        left_out_line(
            day, name, f"{ahead_text(orders[name].due_from)}; {stops[name]}; tell the customer"
        )
        for name in plan.ahead
        if name in orders and name in stops
    )


def _overdue_lines(plan: Plan, day: Day) -> tuple[LeftOutLine, ...]:
    today = {row.order_id: "held today" for row in plan.held}
    today |= {row.order_id: "no room today" for row in plan.unserved}
    today |= _stops_of(plan)
    orders = day.workbook.orders
    late = tuple(
        NotDone(row.order_id, "", overdue_text(orders[row.order_id], row.days))
        for row in plan.overdue
        if row.order_id in orders
    )
    words: dict[str, list[str]] = {}
    for row in late:
        words.setdefault(whole_id(orders, row.order_id), []).append(today.get(row.order_id, ""))
    return tuple(
        replace(row, reason=f"{row.reason}; {', '.join(dict.fromkeys(words[row.order_id]))}")
        for row in _lines(late, day)
    )


def _not_today_lines(plan: Plan, day: Day) -> tuple[LeftOutLine, ...]:
    orders = day.workbook.orders
    return tuple(
        left_out_line(
            day,
            row.order_id,
            kept_out_text(orders[row.order_id], row.reason, row.next_day, day.date),
            row.code,
        )
        for row in plan.not_today
        if row.order_id in orders
    )


def left_out_line(day: Day, order_id: str, reason: str, code: str = "") -> LeftOutLine:
    """A line of the block of orders that are left out."""
    order = day.workbook.orders.get(order_id)
    if order is None:
        return LeftOutLine(order_id, "", "", None, "", None, reason, code)
    place = place_text(day, order.property_id)
    return LeftOutLine(
        order_id,
        place.title,
        place.address,
        day.workbook.properties.get(order.property_id),
        mix_name(day, order.mix_id),
        order.priority,
        reason,
        code,
    )
