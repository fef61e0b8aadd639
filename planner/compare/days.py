"""Which orders belong to which day of a comparison: by their dates, or as they were recorded."""

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from planner.day.day import Day, Source, Workbook
from planner.day.fleet import Applicator
from planner.day.life import bars, is_working_day
from planner.day.orders import Order, Status
from planner.day.places import Property
from planner.problems import counted, few
from planner.records.current import SPRAYED, current, kind_of
from planner.records.outcome import store_path, with_records
from planner.records.store import Event, Store

ORDERS: Final = "orders"
RECORDS: Final = "records"
CALENDAR: Final = "calendar"
"""Sources of days: the dates of the orders, what was recorded, or a calendar for each fleet."""

NAMED: Final = 6
"""Orders that a note names."""

NO_SOURCE: Final = Source({}, {})


@dataclass(frozen=True)
class Season:
    """The days of a comparison, by date, before any fleet's trucks. words: where they come from.
    notes: what was left out, in words."""

    days: tuple[Day, ...]
    words: str
    notes: tuple[str, ...]


def season_of_orders(book: Workbook, first: dt.date, last: dt.date) -> Season:
    """Every day from first to last with orders.

    An order with a date counts on it. One with a due span counts on one day of the span: on the
    one of the office's days (working days; where half of the orders have a date, theirs) that has
    the least lawn so far, the earliest of equals; whose span ends sooner is laid down first.
    The days are the same whatever the fleets are. What is cancelled or on hold, or whose customer
    is on hold or cannot be served on any of its days, is left out.
    """
    day_of: dict[str, dt.date] = {}
    lawn_ft2: dict[dt.date, float] = {}
    spans, left_out = [], []
    for order in book.orders.values():
        if not any(_may_be_done(book, order, day) for day in _span(order)):
            if order.due_to >= first and order.due_from <= last:
                left_out.append(order.order_id)
        elif order.due_from == order.due_to:
            day_of[order.order_id] = order.due_from
            lawn_ft2[order.due_from] = lawn_ft2.get(order.due_from, 0.0) + order.area_ft2
        else:
            spans.append(order)
    # A few dated orders among many with spans tell of no days on which the office works.
    office_days = frozenset(lawn_ft2) if len(day_of) >= len(spans) else frozenset()
    for order in sorted(spans, key=lambda order: (order.due_to, order.due_from)):
        days = _days_of_span(book, order, office_days)
        day = min(days, key=lambda one: (lawn_ft2.get(one, 0.0), one))
        day_of[order.order_id] = day
        lawn_ft2[day] = lawn_ft2.get(day, 0.0) + order.area_ft2
    words = "orders of the workbook, on their dates"
    if spans:
        words += f"; {counted(len(spans), 'order')} with a due span on one day of it each"
    note = (
        f"{counted(len(left_out), 'order')} left out, cancelled or kept by the office or the "
        f"customer from each day of its span: {few(left_out, NAMED)}"
    )
    return Season(tuple(days_of(book, day_of, first, last)), words, (note,) if left_out else ())


def days_of(
    book: Workbook, day_of: Mapping[str, dt.date], first: dt.date, last: dt.date
) -> Iterator[Day]:
    """The days from first to last with the orders that lie on them. day_of: order -> its day."""
    for day in sorted({day for day in day_of.values() if first <= day <= last}):
        if due := [order for name, order in book.orders.items() if day_of.get(name) == day]:
            yield _day(book, day, due)


def season_of_records(path: Path, book: Workbook, first: dt.date, last: dt.date) -> Season:
    """Every day from first to last with recorded work: the orders that were sprayed, with the area
    that was. Windows, priority and trucks of an order are those of the orders table where it still
    has it. Raises StoreError."""
    file = store_path(path)
    days: list[Day] = []
    notes: list[str] = []
    if file.exists():
        with Store(file) as store:
            events = store.events(first.isoformat(), (last + dt.timedelta(days=1)).isoformat())
        by_day: dict[str, list[Event]] = {}
        for event in current(events).values():
            if kind_of(event) == SPRAYED:
                by_day.setdefault(event.day, []).append(event)
        for text, sprayed in sorted(by_day.items()):
            day = dt.date.fromisoformat(text)
            due, missing = _sprayed(book, day, sprayed)
            notes += missing
            before = with_records(path, book, day).workbook
            if due:
                days.append(_day(replace(before, trucks=book.trucks), day, due))
    return Season(tuple(days), "records of what was really sprayed", tuple(notes))


def _sprayed(
    book: Workbook, day: dt.date, events: Sequence[Event]
) -> tuple[list[Order], list[str]]:
    due: dict[str, Order] = {}
    notes: list[str] = []
    for event in events:
        body = event.body
        order_id, home, mix_id = body["order_id"], body["property_id"], body["mix_id"]
        if home not in book.properties or mix_id not in book.mixes:
            gone = home if home not in book.properties else mix_id
            notes.append(f"{event.day}: order {order_id} is left out: {gone} is in no table now")
            continue
        known = book.orders.get(order_id)
        if known is None or (known.property_id, known.mix_id) != (home, mix_id):
            known = Order(order_id, home, mix_id, day, day, 0.0, None, 2, None, frozenset(), "")
        done_ft2 = due[order_id].area_ft2 if order_id in due else 0.0
        due[order_id] = replace(known, area_ft2=done_ft2 + body["area_ft2"])
    return list(due.values()), notes


def _span(order: Order) -> list[dt.date]:
    count = (order.due_to - order.due_from).days + 1
    return [order.due_from + dt.timedelta(days=at) for at in range(count)]


def _may_be_done(book: Workbook, order: Order, day: dt.date) -> bool:
    """Whether neither office nor customer keeps it out of the day (rule 30)."""
    home = book.properties[order.property_id]
    return order.is_open(day) and not any(bars(order, home, {}, day))


def _days_of_span(book: Workbook, order: Order, office_days: frozenset[dt.date]) -> list[dt.date]:
    days = [day for day in _span(order) if _may_be_done(book, order, day)]
    usual = [
        day
        for day in days
        if (day in office_days if office_days else is_working_day(book.settings, day))
    ]
    return usual or days


def _day(book: Workbook, day: dt.date, due: Sequence[Order]) -> Day:
    """The day with what of the workbook it depends on, so that a change elsewhere in the tables is
    no change of it."""
    orders = {order.order_id: _due_that_day(order, day) for order in due}
    homes = {order.property_id for order in due}
    hours = max((row.rain_free_hours or 0.0 for row in book.products.values()), default=0.0)
    last_hour_day = day + dt.timedelta(days=1 + math.ceil(hours / 24))
    slim = replace(
        book,
        orders=orders,
        # What stands in the store this evening says nothing about the days of a season.
        products={name: replace(row, in_store=None) for name, row in book.products.items()},
        properties=dict(_plain_homes(book, homes)),
        weather=tuple(row for row in book.weather if day <= row.day <= last_hour_day),
        history=tuple(row for row in book.history if row.property_id in homes and row.day <= day),
        # Nor does whom to call say which truck to buy.
        settings=replace(book.settings, business_license_until=None),
        applicators=renewed(book),
        notify=(),
        ground=tuple(row for row in book.ground if row.day == day),
        sha256="",
        source=NO_SOURCE,
    )
    return Day(day, slim, orders)


def renewed(book: Workbook) -> tuple[Applicator, ...]:
    """The people with what their licenses are for, as if whatever runs out were renewed: a paper's
    date says no more of trucks than that of the business."""
    return tuple(
        replace(
            one, license_until=None, training_until=None, medical_card_until=None, cdl_class=None
        )
        for one in book.applicators
    )


def _due_that_day(order: Order, day: dt.date) -> Order:
    """Whether it may be done that day was looked at when its day was chosen, or it was done."""
    return replace(
        order,
        due_from=day,
        due_to=day,
        note="",
        status=Status.OPEN,
        hold_until=None,
        status_reason="",
        last_day=None,
        repeats=None,
    )


def _plain_homes(book: Workbook, homes: set[str]) -> Iterator[tuple[str, Property]]:
    """The day's properties. A usual truck is one of the present fleet, which would have to go out
    of its way where another fleet would not. What keeps a customer's orders out of a day has been
    looked at before."""
    for property_id, home in book.properties.items():
        if property_id in homes:
            yield (
                property_id,
                replace(
                    home,
                    usual_truck=None,
                    serve_on=None,
                    skip_dates=(),
                    hold_until=None,
                    hold_reason="",
                ),
            )
