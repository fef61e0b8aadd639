"""The day as iCalendar (RFC 5545): an event per visit, refill and lunch.

Times are 'local time' without a zone (RFC 5545 section 3.3.5, form 1), because the workbook names
no time zone: every calendar shows them as the clock of the place where it is opened.
"""

import uuid
from datetime import date, datetime, timedelta

from planner.day.day import Day
from planner.exports.rows import StopRow, stop_rows
from planner.exports.text import one_line
from planner.plan.model import Plan, Stop

LINE_OCTETS = 75
"""Longest line, RFC 5545 section 3.1."""

KINDS = frozenset({"visit", "refill", "lunch"})


def day_calendar(plan: Plan, day: Day) -> str:
    """The calendar of all trucks; each event's category is its truck. The same plan gives the
    same text: event ids come from date, truck and stop, and the stamp is the day planned."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//lawn-spray-day-planner//day plan//EN",
        "CALSCALE:GREGORIAN",
    ]
    rows = {(row.truck_id, row.stop): row for row in stop_rows(plan, day)}
    midnight = datetime.combine(date.fromisoformat(plan.date), datetime.min.time())
    for truck_plan in plan.trucks:
        for stop in truck_plan.stops:
            if stop.kind in KINDS:
                lines += _event(midnight, rows[truck_plan.truck_id, stop.seq], stop)
    lines.append("END:VCALENDAR")
    return "".join(fold(line) for line in lines)


def _event(midnight: datetime, row: StopRow, stop: Stop) -> list[str]:
    name = uuid.uuid5(uuid.NAMESPACE_URL, f"{row.date}/{row.truck_id}/{row.stop}")
    lines = [
        "BEGIN:VEVENT",
        f"UID:{name}",
        f"DTSTAMP:{midnight:%Y%m%dT%H%M%SZ}",
        f"DTSTART:{_clock(midnight, stop.begin_min)}",
        f"DTEND:{_clock(midnight, stop.leave_min)}",
        f"SUMMARY:{escaped(_summary(row))}",
        f"CATEGORIES:{escaped(row.truck_id)}",
    ]
    if row.kind != "lunch":
        lines += [
            f"LOCATION:{escaped(row.address or row.name)}",
            f"GEO:{row.lat:.6f};{row.lon:.6f}",
        ]
    told = [row.name, row.reach, row.orders and f"Orders {row.orders}", row.fills]
    told = [part for part in told if part]
    if told and row.kind != "lunch":
        lines.append("DESCRIPTION:" + "\\n".join(escaped(part) for part in told))
    return [*lines, "END:VEVENT"]


def _summary(row: StopRow) -> str:
    start = f"{row.truck_id} stop {row.stop}: "
    if row.kind == "lunch":
        return f"{start}lunch"
    if row.kind == "refill":
        return f"{start}refill {row.filled_gal:g} gal, {row.name}"
    return f"{start}{row.address or row.name}, {row.mixes}, {row.sprayed_gal:.1f} gal"


def _clock(midnight: datetime, minutes: float) -> str:
    return f"{midnight + timedelta(minutes=int(minutes + 0.5)):%Y%m%dT%H%M%S}"


def escaped(text: str) -> str:
    """Text for a TEXT value, RFC 5545 section 3.3.11."""
    plain = one_line(text).replace("\\", "\\\\")
    return plain.replace(";", "\\;").replace(",", "\\,")


def fold(line: str) -> str:
    """The line broken into pieces of at most LINE_OCTETS octets, no sign split in two."""
    pieces, piece, room = [], "", LINE_OCTETS
    for sign in line:
        size = len(sign.encode())
        if size > room:
            pieces.append(piece)
            # The space that marks a continued line counts.
            piece, room = " ", LINE_OCTETS - 1
        piece += sign
        room -= size
    return "\r\n".join([*pieces, piece]) + "\r\n"
