"""The page of the next weeks: what an office looks at before it tells customers their days.

One HTML text that asks the network for nothing and prints on two sheets: days and trucks, what
is at risk; then product, what waits, whom to call, and where each day goes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from planner.day.day import Workbook
from planner.day.fleet import Truck
from planner.day.life import brief_day
from planner.papers.render import render_in
from planner.weeks.call_list import call_counts, call_list
from planner.weeks.in_whole import in_whole
from planner.weeks.model import (
    WAITING_CODES,
    Calendar,
    LaidOrder,
    TruckShare,
    count_orders,
    gal_text,
)
from planner.weeks.needs import product_needs, weeks_of
from planner.weeks.page_map import HEIGHT, WIDTH, dash_of, day_drawings, sign_of, sign_path

DAYS_IN_A_ROW: Final = 5
"""Days side by side, so that columns are as wide in every row."""

SHEET_LINES: Final = 62
"""Lines of small print that a sheet of letter paper holds."""
SECOND_SHEET_ROWS: Final = 30
"""Rows of lists that the second sheet holds beside its headings and ten maps; a few of them may
take two lines."""


@dataclass(frozen=True)
class CellOfWeek:
    """A truck on a day. out: it does not go out although it could; gone: it is out of the day.
    paid, shift: as '7:20'; share: of the shift, percent, at most 100; over_min: overtime, refills.
    loading: mixes of its compartments where they differ from its day before, '' = as before."""

    orders: int = 0
    gal: tuple[tuple[str, str], ...] = ()
    paid: str = ""
    shift: str = ""
    share: float = 0.0
    overtime: str = ""
    miles: float = 0.0
    loading: str = ""
    told: int = 0
    gone: bool = False


@dataclass(frozen=True)
class DayOfWeek:
    """A day's column. must: orders that have no later day in time, or whose customer was told; may:
    the others. must_share, may_share: percent of the shifts' hours. free: as '18 h', '' = none.
    rain: chance that it is lost, as '35 %'."""

    date: str
    label: str
    orders: int
    must: int
    may: int
    must_share: float
    may_share: float
    free: str
    rain: str
    wet: bool
    cells: tuple[CellOfWeek, ...]


@dataclass(frozen=True)
class WeekRows:
    """Some days side by side. closed: days among them on which nobody works, and why; gap: columns
    left free."""

    label: str
    days: tuple[DayOfWeek, ...]
    closed: tuple[str, ...]
    gap: int

    @property
    def gone(self) -> bool:
        """Whether a truck is out of one of the days."""
        return any(cell.gone for day in self.days for cell in day.cells)


@dataclass(frozen=True)
class RiskRow:
    """An order at risk. what: overdue, last day, one spare day; tomorrow: what doing it on its next
    day would cost."""

    what: str
    order: str
    customer: str
    mix: str
    day: str
    truck: str
    due: str
    told: str
    tomorrow: str


def weeks_page(
    calendar: Calendar, book: Workbook, stale: str = "", answer: Sequence[str] = ()
) -> str:
    """The page as HTML. book: the tables that the calendar is shown with; stale: what makes the
    calendar one of other tables, in words, '' = it is of these; answer: what the calendar is the
    answer to (days or trucks lost) and what moves, line by line, () = it is none."""
    calendar = in_whole(calendar, book.orders)
    needs, calls = product_needs(calendar, book), call_list(calendar, book)
    weeks = tuple(_weeks(calendar, book))
    days = [day for week in weeks for day in week.days]
    risks = _risks(calendar, book)
    waiting = sorted(
        calendar.waiting, key=lambda one: (list(WAITING_CODES).index(one.code), one.due_to)
    )
    fullest = max(days, key=lambda day: day.must_share + day.may_share, default=None)
    return render_in(
        "planner.weeks",
        "weeks.html",
        {
            "calendar": calendar,
            "company": book.settings.company,
            "currency": book.settings.currency,
            "stale": stale,
            "answer": answer,
            "footer": f"{calendar.engine}, {calendar.effort}, seed {calendar.seed}",
            "title": f"{len(calendar.days)} working days from {_long(calendar.days[0])}",
            "weeks": weeks,
            "trucks": [(name, _truck(book, name)) for name in calendar.trucks],
            "laid": sum(day.orders for day in days),
            "fullest": fullest if fullest and fullest.orders else None,
            "risks": risks,
            "counts": {what: sum(row.what == what for row in risks) for what in RISKS},
            "waiting": waiting,
            "put_off": count_orders(
                one.order_id for one in waiting if one.code in ("LATER", "NOT-YET")
            ),
            "waiting_orders": count_orders(one.order_id for one in waiting),
            "titles": WAITING_CODES,
            "homes": book.properties,
            "mixes": {name: mix.name for name, mix in book.mixes.items()},
            "week_labels": [brief_day(monday.isoformat()) for monday in weeks_of(calendar)],
            "needs": needs,
            "short": [need for need in needs if need.short_on],
            "calls": [row for row in calls if row.what != "tell"],
            "call_counts": call_counts(calls),
            "drawings": day_drawings(calendar, book),
            "signs": [
                (name, sign_path(sign_of(at)), sign_of(at), dash_of(at))
                for at, name in enumerate(calendar.trucks)
            ],
            "size": (WIDTH, HEIGHT),
            "printed": _printed(
                calendar,
                len(weeks),
                len(risks),
                (len(waiting), len(needs), sum(row.what != "tell" for row in calls)),
            ),
            "day_text": brief_day,
        },
    )


RISKS: Final = ("overdue", "last day", "one spare day")


def _truck(book: Workbook, name: str) -> str:
    truck = book.trucks.get(name) or book.out_of_service.get(name)
    return truck.name if truck else ""


def _is_out(book: Workbook, name: str, day: str) -> bool:
    truck = book.trucks.get(name) or book.out_of_service.get(name)
    return truck is not None and any(date.fromisoformat(day) in span for span in truck.out_on)


def _weeks(calendar: Calendar, book: Workbook) -> Iterator[WeekRows]:
    shares = {(share.date, share.truck_id): share for share in calendar.shares}
    before: dict[str, TruckShare] = {}
    found: list[DayOfWeek] = []
    for day in calendar.days:
        cells, minutes, room = [], 0.0, 0.0
        for name in calendar.trucks:
            share = shares.get((day, name))
            gone = f"{name}@{day}" in calendar.out or _is_out(book, name, day)
            if not gone and day not in calendar.wet:
                room += share.shift_min if share else _shift_min(book.trucks.get(name))
            if share is None or not share.orders:
                cells.append(CellOfWeek(gone=gone))
                continue
            minutes += share.paid_min
            cells.append(_cell(share, before.get(name)))
            before[name] = share
        laid = [one for name in calendar.trucks if (day, name) in shares
                for one in shares[day, name].orders]  # fmt: skip
        orders = count_orders(one.order_id for one in laid)
        must = count_orders(one.order_id for one in laid if _must(one))
        full = 100.0 * min(1.0, minutes / room) if room else 0.0
        part = must / orders if orders else 0.0
        free = room - minutes
        found.append(
            DayOfWeek(
                day,
                brief_day(day),
                orders,
                must,
                orders - must,
                round(full * part, 1),
                round(full - full * part, 1),
                f"{free / 60:.0f} h free" if free >= 30 else "full" if laid else "",
                f"{percent:.0f} %" if (percent := calendar.rain_by_day.get(day, 0.0)) else "",
                day in calendar.wet,
                tuple(cells),
            )
        )
    for at in range(0, len(found), DAYS_IN_A_ROW):
        days = found[at : at + DAYS_IN_A_ROW]
        until = found[at + DAYS_IN_A_ROW].date if at + DAYS_IN_A_ROW < len(found) else "9999"
        closed = tuple(
            f"{brief_day(day)}: {why}"
            for day, why in calendar.closed.items()
            if days[0].date <= day < until
        )
        label = f"{brief_day(days[0].date)} to {brief_day(days[-1].date)}"
        yield WeekRows(label, tuple(days), closed, DAYS_IN_A_ROW - len(days))


def _printed(
    calendar: Calendar, blocks: int, risks: int, others: tuple[int, int, int]
) -> dict[str, int]:
    """How many rows of each list find room on the two sheets; the screen and the CSV files have
    them all. risks, others: rows that there are of those at risk, and of waiting, needs, calls."""
    left = SHEET_LINES - 12 - blocks * (5 + 4 * len(calendar.trucks))
    later = left < 8  # Then they begin the second sheet.
    long = len(calendar.days) > 2 * DAYS_IN_A_ROW
    rows = 5 if long or later else 9
    shown = rows + 3 if later else left
    # What the second sheet has free is for orders at risk: their list then goes on there. What they
    # leave is for the other lists, whose rows take two lines.
    taken = sum(min(most, number) for most, number in zip((rows, 14, rows), others, strict=True))
    free = 0 if long else SECOND_SHEET_ROWS - taken - (shown if later else 0)
    goes_on = risks > shown and free > 0
    waiting, _, calls = others
    spare = max(0, free - max(0, risks - shown)) // 2
    waiting = min(waiting, rows + spare)
    calls = min(calls, rows + spare - max(0, waiting - rows))
    return {
        "risks": shown + free if goes_on else shown,
        "risks_later": int(later),
        "goes_on": int(goes_on and not later),
        "waiting": waiting,
        "needs": 14,
        "calls": calls,
    }


def _must(one: LaidOrder) -> bool:
    return one.told or one.spare_days == 0 or one.overdue_days > 0


def _cell(share: TruckShare, before: TruckShare | None) -> CellOfWeek:
    changed = before is not None and before.loading != share.loading
    return CellOfWeek(
        orders=count_orders(one.order_id for one in share.orders),
        gal=tuple((mix, gal_text(gal)) for mix, gal in share.gal_by_mix.items()),
        paid=_hours(share.paid_min),
        shift=_hours(share.shift_min),
        share=100.0 * min(1.0, share.paid_min / share.shift_min) if share.shift_min else 100.0,
        overtime=_hours(share.overtime_min) if share.overtime_min >= 1 else "",
        miles=share.miles,
        loading=" | ".join(mix or "empty" for mix in share.loading) if changed else "",
        told=count_orders(one.order_id for one in share.orders if one.told),
    )


def _shift_min(truck: Truck | None) -> float:
    return truck.shift_end_min - truck.shift_start_min - truck.lunch_min if truck else 0.0


def _risks(calendar: Calendar, book: Workbook) -> list[RiskRow]:
    rows: dict[tuple[str, str], RiskRow] = {}
    for share in calendar.shares:
        for one in share.orders:
            known = rows.get((one.order_id, share.date))
            if known is not None:  # Parts of it are another truck's.
                rows[one.order_id, share.date] = replace(
                    known, truck=f"{known.truck}, {share.truck_id}"
                )
                continue
            if one.overdue_days:
                what = "overdue"
            elif one.spare_days <= 1:
                what = RISKS[1 + one.spare_days]
            else:
                continue
            home = book.properties.get(one.property_id)
            rows[one.order_id, share.date] = RiskRow(
                what,
                one.order_id,
                home.customer if home else one.property_id,
                one.mix_id,
                share.date,
                share.truck_id,
                _due(one),
                "told" if one.told else one.told_other and f"told {brief_day(one.told_other)}",
                _tomorrow(one, book.settings.currency),
            )
    late = RISKS[0]
    return sorted(
        rows.values(),
        key=lambda row: (row.what != late, row.day, RISKS.index(row.what), row.customer),
    )


def _due(one: LaidOrder) -> str:
    if one.overdue_days:
        days = f"{one.overdue_days} day{'' if one.overdue_days == 1 else 's'}"
        return f"by {brief_day(one.due_to)}, {days} late"
    return f"by {brief_day(one.due_to)}"


def _tomorrow(one: LaidOrder, currency: str) -> str:
    if not one.next_day:
        return "no later day"
    if one.next_day_cost is None:
        why = "all parts would move, not reckoned" if one.in_parts else "not reckoned"
        return f"{brief_day(one.next_day)}: {'no room' if one.next_day_full else why}"
    cost = one.next_day_cost
    if abs(cost) < 0.5:
        return f"{brief_day(one.next_day)}: no dearer"
    how = "more" if cost > 0 else "less"
    return f"{brief_day(one.next_day)}: {currency}{abs(cost):,.0f} {how}"


def _hours(minutes: float) -> str:
    hours, rest = divmod(int(minutes + 0.5), 60)
    return f"{hours}:{rest:02d}"


def _long(day: str) -> str:
    found = date.fromisoformat(day)
    return f"{found:%A, %B} {found.day}, {found.year}"
