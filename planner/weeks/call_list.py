"""Who is to be called: customers to tell their day, to move to another, or to say that none is."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from planner.day.clock import WEEKDAYS
from planner.day.day import Workbook
from planner.day.places import reach_text
from planner.weeks.in_whole import in_whole
from planner.weeks.model import Calendar

MOVE: Final = "move"
NO_DAY: Final = "no day"
TELL: Final = "tell"


@dataclass(frozen=True)
class WeeksCall:
    """One call: one property on one day. what: move (was told told_day), no day (was told told_day,
    and the calendar has none now) or tell. reach: how the customer wants it, '' = nothing is known.
    notice: who else must be told and when."""

    what: str
    date: str
    weekday: str
    told_day: str
    property: str
    customer: str
    reach: str
    phone: str
    phone_2: str
    email: str
    contact_by: str
    language: str
    address: str
    town: str
    orders: str
    mixes: str
    truck: str
    notice: str
    reason: str


def call_list(calendar: Calendar, book: Workbook) -> tuple[WeeksCall, ...]:
    """Moves first, then those without a day, then whom to tell; each by day and customer. Who
    was told their day already is in no row."""
    calendar = in_whole(calendar, book.orders)
    groups: dict[tuple[str, str, str, str], list[tuple[str, str, str, str]]] = defaultdict(list)
    for share in calendar.shares:
        for order in share.orders:
            if order.told:
                continue
            what = MOVE if order.told_other else TELL
            key = what, share.date, order.told_other, order.property_id
            groups[key].append((order.order_id, order.mix_id, share.truck_id, ""))
    for waiting in calendar.waiting:
        told = calendar.told.get(waiting.order_id)
        if told:
            key = NO_DAY, "", told, waiting.property_id
            groups[key].append((waiting.order_id, waiting.mix_id, "", waiting.reason))
    rows = [_row(key, orders, book) for key, orders in groups.items() if key[3] in book.properties]
    rank = {MOVE: 0, NO_DAY: 1, TELL: 2}
    return tuple(sorted(rows, key=lambda row: (rank[row.what], row.date, row.customer, row.orders)))


def call_counts(rows: tuple[WeeksCall, ...]) -> Mapping[str, int]:
    """How many calls there are of each kind."""
    return {what: sum(row.what == what for row in rows) for what in (MOVE, NO_DAY, TELL)}


def _row(
    key: tuple[str, str, str, str], orders: list[tuple[str, str, str, str]], book: Workbook
) -> WeeksCall:
    what, day, told, property_id = key
    home = book.properties[property_id]
    ids, mixes, trucks, reasons = (
        "; ".join(dict.fromkeys(filter(None, column))) for column in zip(*orders, strict=True)
    )
    names = ("customer", "phone", "phone_2", "email", "contact_by", "language", "address", "town")
    return WeeksCall(
        what=what,
        date=day,
        weekday=WEEKDAYS[date.fromisoformat(day).weekday()] if day else "",
        told_day=told,
        property=property_id,
        reach=reach_text(home),
        orders=ids,
        mixes=mixes,
        truck=trucks,
        notice=home.notice,
        reason=reasons,
        **{name: getattr(home, name) for name in names},
    )
