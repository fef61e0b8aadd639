"""The calendar as files for other programs: CSV and iCalendar (RFC 5545)."""

import uuid
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from planner.day.clock import WEEKDAYS
from planner.day.day import Workbook
from planner.day.orders import Order
from planner.exports.icalendar import escaped, fold
from planner.exports.text import csv_text
from planner.mixing.recipes import order_gal
from planner.problems import counted
from planner.weeks.call_list import WeeksCall, call_list
from planner.weeks.in_whole import in_whole
from planner.weeks.model import (
    Calendar,
    LaidOrder,
    TruckShare,
    WaitingOrder,
    count_orders,
    gal_text,
)


@dataclass(frozen=True)
class WeeksRow:
    """One open order. date, weekday, truck, stop: '' and 0 = it has no day. told: yes, no, or the
    other day that the customer was told; next_day_room: yes, no, '' = nobody looked; reason: why it
    waits."""

    order: str
    date: str = ""
    weekday: str = ""
    truck: str = ""
    stop: int = 0
    property: str = ""
    customer: str = ""
    address: str = ""
    town: str = ""
    mix: str = ""
    gal: float = 0.0
    due_from: str = ""
    due_to: str = ""
    spare_days: int | str = ""
    overdue_days: int = 0
    told: str = ""
    next_day: str = ""
    next_day_cost: float | str = ""
    next_day_room: str = ""
    code: str = ""
    reason: str = ""


def weeks_files(calendar: Calendar, book: Workbook) -> dict[str, str]:
    """File name -> text of the calendar, of the call list, and of the trucks' days."""
    calendar = in_whole(calendar, book.orders)
    return {
        "weeks.csv": csv_text(WeeksRow, weeks_rows(calendar, book)),
        "call-list.csv": csv_text(WeeksCall, call_list(calendar, book)),
        "weeks.ics": weeks_calendar(calendar, book),
    }


def weeks_rows(calendar: Calendar, book: Workbook) -> list[WeeksRow]:
    """Every open order of the calendar: by day and truck in the order of its stops, then those that
    wait."""
    rows = []
    for share in calendar.shares:
        for stop, one in enumerate(share.orders, start=1):
            rows.append(
                WeeksRow(
                    date=share.date,
                    weekday=WEEKDAYS[date.fromisoformat(share.date).weekday()],
                    truck=share.truck_id,
                    stop=stop,
                    gal=round(one.gal, 2),
                    due_from=one.due_from,
                    spare_days=one.spare_days,
                    overdue_days=one.overdue_days,
                    told="yes" if one.told else one.told_other or "no",
                    next_day=one.next_day,
                    next_day_cost="" if one.next_day_cost is None else round(one.next_day_cost, 2),
                    next_day_room=_room(one),
                    **_same(one, book),
                )
            )
    by_whole: dict[str, list[Order]] = {}
    for order in book.orders.values():
        by_whole.setdefault(order.whole_id, []).append(order)
    for waiting in calendar.waiting:
        parts = by_whole.get(waiting.order_id, [])
        rows.append(
            WeeksRow(
                gal=round(sum(order_gal(book, part) for part in parts), 2),
                due_from=parts[0].due_from.isoformat() if parts else "",
                told=calendar.told.get(waiting.order_id, "no"),
                code=waiting.code,
                reason=waiting.reason,
                **_same(waiting, book),
            )
        )
    return rows


def _room(one: LaidOrder) -> str:
    if one.next_day_full:
        return "no"
    return "" if one.next_day_cost is None else "yes"


def _same(one: LaidOrder | WaitingOrder, book: Workbook) -> dict[str, Any]:
    """What both kinds of rows say of an order and its property."""
    home = book.properties.get(one.property_id)
    at = {name: getattr(home, name, "") for name in ("customer", "address", "town")}
    order = {"order": one.order_id, "property": one.property_id, "mix": one.mix_id}
    return order | at | {"due_to": one.due_to}


def weeks_calendar(calendar: Calendar, book: Workbook) -> str:
    """An event of the whole day per truck that goes out, and one per day that is lost to rain. The
    same calendar gives the same text; a later one has the same event of the same truck and day."""
    first = date.fromisoformat(calendar.days[0])
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//lawn-spray-day-planner//weeks//EN",
        "CALSCALE:GREGORIAN",
    ]
    for share in calendar.shares:
        if share.orders:
            gal = sum(share.gal_by_mix.values())
            count = counted(count_orders(one.order_id for one in share.orders), "order")
            told = sorted({_told(book, one.property_id) for one in share.orders if one.told})
            mixes = [f"{mix} {gal_text(amount)} gal" for mix, amount in share.gal_by_mix.items()]
            said = [", ".join(mixes), *(_stop(book, share))]
            said += [f"Told: {', '.join(told)}"] if told else []
            summary = f"{share.truck_id}: {count}, {gal_text(gal)} gal"
            lines += _event(first, share.date, share.truck_id, summary, said)
    for wet in calendar.wet:
        lines += _event(first, wet, "", "Taken as lost to rain", [])
    lines.append("END:VCALENDAR")
    return "".join(fold(line) for line in lines)


def _told(book: Workbook, property_id: str) -> str:
    home = book.properties.get(property_id)
    return home.customer if home else property_id


def _stop(book: Workbook, share: TruckShare) -> list[str]:
    return [
        f"{number}. {_told(book, one.property_id)}, {one.mix_id} (order {one.order_id})"
        for number, one in enumerate(share.orders, start=1)
    ]


def _event(first: date, day: str, truck_id: str, summary: str, said: list[str]) -> list[str]:
    begin = date.fromisoformat(day)
    lines = [
        "BEGIN:VEVENT",
        f"UID:{uuid.uuid5(uuid.NAMESPACE_URL, f'weeks/{day}/{truck_id}')}",
        f"DTSTAMP:{first:%Y%m%d}T000000Z",
        f"DTSTART;VALUE=DATE:{begin:%Y%m%d}",
        f"DTEND;VALUE=DATE:{begin + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{escaped(summary)}",
        "TRANSP:TRANSPARENT",
    ]
    if truck_id:
        lines.append(f"CATEGORIES:{escaped(truck_id)}")
    if said:
        lines.append("DESCRIPTION:" + "\\n".join(escaped(part) for part in said))
    return [*lines, "END:VEVENT"]
