"""A crew's day as a time record: report, release, hours on duty and at the wheel.

What 49 CFR 395.1(e)(1)(v) has a carrier keep for six months of a driver who works without a log:
when the driver reports and is released, and the hours on duty, each day. Driving stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Final

from planner.day.people import names_in
from planner.exports.rows import hours_text
from planner.plan.model import Plan, TruckPlan

PLANNED = "planned"
RECORDED = "planned, moved by recorded times"

WEEKS: Final = ((7, 60.0), (8, 70.0))
"""Days in a row and the most hours on duty in them: 49 CFR 395.3(b)."""

REST_HOURS: Final = 34.0
"""So many hours off in one piece and the sums may start anew: 49 CFR 395.3(c)."""


@dataclass(frozen=True)
class TimeRow:
    """A truck's crew on one day. hours_on_duty: without lunch, with what is paid beside the clock
    (cleaning, loading the evening before); first_recorded, last_recorded: of the work written down,
    '' = none; basis: PLANNED or RECORDED. hours_7_days, hours_8_days: on duty in so many days up to
    that one, since the last 34 hours off; '' = the days before are not known. over: in words."""

    date: str
    truck: str
    driver: str
    license: str
    report: str
    release: str
    lunch_min: float
    hours_on_duty: float
    hours_driving: float
    first_recorded: str
    last_recorded: str
    basis: str
    hours_7_days: float | str = ""
    hours_8_days: float | str = ""
    over: str = ""


@dataclass(frozen=True)
class Worked:
    """What a truck's records of a day tell. first_min, last_min: of the work, minutes after
    midnight; None = no time is written. ended: orders whose end is written."""

    driver: str = ""
    license: str = ""
    first_min: float | None = None
    last_min: float | None = None
    ended: frozenset[str] = frozenset()


def time_rows(plan: Plan, worked: Mapping[str, Worked]) -> tuple[TimeRow, ...]:
    """A row of each truck that goes out. worked: by truck. Work that began before the truck was to
    be there moves the report; the end of the last stop's work, or later work, moves the release.
    The ways from and to the yard stay as planned."""
    return tuple(
        _row(plan.date, truck, worked.get(truck.truck_id, Worked()))
        for truck in plan.trucks
        if any(stop.kind == "visit" for stop in truck.stops)
    )


def with_weeks(rows: Sequence[TimeRow]) -> tuple[TimeRow, ...]:
    """The rows of some dates with the drivers' sums of the week; of two on a truck the larger one
    counts, and a truck without a name counts as a driver."""
    mine: dict[str, list[TimeRow]] = {}
    for row in sorted(rows, key=lambda row: (row.date, row.report)):
        for who in _who(row):
            mine.setdefault(who, []).append(row)

    def hours(row: TimeRow, days: int) -> float:
        first = (date.fromisoformat(row.date) - timedelta(days=days - 1)).isoformat()
        return max(
            sum(one.hours_on_duty for one in _since_rest(mine[who], row) if one.date >= first)
            for who in _who(row)
        )

    found = []
    for row in rows:
        sums = [round(hours(row, days), 2) for days, _ in WEEKS]
        pairs = zip(sums, WEEKS, strict=True)
        over = [f"over {most:g} h in {days} days" for total, (days, most) in pairs if total > most]
        found.append(replace(row, hours_7_days=sums[0], hours_8_days=sums[1], over="; ".join(over)))
    return tuple(found)


def _who(row: TimeRow) -> tuple[str, ...]:
    return names_in(row.driver.casefold()) or (f"truck {row.truck}",)


def _since_rest(mine: Sequence[TimeRow], row: TimeRow) -> list[TimeRow]:
    """The driver's rows up to this one, after the last long rest."""
    last = next(at for at, one in enumerate(mine) if one is row)
    first = last
    while first and _moment(mine[first], "report") - _moment(
        mine[first - 1], "release"
    ) < timedelta(hours=REST_HOURS):
        first -= 1
    return list(mine[first : last + 1])


def _moment(row: TimeRow, what: str) -> datetime:
    hour, minute = map(int, str(getattr(row, what)).split(":"))
    return datetime.fromisoformat(row.date) + timedelta(hours=hour, minutes=minute)


def _row(day: str, truck: TruckPlan, worked: Worked) -> TimeRow:
    report, release = truck.stops[0].arrive_min, truck.stops[-1].leave_min
    visits = [stop for stop in truck.stops if stop.kind == "visit"]
    early = late = 0.0
    if worked.first_min is not None:
        early = max(0.0, visits[0].arrive_min - worked.first_min)
    if worked.last_min is not None:
        late = worked.last_min - visits[-1].leave_min
        if not any(work.order_id in worked.ended for work in visits[-1].orders):
            late = max(0.0, late)
    totals = truck.totals
    on_duty_min = totals.paid_min - totals.unworked_min + early + late
    moved = worked.first_min is not None or worked.last_min is not None
    return TimeRow(
        date=day,
        truck=truck.truck_id,
        driver=worked.driver,
        license=worked.license,
        report=hours_text(report - early),
        release=hours_text(release + late),
        lunch_min=round(float(totals.lunch_min), 1),
        hours_on_duty=round(on_duty_min / 60, 2),
        hours_driving=round(totals.drive_min / 60, 2),
        first_recorded="" if worked.first_min is None else hours_text(worked.first_min),
        last_recorded="" if worked.last_min is None else hours_text(worked.last_min),
        basis=RECORDED if moved else PLANNED,
    )
