"""Every order of the tables with where it stands on a day, none unaccounted for; orders that may
be done before their first day, on trucks that would be home early (rule 32)."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta

from planner.day.day import Day
from planner.day.fleet import Settings
from planner.day.life import (
    SIDE_BY_SIDE_SLACK,
    OrderStanding,
    OrderState,
    bars,
    days_left,
    is_working_day,
    overdue_days,
    standings,
)
from planner.day.orders import Order


@dataclass(frozen=True)
class Roll:
    """The orders of a day's tables, each in one place (last_day and overdue are parts of due).

    due: planned, held or unserved today, by the tables' ids: one done in parts is one; last_day:
    those of them with no later day before their span ends; overdue: with the calendar days since
    their span ended, each part by itself; not_today: due, but kept out
    of the day; on_hold, given_up: with the reason; left_out: by the office when the day was planned
    again; later, cancelled, done: ids.
    """

    due: tuple[str, ...]
    last_day: tuple[str, ...]
    overdue: tuple[tuple[Order, int], ...]
    not_today: tuple[tuple[Order, OrderStanding], ...]
    on_hold: tuple[tuple[Order, OrderStanding], ...]
    given_up: tuple[tuple[Order, OrderStanding], ...]
    left_out: tuple[str, ...]
    later: tuple[str, ...]
    cancelled: tuple[str, ...]
    done: tuple[str, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many orders are in each place, for other programs."""
        rows = {name: getattr(self, name) for name in self.__dataclass_fields__}
        rows["overdue"] = self.overdue_whole
        return {name: len(found) for name, found in rows.items()}

    @property
    def overdue_whole(self) -> tuple[tuple[Order, int], ...]:
        """Overdue orders with their ids of the tables: one done in parts is one."""
        once = {
            order.whole_id: (replace(order, order_id=order.whole_id), days)
            for order, days in self.overdue
        }
        return tuple(once.values())


def roll_of(day: Day) -> Roll:
    """The roll of a day."""
    book = day.workbook
    due, late, last, left_out = [], [], [], []
    aside: dict[OrderState, list[tuple[Order, OrderStanding]]] = {state: [] for state in OrderState}
    standing = standings(book.orders, book.properties, day.date)
    for name, order in book.orders.items():
        if name in day.orders:
            due.append(order.whole_id)
            days = overdue_days(order, day.date)
            home = book.properties[order.property_id]
            if days:
                late.append((order, days))
            elif not days_left(order, home, book.settings, day.date):
                last.append(order.whole_id)
        elif standing[name].state is OrderState.DUE:
            left_out.append(order.whole_id)
        else:
            aside[standing[name].state].append((order, standing[name]))

    def names(state: OrderState) -> tuple[str, ...]:
        return tuple(order.order_id for order, _ in aside[state])

    return Roll(
        due=tuple(dict.fromkeys(due)),
        last_day=tuple(dict.fromkeys(last)),
        overdue=tuple(late),
        not_today=tuple(aside[OrderState.NOT_TODAY]),
        on_hold=tuple(aside[OrderState.ON_HOLD]),
        given_up=tuple(aside[OrderState.GIVEN_UP]),
        left_out=tuple(dict.fromkeys(left_out)),
        later=names(OrderState.LATER),
        cancelled=names(OrderState.CANCELLED),
        done=tuple(sorted(day.done)),
    )


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
