"""Orders of earlier days of which nothing is recorded: they count as open, and are named."""

from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Final

from planner.day.life import NoRecord
from planner.day.orders import Order, Status
from planner.day.parts import whole_id
from planner.records.plans import DayOfRecord, plans_of_record

MOST_DAYS_BACK: Final = 400
"""Orders that were due longer ago are overdue and named as that alone."""

GIVEN_UP_DAYS: Final = 7
"""So long an order that is given up meanwhile may still turn out to be done and not recorded."""


def no_record(workbook: Path, orders: Mapping[str, Order], when: date) -> tuple[NoRecord, ...]:
    """The days before `when` with orders that lack a record. orders: those of the tables that are
    not done. Raises StoreError."""
    first = min((order.due_from for order in orders.values()), default=when)
    since = max(first, when - timedelta(days=MOST_DAYS_BACK))
    days = plans_of_record(workbook, since.isoformat(), when.isoformat())
    return days_without(days, orders, since, when)


def days_without(
    days: Mapping[str, DayOfRecord], orders: Mapping[str, Order], since: date, when: date
) -> tuple[NoRecord, ...]:
    """The same from what the records say of each date (ISO). The last plan that had an order
    decides; an order that no plan had is named on its last due day, unless there were plans for its
    days, which left it out, or it is on hold."""
    last = {whole_id(orders, name): day for day in days.values() for name in day.orders}
    found: dict[str, list[str]] = {}
    for name, order in orders.items():
        if order.status is Status.CANCELLED:
            continue
        if name in last:
            if name in {whole_id(orders, one) for one in last[name].open_orders}:
                found.setdefault(last[name].date, []).append(name)
        elif since <= order.due_to < when and not _is_held(order, when):
            span = range(order.due_from.toordinal(), order.due_to.toordinal() + 1)
            if not any(date.fromordinal(day).isoformat() in days for day in span):
                found.setdefault(order.due_to.isoformat(), []).append(name)
    for day, names in found.items():
        if (when - date.fromisoformat(day)).days > GIVEN_UP_DAYS:
            names[:] = [name for name in names if not _given_up(orders[name], when)]
    return tuple(
        NoRecord(date.fromisoformat(day), tuple(names), len(days[day].orders) if day in days else 0)
        for day, names in sorted(found.items())
        if names
    )


def _is_held(order: Order, when: date) -> bool:
    until = order.hold_until
    return order.status is Status.ON_HOLD and (until is None or when < until)


def _given_up(order: Order, when: date) -> bool:
    return order.last_day is not None and order.last_day < when
