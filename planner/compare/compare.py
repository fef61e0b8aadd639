"""A comparison from start to end: read, plan what is not kept, reckon."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Final

import planner
from planner.compare.assumptions import assumptions, with_days_between
from planner.compare.calendars import Frame, OwnDays, frame_of, lay_calendars, on_all_days
from planner.compare.days import (
    CALENDAR,
    ORDERS,
    RECORDS,
    Season,
    season_of_orders,
    season_of_records,
)
from planner.compare.fleets import Fleet, merge_same, read_fleets, without_yearly_cost
from planner.compare.model import Comparison, DayResult
from planner.compare.money import Running, money_of
from planner.compare.run import KeptResults, planned, planning_version
from planner.compare.staff import staff_lines
from planner.compare.summary import difference, fleet_result, ranked, spread_of, stat
from planner.compare.sweeps import swept
from planner.compare.tasks import Task, WantedDay, fault_result, fleet_day, key_of, plan_task
from planner.compare.verdict import verdict_lines
from planner.compare.ways import Ways
from planner.day.day import Workbook
from planner.problems import PlannerError, counted, few
from planner.roads.travel import RoadError

DEFAULT_ENGINE: Final = "search"
DEFAULT_COUNT: Final = 40
"""Effort of each day: measured as the best plans for the time of many days (docs/comparing.md)."""


MOST_NAMED = 4
"""Orders named in one line."""

EVER: Final = (dt.date(1900, 1, 1), dt.date(2999, 12, 31))


@dataclass(frozen=True)
class Request:
    """What is to be compared. first, last: days, both included. folders: fleet -> its folder, in
    their order; the name 'present' replaces the workbook's own tables. None as first or last =
    all days. sweeps: as people write them. source: 'orders', 'records' or 'calendar'. seeds:
    plans of each sampled day, sample: so many days; 1 seed = the planner's own spread is not
    measured."""

    workbook: Path
    first: dt.date | None = None
    last: dt.date | None = None
    folders: Mapping[str, Path] = field(default_factory=lambda: MappingProxyType({}))
    sweeps: tuple[str, ...] = ()
    source: str = ORDERS
    engine: str = DEFAULT_ENGINE
    count: int = DEFAULT_COUNT
    seed: int = 1
    seeds: int = 3
    sample: int = 3
    extract: Path | None = None


@dataclass(frozen=True)
class Prepared:
    """A request read and checked: what there is to plan. notes: of the
    fleets: which are others', whose yearly costs are not told. frame: of calendars that are still
    to be laid (see with_calendars), own: fleet -> its days by its calendar, {} = the season's."""

    request: Request
    book: Workbook
    fleets: tuple[Fleet, ...]
    season: Season
    ways: Ways
    notes: tuple[str, ...] = ()
    frame: Frame | None = None
    own: Mapping[str, OwnDays] = field(default_factory=dict)

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """Every day of the comparison."""
        return self.frame.days if self.frame else tuple(day.date for day in self.season.days)

    @property
    def sample(self) -> tuple[dt.date, ...]:
        """Days that are planned with several seeds, spread evenly over all."""
        days = self.dates
        count = min(self.request.sample, len(days)) if self.request.seeds > 1 else 0
        return tuple(days[(2 * at + 1) * len(days) // (2 * count)] for at in range(count))


Told = Callable[[int, int, int], None]
"""Told how far the work is: (tasks done, of them taken from an earlier run, tasks in all)."""


class NoDays(PlannerError):
    """No day of the span has an order; the message says what was looked at."""


def prepare(request: Request) -> Prepared:
    """Read workbook, fleets, days and roads. Raises WorkbookError with every problem of all
    fleets, SweepError, StoreError, CalendarError, RoadError, NoDays."""
    book, fleets = read_fleets(request.workbook, request.folders)
    for text in request.sweeps:
        fleets += swept(text, fleets[0])
    first, last = request.first or EVER[0], request.last or EVER[1]
    frame = None
    if request.source == RECORDS:
        season = season_of_records(request.workbook, book, first, last)
    elif request.source == CALENDAR:
        frame = frame_of(request.workbook, book, first, last, request.engine)
        words = "each fleet's own calendar, laid with its trucks"
        season = Season((), words, ())
    else:
        season = season_of_orders(book, first, last)
    if not (frame.days if frame else season.days):
        span = f" from {request.first or 'the first'} to {request.last or 'the last'}"
        raise NoDays(f"there is no day with {request.source}{span}")
    fleets, merged = merge_same(fleets)
    ways = Ways(request.workbook, book, fleets, request.extract)
    notes = (*merged, *without_yearly_cost(fleets[0], fleets[1:]))
    return Prepared(request, book, tuple(fleets), season, ways, notes, frame)


def with_calendars(
    prepared: Prepared,
    kept: KeptResults,
    told: Callable[[str], None],
    *,
    jobs: int,
    cluster: str | None = None,
) -> Prepared:
    """With a calendar laid for each fleet, as far as it is not kept; itself for other sources.
    Raises BrokenPlan, CalendarError, ClusterError, RoadError."""
    if prepared.frame is None:
        return prepared
    one = prepared.request
    wanted = one.engine, one.count, one.seed
    own = lay_calendars(
        prepared.frame, prepared.fleets, prepared.ways, wanted, kept, told,
        jobs=jobs, cluster=cluster,
    )  # fmt: skip
    held = frozenset.intersection(*(one.held for one in own.values()))
    notes = (
        [f"{counted(len(held), 'open order')} held back on every day, for every fleet"]
        if held
        else []
    )
    # What every fleet leaves for the time after the last day is none that any of them leaves out.
    after = frozenset.intersection(*(one.after for one in own.values()))
    own = {name: one.without(after | held) for name, one in own.items()}
    if after:
        notes.append(
            f"{counted(len(after), 'open order')} left for after the last day with every fleet, in "
            f"time then: {few(sorted(after), MOST_NAMED)}"
        )
    return replace(prepared, season=replace(prepared.season, notes=tuple(notes)), own=own)


def compare(
    prepared: Prepared,
    told: Told,
    *,
    jobs: int,
    cluster: str | None = None,
    kept: KeptResults | None = None,
    laying: Callable[[str], None] = lambda _: None,
) -> Comparison:
    """Plan every day with every fleet, as far as it is not kept from an earlier run, and reckon.
    Each result is kept as soon as it is there. laying: told how far the calendars are. Raises
    BrokenPlan, ClusterError, RoadError."""
    kept = kept or KeptResults()
    prepared = with_calendars(prepared, kept, laying, jobs=jobs, cluster=cluster)
    wanted = list(wanted_of(prepared))
    version = planning_version()
    roads = " ".join((*prepared.ways.told, prepared.ways.identity))
    keys = [key_of(one, roads, version) for one in wanted]
    results: dict[int, DayResult] = {}
    for place, (key, one) in enumerate(zip(keys, wanted, strict=True)):
        found = kept.get(key, one.fleet)
        if found is not None:
            results[place] = found
    before = len(results)
    told(before, before, len(wanted))
    places: list[int] = []
    tasks = _tasks(wanted, results, prepared.ways, places)
    for at, result in planned(tasks, plan_task, jobs=jobs, cluster=cluster):
        place = places[at]
        results[place] = kept.put(keys[place], result, wanted[place].engine)
        told(len(results), before, len(wanted))
    kept.throw_away_oldest()
    return reckon(prepared, [results[place] for place in range(len(wanted))])


def wanted_of(prepared: Prepared) -> Iterator[WantedDay]:
    """Every task: day by day, so that the fleets of a day share its times."""
    request = prepared.request
    sample = set(prepared.sample)
    same = {day.date: day for day in prepared.season.days}
    for when in prepared.dates:
        seeds = range(request.seed, request.seed + (request.seeds if when in sample else 1))
        for fleet in prepared.fleets:
            day = (prepared.own[fleet.name].days if prepared.own else same).get(when)
            if day is None:
                continue
            its_day = fleet_day(day, fleet, prepared.ways.out_of_reach(fleet))
            for seed in seeds:
                yield WantedDay(fleet.name, its_day, seed, request.engine, request.count)


def _tasks(
    wanted: Sequence[WantedDay], results: dict[int, DayResult], ways: Ways, places: list[int]
) -> Iterator[Task]:
    """Tasks of what is not in the results. places: of each task that was drawn, among the wanted.
    A day that roads keep from being planned becomes a result with its fault at once; it is not
    kept, because it costs nothing to find again."""
    for place, one in enumerate(wanted):
        if place in results:
            continue
        try:
            travel = ways.travel(one.day)
        except RoadError as error:
            results[place] = fault_result(one.fleet, one.day, one.seed, one.engine, str(error))
            continue
        places.append(place)
        yield Task(one, ways.told, travel)


def reckon(prepared: Prepared, results: Sequence[DayResult]) -> Comparison:
    """Fleets side by side out of the results of all tasks."""
    request = prepared.request
    planned_days: dict[str, list[DayResult]] = {fleet.name: [] for fleet in prepared.fleets}
    samples: dict[tuple[str, str], list[DayResult]] = {}
    for result in results:
        if result.seed == request.seed:
            planned_days[result.fleet].append(result)
        samples.setdefault((result.fleet, result.date), []).append(result)
    for name, own in prepared.own.items():
        planned_days[name] = on_all_days(own, prepared.dates, planned_days[name], name)
    calendars = bool(prepared.own)
    # Of plans alone: only one of each day's seeds stands in the row of days.
    spread = spread_of(list(samples.values()))
    days_of = {
        fleet.name: with_days_between(fleet, prepared.book, planned_days[fleet.name])
        for fleet in prepared.fleets
    }
    differences = {
        (one, other): difference(days_of[one], days_of[other], spread, calendars)
        for one in days_of
        for other in days_of
        if one != other
    }
    present = prepared.fleets[0]
    good = [day for day in days_of[present.name] if not day.fault]
    present_cost = stat("cost", good) if good else None
    present_late = sum(day.late_cost for day in good) / max(1, len(good))
    fleets = []
    for fleet in prepared.fleets:
        against = differences.get((fleet.name, present.name))
        money = money_of(fleet, present, Running(present_cost, against, present_late))
        row = fleet_result(fleet, days_of[fleet.name], list(days_of.values()), money, calendars)
        if own_days := prepared.own.get(fleet.name):
            without = sum(map(len, own_days.waiting.values()))
            late = sum(day.late_cost for day in row.days) / len(row.days)
            row = replace(row, late_orders=own_days.late, late_cost=late, without_day=without)
        fleets.append(replace(row, against_present=against))
    dates = tuple(map(str, prepared.dates))
    engines = sorted({result.engine for result in results})
    comparison = Comparison(
        company=prepared.book.settings.company,
        currency=prepared.book.settings.currency,
        dates=dates,
        source=prepared.season.words,
        engine=", ".join(engines),
        effort=f"count {request.count}",
        seed=request.seed,
        roads=prepared.ways.told[0],
        roads_warning=prepared.ways.told[1],
        workbook_sha256=prepared.book.sha256,
        planner_version=planner.__version__,
        fleets=ranked(fleets, differences),
        differences=tuple(differences.values()),
        spread=spread,
        assumptions=assumptions(
            prepared.season, request.count, spread, len(dates), own_calendars=calendars
        ),
        notes=(*prepared.notes, *prepared.season.notes, *prepared.ways.notes),
    )
    staff = staff_lines(prepared.book, prepared.fleets)
    return replace(comparison, verdict=(*verdict_lines(comparison), *staff))
