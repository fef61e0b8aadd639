"""Stops, legs, orders not done and time records as flat rows: what every open format is made of.

Field names carry their unit and are the column names of the CSV files and the property names of
the GeoJSON file. Clock times are HH:MM of the day; past midnight they go on as 24:10.

Time records hold what 49 CFR 395.1(e)(1)(v) has a carrier keep for six months of a driver who
works without a log: when the driver reports and is released, and the hours on duty, each day.
Driving stands beside it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Final

from planner.day.day import Day
from planner.day.fleet import names_in
from planner.day.places import reach_text
from planner.papers.lookup import mix_name, place_text
from planner.plan.model import NotDone, Plan, Stop, TruckPlan
from planner.roads.travel import Leg

DECIMALS_DEG = 6
"""About 4 in; RFC 7946 section 11.2 calls six decimals usual."""


@dataclass(frozen=True)
class StopRow:
    """One stop of one truck. orders, mixes, fills: lists as text, parted by '; '. reach: how the
    customer wants to be reached, or a water point's number."""

    date: str
    truck_id: str
    stop: int
    kind: str
    place_id: str
    name: str
    address: str
    lat: float
    lon: float
    arrive: str
    begin: str
    leave: str
    wait_min: float
    orders: str
    mixes: str
    area_ft2: float
    sprayed_gal: float
    fills: str
    filled_gal: float
    weight_lb_after: float
    reach: str


@dataclass(frozen=True)
class LegRow:
    """The drive to one stop. streets: in driving order, parted by '; '."""

    date: str
    truck_id: str
    to_stop: int
    from_place_id: str
    to_place_id: str
    leave: str
    arrive: str
    drive_min: float
    drive_miles: float
    streets: str


@dataclass(frozen=True)
class NotDoneRow:
    """An order that is held or unserved, with its place."""

    date: str
    status: str
    order_id: str
    property_id: str
    name: str
    address: str
    lat: float
    lon: float
    mix: str
    code: str
    reason: str
    reach: str


def stop_rows(plan: Plan, day: Day) -> tuple[StopRow, ...]:
    """Every stop of every truck, in driving order."""
    return tuple(
        _stop(plan.date, truck_plan, stop, day)
        for truck_plan in plan.trucks
        for stop in truck_plan.stops
    )


def leg_rows(plan: Plan, legs: Mapping[tuple[str, int], Leg]) -> tuple[LegRow, ...]:
    """The drive to every stop but the first of each truck; lunch is taken where the truck stands
    and has no drive. legs: keyed by truck and stop number."""
    rows = []
    for truck_plan in plan.trucks:
        for before, stop in zip(truck_plan.stops, truck_plan.stops[1:], strict=False):
            if stop.kind == "lunch":
                continue
            leg = legs.get((truck_plan.truck_id, stop.seq))
            rows.append(
                LegRow(
                    date=plan.date,
                    truck_id=truck_plan.truck_id,
                    to_stop=stop.seq,
                    from_place_id=before.place_id,
                    to_place_id=stop.place_id,
                    leave=hours_text(before.leave_min),
                    arrive=hours_text(stop.arrive_min),
                    drive_min=round(stop.drive_min, 1),
                    drive_miles=round(stop.drive_miles, 2),
                    streets="; ".join(leg.streets) if leg is not None else "",
                )
            )
    return tuple(rows)


def not_done_rows(plan: Plan, day: Day) -> tuple[NotDoneRow, ...]:
    """Held orders, then unserved ones; those that the workbook does not hold are passed over."""
    pairs = [("held", entry) for entry in plan.held]
    pairs += [("unserved", entry) for entry in plan.unserved]
    return tuple(
        row
        for status, entry in pairs
        if (row := _not_done(plan.date, status, entry, day)) is not None
    )


def hours_text(minutes: float) -> str:
    """Minutes after midnight as HH:MM, to the nearest minute."""
    hour, minute = divmod(int(minutes + 0.5), 60)
    return f"{hour:02d}:{minute:02d}"


def _stop(date: str, truck_plan: TruckPlan, stop: Stop, day: Day) -> StopRow:
    place = place_text(day, stop.place_id)
    at = day.workbook.properties.get(stop.place_id)
    names = dict.fromkeys(mix_name(day, work.mix_id) for work in stop.orders)
    fills = [
        f"{fill.compartment_id}: {mix_name(day, fill.mix_id)} {fill.gal:g} gal "
        f"to {fill.level_after_gal:.1f} gal"
        for fill in stop.fills
    ]
    return StopRow(
        date=date,
        truck_id=truck_plan.truck_id,
        stop=stop.seq,
        kind=stop.kind,
        place_id=stop.place_id,
        name=place.title,
        address=place.address,
        lat=round(stop.lat, DECIMALS_DEG),
        lon=round(stop.lon, DECIMALS_DEG),
        arrive=hours_text(stop.arrive_min),
        begin=hours_text(stop.begin_min),
        leave=hours_text(stop.leave_min),
        wait_min=0.0 if stop.kind == "depart" else round(stop.begin_min - stop.arrive_min, 1),
        orders="; ".join(work.order_id for work in stop.orders),
        mixes="; ".join(names),
        area_ft2=round(sum(work.area_ft2 for work in stop.orders), 1),
        sprayed_gal=round(sum(work.gal for work in stop.orders), 2),
        fills="; ".join(fills),
        filled_gal=round(sum(fill.gal for fill in stop.fills), 2),
        weight_lb_after=round(stop.weight_lb_after, 1),
        reach=reach_text(at) if at is not None else place.phone,
    )


def _not_done(date: str, status: str, entry: NotDone, day: Day) -> NotDoneRow | None:
    order = day.workbook.orders.get(entry.order_id)
    at = day.workbook.properties.get(order.property_id) if order is not None else None
    if order is None or at is None:
        return None
    place = place_text(day, order.property_id)
    return NotDoneRow(
        date=date,
        status=status,
        order_id=entry.order_id,
        property_id=order.property_id,
        name=place.title,
        address=place.address,
        lat=round(at.lat, DECIMALS_DEG),
        lon=round(at.lon, DECIMALS_DEG),
        mix=mix_name(day, order.mix_id),
        code=entry.code,
        reason=entry.reason,
        reach=reach_text(at),
    )


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
