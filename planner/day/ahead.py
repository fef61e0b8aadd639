"""Orders that may be done before their first day, on trucks that would be home early (rule 32)."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, timedelta

from planner.day.day import Day
from planner.day.life import SIDE_BY_SIDE_SLACK, OrderState, bars, standings
from planner.day.orders import Order
from planner.day.settings import Settings
from planner.day.urgency import is_working_day


def may_be_taken_ahead(day: Day) -> dict[str, Order]:
    """Orders due later that the settings let be done today, as the table has them; none where
    work_ahead_days is 0. An order waits for the one before it of its mix and lawn."""
    book = day.workbook
    if not book.settings.work_ahead_days:
        return {}
    last = _last_first_day(book.settings, day.date)
    standing = standings(book.orders, book.properties, day.date)
    gone = (OrderState.CANCELLED, OrderState.GIVEN_UP)
    by_lawn: dict[tuple[str, str], list[Order]] = {}
    for name, order in book.orders.items():
        if standing[name].state not in gone:
            by_lawn.setdefault((order.property_id, order.mix_id), []).append(order)

    def waits(order: Order) -> bool:
        room_ft2 = book.properties[order.property_id].lawn_ft2 * SIDE_BY_SIDE_SLACK
        return any(
            first.due_from < order.due_from and first.area_ft2 + order.area_ft2 > room_ft2
            for first in by_lawn[order.property_id, order.mix_id]
        )

    return {
        name: order
        for name, order in book.orders.items()
        if name not in day.orders
        and standing[name].state is OrderState.LATER
        and order.due_from <= last
        and not any(bars(order, book.properties[order.property_id], book.orders, day.date))
        and not waits(order)
    }


def with_orders_ahead(day: Day, names: Collection[str]) -> Day:
    """The day with these of its orders ahead among its own; itself without any."""
    if not names:
        return day
    orders = {
        name: order
        for name, order in day.workbook.orders.items()
        if name in day.orders or name in names
    }
    rest = {name: order for name, order in day.ahead.items() if name not in names}
    return replace(day, orders=orders, ahead=rest)


def _last_first_day(settings: Settings, when: date) -> date:
    """The latest first day that lies at most work_ahead_days working days after `when`; days off
    after the last of them count with it."""
    left, last = settings.work_ahead_days, when
    for _ in range(366):
        following = last + timedelta(days=1)
        left -= is_working_day(settings, following)
        if left < 0:
            break
        last = following
    return last
