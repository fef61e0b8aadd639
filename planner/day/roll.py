"""Every order of the tables with where it stands on a day: none is unaccounted for."""

from __future__ import annotations

from dataclasses import dataclass

from planner.day.day import Day
from planner.day.life import OrderStanding, OrderState, overdue_days, standings
from planner.day.orders import Order
from planner.day.urgency import days_left


@dataclass(frozen=True)
class Roll:
    """The orders of a day's tables, each in one place (last_day and overdue are parts of due).

    due: planned, held or unserved today; last_day: those of them with no later day before their
    span ends; overdue: with the calendar days since their span ended; not_today: due, but kept out
    of the day; on_hold, given_up: with the reason; left_out: by the office when the day was planned
    again; later, cancelled, done: ids.
    """

    due: tuple[Order, ...]
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
        return {name: len(getattr(self, name)) for name in self.__dataclass_fields__}


def roll_of(day: Day) -> Roll:
    """The roll of a day."""
    book = day.workbook
    due, late, last, left_out = [], [], [], []
    aside: dict[OrderState, list[tuple[Order, OrderStanding]]] = {state: [] for state in OrderState}
    standing = standings(book.orders, book.properties, day.date)
    for name, order in book.orders.items():
        if name in day.orders:
            due.append(order)
            days = overdue_days(order, day.date)
            home = book.properties[order.property_id]
            if days:
                late.append((order, days))
            elif not days_left(order, home, book.settings, day.date):
                last.append(name)
        elif standing[name].state is OrderState.DUE:
            left_out.append(name)
        else:
            aside[standing[name].state].append((order, standing[name]))

    def names(state: OrderState) -> tuple[str, ...]:
        return tuple(order.order_id for order, _ in aside[state])

    return Roll(
        due=tuple(due),
        last_day=tuple(last),
        overdue=tuple(late),
        not_today=tuple(aside[OrderState.NOT_TODAY]),
        on_hold=tuple(aside[OrderState.ON_HOLD]),
        given_up=tuple(aside[OrderState.GIVEN_UP]),
        left_out=tuple(left_out),
        later=names(OrderState.LATER),
        cancelled=names(OrderState.CANCELLED),
        done=tuple(sorted(day.done)),
    )
