"""A calendar, and what a lost day does to it, as lines of text."""

from collections.abc import Iterator
from datetime import date
from textwrap import fill
from typing import Final

from planner.day.day import Workbook
from planner.day.life import day_text
from planner.problems import counted, few
from planner.weeks.asking import LostDay
from planner.weeks.in_whole import in_whole
from planner.weeks.model import WAITING_CODES, Calendar, count_orders, gal_text

SHOWN: Final = 20
"""Rows of one kind at the most."""
WIDTH: Final = 100


def calendar_lines(calendar: Calendar, book: Workbook) -> Iterator[str]:
    """Its days and trucks, what is at risk, and what waits and why."""
    calendar = in_whole(calendar, book.orders)
    laid = calendar.day_of
    yield (
        f"{counted(len(calendar.days), 'working day')} from {_day(calendar.days[0])} to "
        f"{_day(calendar.days[-1])}: {counted(count_orders(laid), 'order')} on "
        f"{counted(len(calendar.shares), 'truck-day')}, "
        f"{count_orders(row.order_id for row in calendar.waiting)} waiting; "
        f"${calendar.cost:,.0f}, {calendar.miles:,.0f} miles."
    )
    for day, why in calendar.closed.items():
        yield f"{_day(day)}: {why}"
    yield ""
    yield "Day             Truck   Orders   Hours  Overtime   Miles     Cost  Gallons"
    for day in calendar.days:
        shares = [share for share in calendar.shares if share.date == day]
        if not shares:
            idle = "see above" if day in calendar.closed else "-"
            yield f"{_day(day)}  {'lost to rain' if day in calendar.wet else idle}"
        for share in shares:
            gallons = ", ".join(f"{mix} {gal_text(gal)}" for mix, gal in share.gal_by_mix.items())
            orders = count_orders(row.order_id for row in share.orders)
            yield (
                f"{_day(day)}  {share.truck_id:<8}{orders:>6}{share.paid_min / 60:>8.1f}"
                f"{share.overtime_min / 60:>10.1f}{share.miles:>8.1f}{share.cost:>9,.0f}  {gallons}"
            )
    yield from _risk_lines(calendar, book)
    by_code: dict[str, dict[str, list[str]]] = {}
    for row in calendar.waiting:
        if row.code != "NOT-YET":
            alike = by_code.setdefault(row.code, {}).setdefault(row.reason, [])
            alike.append(f"{row.order_id} ({row.property_id}, {row.mix_id})")
    for code, reasons in by_code.items():
        yield ""
        yield f"{WAITING_CODES[code]} ({sum(map(len, reasons.values()))}):"
        yield from _few([f"  {why}: {few(names, SHOWN)}" for why, names in reasons.items()])
    rows = [row for share in calendar.shares for row in share.orders]
    if told := len({row.property_id for row in rows if row.told_other}):
        yield ""
        yield f"{counted(told, 'customer')} must be told another day; --out writes whom to call."
    if calendar.notes:
        yield ""
        yield from (f"Note: {note}" for note in calendar.notes)


def _risk_lines(calendar: Calendar, book: Workbook) -> Iterator[str]:
    rows: dict[tuple[bool, str, str], None] = {}
    for share in calendar.shares:
        for row in share.orders:
            if row.spare_days and not row.overdue_days:
                continue
            what = (
                f"{counted(row.overdue_days, 'day')} overdue"
                if row.overdue_days
                else "its last day in time"
            )
            following = "no later day in this calendar"
            if row.next_day and row.next_day_cost is not None:
                more = "more" if row.next_day_cost >= 0 else "less"
                following = f"{_day(row.next_day)} would cost ${abs(row.next_day_cost):,.0f} {more}"
            elif row.next_day and row.next_day_full:
                following = f"{_day(row.next_day)} has no room for it"
            elif row.next_day:
                following = f"what {_day(row.next_day)} would cost was not reckoned"
                following += ", for all its parts would have to move" if row.in_parts else ""
            text = (
                f"  {_day(share.date)}  {row.order_id} {book.properties[row.property_id].customer} "
                f"({row.mix_id}): {what}; {following}"
            )
            rows[not row.overdue_days, share.date, text] = None
    if rows:
        yield ""
        yield f"At risk, should the day be lost ({len(rows)}):"
        yield from _few([text for *_, text in sorted(rows, key=lambda row: row[:2])])


def costs_text(
    cost: float, miles: float, later_cost: float, late_cost: float, sign: str = "$"
) -> str:
    """What a lost day costs more or less, as of LostDay. sign: of the currency."""
    put_off = f"what is put off costs about {_more(later_cost, sign)}; "
    return (
        f"{_more(cost, sign)} of pay and trucks, {_miles(miles)}; "
        f"{put_off if abs(later_cost) >= 0.5 else ''}"
        f"lateness by priority, and the chance of it, counts for {_more(late_cost, sign)}"
    )


def difference_lines(found: LostDay) -> Iterator[str]:
    """What moves where, and what it costs."""
    what = [f"{_day(day)} lost" for day in found.wet]
    what += [
        f"{truck} at home on {_day(day)}"
        for truck, _, day in (name.rpartition("@") for name in found.out)
    ]
    moved = count_orders(row.order_id for row in found.moved)
    without = count_orders(row.order_id for row in found.without_day if row.code != "LATER")
    yield (
        f"With {', '.join(what)}: {counted(moved, 'order')} on another day, "
        f"{without} without a later day, "
        f"{max(0, found.late)} more late; "
        f"{costs_text(found.cost, found.miles, found.later_cost, found.late_cost)}."
    )
    groups: dict[tuple[str, str], list[str]] = {}
    for row in found.moved:
        mark = (" (told)" if row.told else "") + (" (late)" if row.overdue_days else "")
        groups.setdefault((row.before, row.after), []).append(f"{row.order_id}{mark}")
    for (before, after), names in groups.items():
        yield f"  {_day(before)} -> {_day(after)}: {', '.join(names)}"
    trucks: dict[tuple[str, str], list[str]] = {}
    for day, name, truck in found.other_truck:
        trucks.setdefault((day, truck), []).append(name)
    for (day, truck), names in trucks.items():
        yield f"  {_day(day)}, with {truck} instead: {', '.join(names)}"
    for day in dict.fromkeys(row.after for row in found.taken_in):
        names = [row.order_id for row in found.taken_in if row.after == day]
        yield f"  had no day -> {_day(day)}: {', '.join(names)}"
    put_off = [row.order_id for row in found.without_day if row.code == "LATER"]
    if put_off:
        yield f"  after the calendar's last day: {', '.join(put_off)}"
    lost = [row for row in found.without_day if row.code != "LATER"]
    if lost:
        yield "Without a later day:"
        yield from _few([f"  {row.order_id} ({row.property_id}): {row.reason}" for row in lost])


def wrapped(line: str) -> str:
    """A line in rows of WIDTH letters."""
    indent = "    " if line.startswith(" ") else "  "
    return fill(line, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _day(day: str) -> str:
    return day_text(date.fromisoformat(day))


def _more(amount: float, sign: str) -> str:
    return f"{sign}{abs(amount):,.0f} {'more' if amount > -0.5 else 'less'}"


def _miles(miles: float) -> str:
    number = round(abs(miles))
    return f"{number:,} {'more' if miles > -0.5 else 'fewer'} mile{'' if number == 1 else 's'}"


def _few(rows: list[str]) -> Iterator[str]:
    yield from rows[:SHOWN]
    if len(rows) > SHOWN:
        yield f"  and {len(rows) - SHOWN} more; calendar.json names them all"
