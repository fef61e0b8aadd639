"""The calendar's days as one routing problem: a truck on a day is a truck of its own."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Final

import numpy as np

from planner.day.clock import Window
from planner.day.day import Day, Workbook
from planner.mixing.recipes import order_gal, recipes
from planner.mixing.separation import separation
from planner.roads.travel import Travel
from planner.routing.build import build_problem
from planner.routing.loading.allowed import loadings
from planner.routing.problem import RoutingProblem, TruckSpec
from planner.weeks.lateness import Lateness
from planner.weeks.open_days import OpenDays

DAY_MIN = 24 * 60.0


def truck_day(truck_id: str, when: date) -> str:
    """'T3@2027-04-15'."""
    return f"{truck_id}@{when.isoformat()}"


def parted(name: str) -> tuple[str, date]:
    """The truck and the date of truck_day()."""
    truck_id, _, when = name.rpartition("@")
    return truck_id, date.fromisoformat(when)


STAY_SHARE: Final = 0.1
"""Of keep_price, what another day than it has costs an order whose customer was told none: nobody
need hear of it. At the whole price a wet day's orders came late rather than move others; at none a
question about one day turned others over for a dollar (docs/decisions.md)."""


def day_prices(
    book: Workbook, told: Mapping[str, str], stay: Mapping[str, str]
) -> tuple[tuple[Mapping[str, str], float], ...]:
    """(order -> its day, price of another one): of days that customers were told, and of days that
    orders have."""
    settings = book.settings
    return (told, settings.told_price), (stay, STAY_SHARE * settings.keep_price)


def calendar_problem(
    day: Day,
    opened: OpenDays,
    travel_by_truck: Mapping[str, Travel],
    out: frozenset[str],
    told: Mapping[str, str],
    late: Lateness,
    stay: Mapping[str, str] = MappingProxyType({}),
) -> RoutingProblem:
    """The problem of all days, truck-days named as by truck_day, day after day. day: the first one,
    with every order that has an open day; out: truck-days that stay home; told, stay: order -> the
    day that its customer was told, or that it has, for which another one costs as in day_prices;
    late: what lateness counts for.

    Every truck begins its first day as it stands, and the others clean (but see
    planner.weeks.carry).
    """
    book = day.workbook
    orders = {name: book.orders[name] for name in opened.of}
    need = a_days_need(book, opened)
    apart = separation(book)
    first = replace(book, orders=orders)
    clean = replace(first, trucks={name: one.clean for name, one in book.trucks.items()})
    both = [
        build_problem(
            Day(day.date, tables, orders),
            recipes(book),
            {name: _on_one_clock(spans) for name, spans in opened.of.items()},
            (),
            travel_by_truck,
            {name: loadings(tables, one, apart, need) for name, one in tables.trucks.items()},
        )
        for tables in (first, clean)
    ]
    base = both[0]
    trucks = [
        _moved(truck, row, when)
        for row, when in enumerate(opened.days)
        for truck in both[min(row, 1)].trucks
    ]
    going = [row for row, truck in enumerate(trucks) if truck.truck_id not in out]
    wanted = day_prices(book, told, stay)
    prices = np.zeros((len(opened.days), len(orders)))
    known = {when.isoformat() for when in opened.days}
    for column, order in enumerate(orders.values()):
        for row, money in late.of(order).items():
            others = known - {opened.days[row].isoformat()}
            prices[row, column] = money + sum(
                price for days, price in wanted if days.get(order.order_id, "") in others
            )
    wish = np.repeat(prices, len(base.trucks), axis=0)
    if base.preferences.truck_price is not None:
        wish += np.tile(base.preferences.truck_price, (len(opened.days), 1))
    tasks = []
    for task in base.orders:
        order = orders[task.order_id]
        allowed = frozenset(
            truck_day(name, opened.days[row])
            for name in task.allowed_trucks
            for row in opened.of[task.order_id]
        )
        price = late.left_out(order)
        tasks.append(replace(task, allowed_trucks=allowed - out, price=price, worth=price))
    return replace(
        base,
        trucks=tuple(trucks[row] for row in going),
        orders=tuple(tasks),
        sites=tuple(replace(site, trucks_at_once=None) for site in base.sites),
        preferences=replace(base.preferences, truck_price=wish[going]),
        stock=(),
    )


def a_days_need(book: Workbook, opened: OpenDays) -> dict[str, float]:
    """Gallons of each mix that the orders ask for on a day in the mean."""
    need: dict[str, float] = {}
    for order in (book.orders[name] for name in opened.of):
        need[order.mix_id] = need.get(order.mix_id, 0.0) + order_gal(book, order) / len(opened.days)
    return need


def _moved(truck: TruckSpec, row: int, when: date) -> TruckSpec:
    at = DAY_MIN * row
    return replace(
        truck,
        truck_id=truck_day(truck.truck_id, when),
        shift_start_min=truck.shift_start_min + at,
        shift_end_min=truck.shift_end_min + at,
        latest_return_min=truck.latest_return_min + at,
        lunch_earliest_min=truck.lunch_earliest_min + at,
        lunch_latest_min=truck.lunch_latest_min + at,
        day_min=at,
    )


def _on_one_clock(days: Mapping[int, tuple[Window, ...] | None]) -> tuple[Window, ...] | None:
    """The windows of all days, one after another; None where no day has any."""
    if all(spans is None for spans in days.values()):
        return None
    whole = (Window(0.0, DAY_MIN),)
    return tuple(
        Window(span.open_min + DAY_MIN * row, span.close_min + DAY_MIN * row)
        for row, spans in sorted(days.items())
        for span in (whole if spans is None else spans)
    )
