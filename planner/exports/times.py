"""A crew's day as a time record: report, release, hours on duty and at the wheel.

What 49 CFR 395.1(e)(1)(v) has a carrier keep for six months of a driver who works without a log:
when the driver reports and is released, and the hours on duty, each day. Driving stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.exports.rows import hours_text
from planner.plan.model import Plan, TruckPlan

PLANNED = "planned"
RECORDED = "planned, moved by recorded times"


@dataclass(frozen=True)
class TimeRow:
    """A truck's crew on one day. hours_on_duty: without lunch, with what is paid beside the clock
    (cleaning, loading the evening before); first_recorded, last_recorded: of the work written down,
    '' = none; basis: PLANNED or RECORDED."""

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


def _row(date: str, truck: TruckPlan, worked: Worked) -> TimeRow:
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
        date=date,
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
