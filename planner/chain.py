"""The chain from a workbook to an audited plan: read, check, measure, load, route, schedule.

Commands, tests and benchmarks go through these functions; papers and map take what they return.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path

from planner.compliance.label_checks import label_problems
from planner.compliance.mixed_where import unknown_places
from planner.compliance.people import with_licenses
from planner.compliance.weather import no_forecast
from planner.day.day import Day, Workbook, day_of
from planner.day.parts import in_parts, whole_id
from planner.day.roll import may_be_taken_ahead, with_orders_ahead
from planner.day_roads import DayRoads, check_roads, day_places, open_day_roads
from planner.kept_home import kept_home
from planner.mixing.addition import formulation_problems
from planner.mixing.recipes import recipe_problems
from planner.plain_files import text_of, why
from planner.plan.assemble import Origin, make_plan
from planner.plan.audit import Violation, audit
from planner.plan.document import PlanFileError, from_json
from planner.plan.keep import Kept, kept_trucks, pins_told, still_pinned
from planner.plan.model import Plan
from planner.plan.off_rate import off_rate_notes
from planner.plan.same_lawn import same_lawn_notes
from planner.prepare import prepare_day, routing_problem
from planner.problems import WorkbookError
from planner.records.no_record import no_record
from planner.records.outcome import logged_calls, with_records
from planner.roads.network import Box, widened
from planner.roads.travel import Leg, Place, RoadStretch, Travel
from planner.routing.engines import engine_named
from planner.routing.problem import Effort, SolveOptions
from planner.tables.clock_cells import FIRST_YEAR, LAST_YEAR
from planner.tables.office import load_office_file
from planner.tables.read import WorkbookReading, read_workbook

__all__ = [
    "DayRoads",
    "PlannedDay",
    "background_streets",
    "check_with_roads",
    "check_workbook",
    "checked_workbook",
    "day_in",
    "effort_text",
    "legs_of",
    "open_day",
    "open_day_roads",
    "open_day_to_plan",
    "open_plan",
    "plan_day",
    "read_plan",
    "solve_day",
]

BACKGROUND_MILES = 3.0
"""Streets this far round the day's places and ways are drawn behind them."""


@dataclass(frozen=True)
class PlannedDay:
    """A plan with what it was made from. violations: what the audit found (must be empty). kept:
    what an earlier plan said about its orders, None = it was made without one."""

    plan: Plan
    day: Day
    roads: DayRoads
    violations: tuple[Violation, ...]
    kept: Kept | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What the office must know of tables and roads, in sentences."""
        found = *self.crossing, *off_rate_notes(self.plan, self.day), *self._from_home
        return tuple(
            filter(None, (no_forecast(self.day), *found, *self.day.notes, *self.roads.notes))
        )

    @property
    def _from_home(self) -> list[str]:
        return [
            f"{row.truck_id} goes out though the calendar keeps it home: the office said so."
            for row in self.plan.trucks
            if row.truck_id in self.plan.use_home and row.stops
        ]

    @cached_property
    def crossing(self) -> tuple[str, ...]:
        """Of these, visits to a lawn that is wet, or where another crew works."""
        return same_lawn_notes(self.plan, self.day)


def check_workbook(path: Path) -> WorkbookReading:
    """Read a workbook and add what the labels' rules find wrong in it."""
    office = load_office_file(path)
    reading = read_workbook(path, office.columns)
    problems = [*office.problems, *reading.problems]
    if reading.workbook is not None:
        problems += recipe_problems(reading.workbook)
        problems += label_problems(reading.workbook)
        problems += formulation_problems(reading.workbook)
    return replace(reading, problems=tuple(problems))


def check_with_roads(path: Path) -> tuple[WorkbookReading, tuple[str, ...]]:
    """All that check_workbook finds, and where the places of the good rows lie on the roads that
    planner.toml names; with notes in words."""
    reading = check_workbook(path)
    if reading.workbook is None:
        return reading, reading.notes
    problems, of_roads = check_roads(path, reading.workbook)
    notes = (*reading.notes, *unknown_places(reading.workbook), *of_roads)
    return replace(reading, problems=(*reading.problems, *problems)), notes


def open_day_to_plan(
    path: Path, when: date, later: Collection[str] = (), use_home: bool = False
) -> Day:
    """open_day with the orders that may be taken ahead (rule 32). later: orders that the calendar
    lays on a later day; they are not for this one. use_home: the trucks that it keeps at home may
    go out."""
    day = open_day(path, when, use=None if use_home else ())
    day = replace(day, use_home=day.kept_home if use_home else ())
    whole = {whole_id(day.orders, name) for name in later}
    ahead = {name: one for name, one in may_be_taken_ahead(day).items() if name not in whole}
    return replace(without_later(day, later), ahead=ahead)


def without_later(day: Day, later: Collection[str]) -> Day:
    """The day without its orders that the calendar lays on a later day; laid_later names them."""
    # What the calendar has whole may be divided by now, for the tanks as they are this morning.
    whole = {whole_id(day.orders, name) for name in later}
    orders = {name: one for name, one in day.orders.items() if one.whole_id not in whole}
    laid_later = tuple(name for name in day.orders if name not in orders)
    return replace(day, orders=orders, laid_later=laid_later)


def open_day_of(path: Path, plan: Plan) -> Day:
    """The day of a plan, with the orders that it took in and without those that it left out, and
    with its trucks, of which the audit asks whether they may go out. Raises WorkbookError,
    StoreError."""
    trucks = [row.truck_id for row in plan.trucks]
    when = date.fromisoformat(plan.date)
    return as_planned(open_day(path, when, plan.taken_in, plan.skipped, use=trucks), plan)


def as_planned(day: Day, plan: Plan) -> Day:
    """The day without what the plan knows to lie later, which may be done in parts by now."""
    day = without_later(day, plan.laid_later)
    return replace(day, laid_later=plan.laid_later, use_home=plan.use_home)


def open_day(
    path: Path,
    when: date,
    added: Collection[str] = (),
    skipped: Collection[str] = (),
    use: Collection[str] | None = (),
) -> Day:
    """The day of a workbook, with the records of the days before it laid over the tables. added,
    skipped: orders taken in and left out whatever day they are due; use: trucks that are there
    though the calendar keeps them at home, None = all.

    Raises WorkbookError with every problem, StoreError for records that cannot be read,
    PlannerError for a calendar that cannot be.
    """
    return day_in(path, checked_workbook(path), when, added, skipped, use)


def day_in(
    path: Path,
    book: Workbook,
    when: date,
    added: Collection[str] = (),
    skipped: Collection[str] = (),
    use: Collection[str] | None = (),
) -> Day:
    """open_day for tables that are read already. Raises StoreError, PlannerError."""
    outcome = with_records(path, book, when)
    day = day_of(outcome.workbook, when, added, skipped)
    day = replace(
        day,
        notes=outcome.notes,
        done=outcome.done,
        no_record=no_record(path, outcome.workbook.orders, when),
        called=logged_calls(path, when.isoformat()) if book.notify else (),
        kept_home=tuple(name for name in kept_home(path, when) if name in book.trucks),
    )
    home = () if use is None else [name for name in day.kept_home if name not in use]
    return in_parts(with_licenses(day, home))


def checked_workbook(path: Path) -> Workbook:
    """The tables as they are written. Raises WorkbookError with every problem."""
    reading = check_workbook(path)
    if reading.problems or reading.workbook is None:
        raise WorkbookError(reading.problems)
    return reading.workbook


def plan_day(
    day: Day,
    roads: DayRoads,
    options: SolveOptions,
    keep: Plan | Kept | None = None,
) -> PlannedDay:
    """Measure, load, route, schedule and audit a day. keep: an earlier plan to stay near to."""
    plan, violations, kept = solve_day(day, roads.travel_by_truck, roads.source, options, keep)
    return PlannedDay(plan, with_orders_ahead(day, plan.ahead), roads, violations, kept)


def solve_day(
    day: Day,
    travel_by_truck: Mapping[str, Travel],
    roads: tuple[str, str],
    options: SolveOptions,
    keep: Plan | Kept | None = None,
    threads: int = 2,
) -> tuple[Plan, tuple[Violation, ...], Kept | None]:
    """plan_day for times that are known already: the plan, what the audit found, what was kept.
    roads: their description and warning; threads: cores that the engine may use at once. Of the
    day's orders ahead those that are planned stand in the plan's `ahead`."""
    prepared = prepare_day(day)
    kept = kept_trucks(keep, day) if isinstance(keep, Plan) else keep
    truck_of = kept.truck_of if kept is not None else {}
    pinned = kept.pinned if kept is not None else frozenset()
    problem = routing_problem(prepared, travel_by_truck, kept=truck_of, pinned=pinned)
    solver = engine_named(options.engine, threads)
    answer = solver.solve(problem, options)
    taken: tuple[str, ...] = ()
    if day.ahead:
        from planner.work_ahead import work_ahead

        options.progress(1.0, "looking what can be done ahead")
        prepared, answer, taken = work_ahead(
            prepared, answer, travel_by_truck, truck_of, pinned, options.stop
        )
    options.progress(1.0, "writing the schedule")
    origin = Origin(options.seed, effort_text(options.effort), solver.name, *roads)
    plan = replace(make_plan(prepared, answer, travel_by_truck, origin), ahead=taken)
    if kept is not None:
        plan = replace(
            plan, pinned=still_pinned(kept, plan), unserved=pins_told(kept, plan.unserved)
        )
    return plan, audit(plan, prepared.day, travel_by_truck, roads), kept


def open_plan(plan_file: Path, workbook: Path, extract: Path | None) -> PlannedDay:
    """A plan.json with the day and roads it belongs to, audited as it is.

    Raises WorkbookError, RoadError, PlanFileError.
    """
    plan, _ = read_plan(plan_file)
    day = open_day_of(workbook, plan)
    roads = open_day_roads(workbook, day, extract)
    return PlannedDay(plan, day, roads, audit(plan, day, roads.travel_by_truck, roads.source))


def read_plan(plan_file: Path) -> tuple[Plan, date]:
    """A plan.json and its day. Raises PlanFileError."""
    try:
        plan = from_json(text_of(plan_file))
    except (OSError, UnicodeDecodeError, PlanFileError) as error:
        raise PlanFileError(f"{plan_file}: {why(error)}") from error
    try:
        day = date.fromisoformat(plan.date)
    except ValueError as error:
        raise PlanFileError(f"{plan_file}: date: {error}") from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise PlanFileError(f"{plan_file}: date: {day} is not between {FIRST_YEAR} and {LAST_YEAR}")
    return plan, day


def legs_of(plan: Plan, roads: DayRoads) -> dict[tuple[str, int], Leg]:
    """The way driven to each stop, keyed by truck and stop number."""
    legs: dict[tuple[str, int], Leg] = {}
    for truck in plan.trucks:
        limits = roads.limits_by_truck.get(truck.truck_id)
        for before, stop in zip(truck.stops, truck.stops[1:], strict=False):
            if before.place_id != stop.place_id:
                start = Place(before.place_id, before.lat, before.lon)
                end = Place(stop.place_id, stop.lat, stop.lon)
                legs[(truck.truck_id, stop.seq)] = roads.roads.leg(start, end, limits)
    return legs


def background_streets(
    planned: PlannedDay, legs: Mapping[tuple[str, int], Leg]
) -> list[RoadStretch]:
    """Of the workbook's streets and water, those round the day's places and ways."""
    points = [point for leg in legs.values() for point in leg.points]
    points += [(place.lat, place.lon) for place in day_places(planned.day)]
    lat, lon = zip(*points, strict=True)
    box = widened(Box(min(lat), min(lon), max(lat), max(lon)), BACKGROUND_MILES)
    return [
        street
        for street in planned.roads.roads.streets()
        if any(box.holds(*point) for point in street.points)
    ]


def effort_text(effort: Effort) -> str:
    """'count 300', 'seconds 20' or 'count 300, seconds 20', as plan.json keeps it."""
    both = {"count": effort.count, "seconds": effort.seconds}
    return ", ".join(f"{name} {much:.15g}" for name, much in both.items() if much is not None)
