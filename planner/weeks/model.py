"""calendar.json: which open order lies on which day and truck of the next weeks, and why the others
wait. Field names are the JSON names; dates are ISO text."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Final

from planner.day.parts import whole_id, whole_ids
from planner.outputs.file import replace_file
from planner.plain_files import read_json, text_of, why
from planner.plan.document import PlanFileError, plain, read_value
from planner.plan.model import RARE
from planner.problems import PlannerError

CALENDAR_VERSION: Final = 1

WAITING_CODES: Final = {
    "NOT-YET": "Its first day comes after the calendar's last",
    "KEPT-OUT": "The office or the customer keeps it out of each of its days",
    "HELD": "A rule holds it back on each of its days",
    "NO-TRUCK": "No truck that may do it goes out on its days",
    "NO-MIX": "No truck can carry its mix",
    "NO-HOSE": "No hose is long enough",
    "TOO-LARGE": "More gallons than any truck can spray from one fill",
    "LINKED": "Another order of its property keeps it off every day that is left",
    "LATER": "It can be done after the calendar's last day, for less",
    "FULL": "It fits on none of its days",
}
"""Code of why an open order has no day -> title."""


class CalendarError(PlannerError):
    """A calendar file that cannot be read, in words with the cure."""


@dataclass(frozen=True)
class LaidOrder:
    """An order on its day. gal: of mix; spare_days: later working days on which it could still be
    done before its span ends (0 = this is its last chance in time, 20 = so many or more);
    overdue_days: calendar days past its span on its day; told: its customer was told this day;
    told_other: the day that the customer was told instead, '' = none; next_day: the next day open
    to it within the calendar on which a truck that may do it goes out, '' = none; next_day_cost:
    what doing it then would cost more or, below 0, less, None = no day; next_day_full: there is no
    room for it on that day, else no cost means that nobody reckoned it; in_parts: one row for the
    parts of an order (planner/weeks/in_whole.py), which go to another day together or not at all.
    late_cost: money that lateness counts for by priority (rule 31): days past its span, and the
    chance that lost days make it late."""

    order_id: str
    property_id: str
    mix_id: str
    gal: float
    due_from: str
    due_to: str
    spare_days: int
    overdue_days: int
    told: bool
    told_other: str
    next_day: str
    next_day_cost: float | None
    late_cost: float = field(default=0.0, metadata=RARE)
    next_day_full: bool = field(default=False, metadata=RARE)
    in_parts: bool = field(default=False, metadata=RARE)


@dataclass(frozen=True)
class TruckShare:
    """What one truck does on one day, as the calendar reckons it; the day's own plan may find a
    better way. orders: in the order of its stops; loading: mix of each compartment, None = empty;
    paid_min: from reporting to release, lunch left out; shift_min: of the shift without overtime
    and lunch; cost: money, with hours that are paid beside that clock or in any case.
    evening_mix, evening_gal: what each compartment holds when it is back (the heel and what a
    fill's margin left), None = clean; evening_hose: the mix in each hose, None = empty."""

    date: str
    truck_id: str
    orders: tuple[LaidOrder, ...]
    loading: tuple[str | None, ...]
    gal_by_mix: dict[str, float]
    paid_min: float
    shift_min: float
    overtime_min: float
    miles: float
    refills: int
    cost: float
    evening_mix: tuple[str | None, ...] = field(default=(), metadata=RARE)
    evening_gal: tuple[float, ...] = field(default=(), metadata=RARE)
    evening_hose: tuple[str | None, ...] = field(default=(), metadata=RARE)


def count_orders(names: Iterable[str]) -> int:
    """How many orders of the tables these are: one that is done in parts is one (rule 39)."""
    return len(whole_ids({}, names))


def gal_text(gal: float) -> str:
    """'1,240', under 10 gal with a tenth: '0.3'."""
    return f"{gal:,.0f}" if gal >= 9.95 else f"{max(gal, 0.1):.1f}" if gal else "0"


@dataclass(frozen=True)
class WaitingOrder:
    """An open order that has no day. code: a key of WAITING_CODES; reason: in words; last_day: the
    last day on which it can still be done in time, '' = it has passed or there is none; late_cost:
    what having no day counts for; later_cost: what doing it
    after the calendar may cost, as an order does in the mean."""

    order_id: str
    property_id: str
    mix_id: str
    code: str
    reason: str
    due_to: str
    last_day: str
    late_cost: float = field(default=0.0, metadata=RARE)
    later_cost: float = field(default=0.0, metadata=RARE)


@dataclass(frozen=True)
class Calendar:
    """A calendar. days: its working days; closed: days on which nobody works or nothing may be
    done, date -> why; wet: days that were taken as lost to rain; out: 'TRUCK@DATE' of trucks that
    do not go out; trucks: every truck in service; told: order -> the day that its customer was
    told; rain_percent: mean chance of a lost day that was reckoned with, rain_by_day: that of each
    day (mean of the open orders, each in its weather area); cost, miles: of all shares; late_cost:
    of all orders, with a day or without; rain_given: chance of a lost day beyond the forecast that
    the office gave, None = its climate table's; workbook_sha256: of the tables and records it is
    from."""

    version: int
    workbook_sha256: str
    days: tuple[str, ...]
    closed: dict[str, str]
    wet: tuple[str, ...]
    out: tuple[str, ...]
    trucks: tuple[str, ...]
    shares: tuple[TruckShare, ...]
    waiting: tuple[WaitingOrder, ...]
    told: dict[str, str]
    rain_percent: float
    cost: float
    miles: float
    engine: str
    effort: str
    seed: int
    roads: str
    roads_warning: str
    notes: tuple[str, ...] = field(default=())
    late_cost: float = field(default=0.0, metadata=RARE)
    rain_given: float | None = field(default=None, metadata=RARE)
    rain_by_day: dict[str, float] = field(default_factory=dict, metadata=RARE)

    @property
    def day_of(self) -> dict[str, str]:
        """Order -> its day, of every order that has one."""
        return {row.order_id: one.date for one in self.shares for row in one.orders}

    @property
    def short(self) -> bool:
        """Whether an order that is due within its days has none for want of room or by a rule; what
        the office or the customer keeps out is their choice, and no order left out."""
        return any(
            row.code not in ("NOT-YET", "LATER", "KEPT-OUT") and row.last_day <= self.days[-1]
            for row in self.waiting
        )

    def on(self, when: date) -> tuple[TruckShare, ...]:
        """The shares of one day."""
        return tuple(one for one in self.shares if one.date == when.isoformat())

    def with_told(self, names: Collection[str], when: str) -> Calendar:
        """The calendar after the customers of orders (of the tables, or parts of them) that lie on
        that day were told it."""
        told = {
            row.order_id
            for share in self.shares
            if share.date == when
            for row in share.orders
            if not {row.order_id, whole_id({}, row.order_id)}.isdisjoint(names)
        }
        shares = tuple(
            replace(
                share,
                orders=tuple(
                    replace(one, told=True, told_other="") if one.order_id in told else one
                    for one in share.orders
                ),
            )
            if share.date == when
            else share
            for share in self.shares
        )
        return replace(self, shares=shares, told=self.told | dict.fromkeys(told, when))


def calendar_text(calendar: Calendar) -> str:
    """The file's text, the same for the same calendar."""
    return json.dumps(plain(calendar), indent=1, ensure_ascii=False) + "\n"


def write_calendar(path: Path, calendar: Calendar) -> None:
    """Over the one that was there: nobody types in it. Raises OutputError."""
    replace_file(path, calendar_text(calendar))


def read_calendar(path: Path) -> Calendar | None:
    """The calendar in a file, None when there is no such file. Raises CalendarError."""
    if not path.exists():
        return None
    try:
        raw = read_json(text_of(path))
        version = raw.get("version") if isinstance(raw, dict) else None
        if version != CALENDAR_VERSION:
            raise ValueError(f"calendar version {CALENDAR_VERSION} expected, found {version!r}")
        calendar = read_value(Calendar, raw, "calendar")
        if not calendar.days:
            raise ValueError("it has no days")
        for day in (*calendar.days, *calendar.told.values(), *(s.date for s in calendar.shares)):
            date.fromisoformat(day)
    except (OSError, ValueError, PlanFileError) as error:
        raise CalendarError(
            f"{path} cannot be read as a calendar ({why(error)}); delete it and run `planner weeks`"
        ) from error
    assert isinstance(calendar, Calendar)
    return calendar
