"""A calendar of its own for every fleet: the days on which its trucks would do the orders."""

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from planner.compare.days import days_of, renewed
from planner.compare.fleets import Fleet
from planner.compare.model import DayResult
from planner.compare.run import KeptResults, planned, planning_version
from planner.compare.tasks import BrokenPlan, WantedDay, fleet_day, key_of
from planner.compare.ways import Ways
from planner.day.day import Day, Workbook, day_of
from planner.day.parts import whole_ids
from planner.kept_home import calendar_path
from planner.plan.model import NotDone
from planner.plan.totals import NOTHING
from planner.records.outcome import with_records
from planner.routing.problem import Effort, SolveOptions
from planner.weeks.audit import calendar_faults
from planner.weeks.branches import BranchTask, lay_branch
from planner.weeks.lay import Horizon, back_later
from planner.weeks.model import Calendar, CalendarError, read_calendar

NO_ROOM = ("NO-TRUCK", "NO-MIX", "NO-HOSE", "TOO-LARGE", "LINKED", "FULL")
"""Codes of orders that have no day because of the fleet; the others wait by a rule or a person."""
HELD_BACK = ("HELD", "KEPT-OUT")
"""Of these, codes of orders that no day is open to; a license may be the rule, and the fleet's."""


@dataclass(frozen=True)
class Frame:
    """What the calendars of all fleets have in common. whole: the first day with every open order,
    before any fleet's trucks; days: working days; wet: of them, taken as lost; rain_given: as of
    Calendar."""

    whole: Day
    days: tuple[dt.date, ...]
    closed: Mapping[str, str]
    wet: frozenset[dt.date]
    rain_given: float | None


@dataclass(frozen=True)
class OwnDays:
    """A fleet's calendar as days to plan. days: by date, without those on which it has nothing to
    do; late: orders that are laid past their span; late_cost: ISO date -> order -> what
    being late, and the chance of it, counts for; waiting: orders without a day for want of room,
    or since a rule or a person holds them back on each of the days, each under the last date that
    would be in time; after: those of them that can still be done in time after the last day; held:
    those that are held back."""

    days: Mapping[dt.date, Day] = field(default_factory=dict)
    late: int = 0
    late_cost: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    waiting: Mapping[str, tuple[NotDone, ...]] = field(default_factory=dict)
    after: frozenset[str] = frozenset()
    held: frozenset[str] = frozenset()

    def without(self, names: Collection[str]) -> "OwnDays":
        """With these orders out of those that wait."""
        rows = {
            day: tuple(row for row in some if row.order_id not in names)
            for day, some in self.waiting.items()
        }
        return replace(self, waiting={day: some for day, some in rows.items() if some})


def frame_of(path: Path, book: Workbook, first: dt.date, last: dt.date, engine: str) -> Frame:
    """The days from first to last of the workbook's calendar (`planner weeks`), and what is open on
    the first of them. Raises CalendarError, StoreError."""
    if engine == "ortools":
        raise CalendarError(
            "--engine ortools plans single days and lays no calendars; use search or nearest-fit"
        )
    file = calendar_path(path)
    standing = read_calendar(file)
    if standing is None:
        raise CalendarError(f"{file} is not there yet; run `planner weeks` first")
    days = tuple(day for day in map(dt.date.fromisoformat, standing.days) if first <= day <= last)
    begin = days[0] if days else first
    whole = day_of(with_records(path, book, begin).workbook, begin)
    bare = replace(
        whole.workbook,
        # What says nothing about fleets stays out, as in the days of the other sources.
        products={name: replace(row, in_store=None) for name, row in book.products.items()},
        properties={
            name: replace(row, usual_truck=None) for name, row in whole.workbook.properties.items()
        },
        settings=replace(book.settings, business_license_until=None),
        applicators=renewed(book),
        notify=(),
        sha256="",
    )
    orders = {name: replace(one, note="") for name, one in bare.orders.items()}
    span = {str(day) for day in days}
    return Frame(
        Day(begin, replace(bare, orders=orders), orders),
        days,
        {
            day: why
            for day, why in standing.closed.items()
            if str(begin) < day < max(span, default="")
        },
        frozenset(dt.date.fromisoformat(day) for day in standing.wet if day in span),
        standing.rain_given,
    )


def lay_calendars(
    frame: Frame,
    fleets: Sequence[Fleet],
    ways: Ways,
    wanted: tuple[str, int, int],
    kept: KeptResults,
    told: Callable[[str], None],
    *,
    jobs: int,
    cluster: str | None,
) -> dict[str, OwnDays]:
    """Fleet -> its days. Every calendar is kept as soon as it is laid. wanted: engine, effort by
    count, seed. Raises BrokenPlan, CalendarError, ClusterError, RoadError."""
    engine, count, seed = wanted
    version, found = planning_version(), dict[str, Calendar]()
    missing: list[tuple[Fleet, str, Horizon]] = []
    horizons = {fleet.name: _horizon(frame, fleet, ways) for fleet in fleets}
    for fleet in fleets:
        horizon = horizons[fleet.name]
        rest = [*map(str, frame.days), *sorted(map(str, frame.wet)), str(frame.rain_given)]
        roads = " ".join((*ways.told, ways.identity, "calendar", *rest))
        key = key_of(WantedDay(fleet.name, horizon.day, seed, engine, count), roads, version)
        if (calendar := kept.calendar(key)) is not None:
            found[fleet.name] = calendar
        else:
            missing.append((fleet, key, horizon))
    options = SolveOptions(Effort(count=count), seed, engine=engine)
    more = {"wet": frame.wet, "rain_percent": frame.rain_given, "put_off": False}
    tasks = [BranchTask(horizon, options, more) for _, _, horizon in missing]
    told(f"{len(found)} of {len(fleets)} calendars laid")
    for place, calendar in planned(tasks, lay_branch, jobs=jobs, cluster=cluster):
        fleet, key, horizon = missing[place]
        if faults := calendar_faults(calendar, horizon.day, horizon.roads.travel_by_truck):
            raise BrokenPlan(fleet.name, calendar.days[0], tuple(faults))
        found[fleet.name] = kept.put(key, calendar, engine)
        told(f"{len(found)} of {len(fleets)} calendars laid")
    return {name: _own_days(found[name], horizons[name].day.workbook) for name in horizons}


def _horizon(frame: Frame, fleet: Fleet, ways: Ways) -> Horizon:
    """The days with a fleet's trucks, its orders in parts and the drive times of all of them."""
    day = back_later(fleet_day(frame.whole, fleet, ways.out_of_reach(fleet)), frame.days)
    if not day.workbook.trucks:
        raise CalendarError(
            f"fleet {fleet.name} has no truck on any of the days: all are in the shop (out_on)"
        )
    roads = ways.day_roads(day)
    due = day_of(day.workbook, day.date).orders
    ahead = {name: one for name, one in day.orders.items() if name not in due}
    return Horizon(replace(day, orders=due, ahead=ahead), frame.days, frame.closed, roads)


def _own_days(calendar: Calendar, book: Workbook) -> OwnDays:
    waiting: dict[str, dict[str, NotDone]] = {}
    after, held = set(), set()
    for row in calendar.waiting:
        if row.code in (*NO_ROOM, *HELD_BACK):
            # In parts it is still one order, and one that is late already is so on the first day.
            (name,) = whole_ids(book.orders, [row.order_id])
            last = max((day for day in calendar.days if day <= row.due_to), default=None)
            rows = waiting.setdefault(last or calendar.days[0], {})
            rows[name] = NotDone(name, row.code, row.reason)
            if row.code in HELD_BACK:
                held.add(name)
            elif row.last_day > calendar.days[-1]:
                after.add(name)
    lies = {name: dt.date.fromisoformat(day) for name, day in calendar.day_of.items()}
    late = [row.order_id for one in calendar.shares for row in one.orders if row.overdue_days]
    price: dict[str, dict[str, float]] = {}
    for one in calendar.shares:
        of_day = price.setdefault(one.date, {})
        for laid in one.orders:
            (name,) = whole_ids(book.orders, [laid.order_id])
            of_day[name] = of_day.get(name, 0.0) + laid.late_cost
    return OwnDays(
        {day.date: day for day in days_of(book, lies, dt.date.min, dt.date.max)},
        len(whole_ids(book.orders, late)),
        price,
        {day: tuple(rows.values()) for day, rows in waiting.items()},
        frozenset(after),
        frozenset(held),
    )


def on_all_days(
    own: OwnDays, dates: Sequence[dt.date], results: Sequence[DayResult], fleet: str
) -> list[DayResult]:
    """A fleet's results on every day of the calendar: an idle day costs nothing, and an order
    without a day is left out on the last one that would have been in time."""
    by_date = {result.date: result for result in results}
    found = []
    for day in map(str, dates):
        result = by_date.get(day) or DayResult(
            fleet, day, 0, "", 0, 0.0, (), (), (), NOTHING
        )  # fmt: skip
        waiting = own.waiting.get(day, ())
        late = own.late_cost.get(day, {})
        found.append(
            replace(
                result,
                orders=result.orders + len(waiting),
                unserved=(*result.unserved, *waiting),
                late_cost=sum(cost for name, cost in late.items() if name not in result.left_out),
            )
        )
    return found
