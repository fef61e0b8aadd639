"""The chain, wired in one place: read, check, measure, load, route, schedule, audit.

Commands, tests and benchmarks go through these functions; papers and map take what they return.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from planner.day.day import Day, Workbook, day_of
from planner.mixing.addition import formulation_problems
from planner.mixing.label_checks import label_problems
from planner.mixing.limits import holds, order_windows
from planner.mixing.recipes import order_gal, recipe_problems, recipes
from planner.mixing.separation import separation
from planner.plan.assemble import Origin, make_plan
from planner.plan.audit import Violation, audit
from planner.plan.document import PlanFileError, from_json
from planner.plan.model import Plan
from planner.problems import Problem, WorkbookError
from planner.roads.open import open_roads
from planner.roads.travel import Leg, Place, RoadError, Roads, Travel, VehicleLimits
from planner.routing.build import build_problem
from planner.routing.engines import engine_named
from planner.routing.loadings import loadings
from planner.routing.problem import Effort, Progress
from planner.tables.office import OfficeFile, load_office_file
from planner.tables.read import Reading, read_workbook

OUTSIDE_FT = 5280.0
"""A place a mile from any drivable road lies outside the extract, not beside a long driveway."""

ROAD_CODES = {
    "ROAD-1": "A place lies outside the road extract",
    "ROAD-2": "A place cannot be reached by road by every truck",
}
"""Codes of problems that only show when the places meet the roads."""


@dataclass(frozen=True)
class DayRoads:
    """Roads of a day, and the drive times of each truck. notes: warnings in words."""

    roads: Roads
    travel_by_truck: dict[str, Travel]
    limits_by_truck: dict[str, VehicleLimits]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class PlannedDay:
    """A plan with what it was made from. violations: what the audit found (must be empty)."""

    plan: Plan
    day: Day
    roads: DayRoads
    violations: tuple[Violation, ...]


def check_workbook(path: Path) -> Reading:
    """Read a workbook and add what the labels' rules find wrong in it."""
    office = load_office_file(path)
    reading = read_workbook(path, office.columns)
    problems = [*office.problems, *reading.problems]
    if reading.workbook is not None:
        problems += recipe_problems(reading.workbook)
        problems += label_problems(reading.workbook)
        problems += formulation_problems(reading.workbook)
    return Reading(reading.workbook, tuple(problems))


def open_day(path: Path, when: date) -> Day:
    """The day of a workbook. Raises WorkbookError with every problem."""
    reading = check_workbook(path)
    if reading.problems or reading.workbook is None:
        raise WorkbookError(reading.problems)
    return day_of(reading.workbook, when)


def open_day_roads(path: Path, day: Day, extract: Path | None) -> DayRoads:
    """Roads for the day's places. extract: goes before the one named in planner.toml.

    Raises WorkbookError for places that the roads do not reach, RoadError for a bad extract.
    """
    office = load_office_file(path)
    chosen = extract or _named_extract(path, office)
    settings = day.workbook.settings
    places = day_places(day)
    roads = open_roads(
        chosen,
        places,
        straight_line_factor=settings.straight_line_factor,
        straight_line_speed_mph=settings.straight_line_speed_mph,
        road_time_factor=settings.road_time_factor,
    )
    notes = [roads.warning] if roads.warning else []
    problems = list(_far_places(day, roads, places, notes))
    if problems:
        raise WorkbookError(problems)
    travel_of: dict[VehicleLimits, Travel] = {}
    limits_by_truck: dict[str, VehicleLimits] = {}
    for truck in day.workbook.trucks.values():
        limits = VehicleLimits(truck.gvwr_lb, truck.height_ft)
        limits_by_truck[truck.truck_id] = limits
        if limits not in travel_of:
            travel_of[limits] = _travel(day, roads, places, limits, truck.truck_id)
    travel_by_truck = {name: travel_of[limits] for name, limits in limits_by_truck.items()}
    return DayRoads(roads, travel_by_truck, limits_by_truck, tuple(notes))


def plan_day(
    day: Day, roads: DayRoads, *, engine: str, effort: Effort, seed: int, progress: Progress
) -> PlannedDay:
    """Measure, load, route, schedule and audit a day."""
    book = day.workbook
    all_recipes = recipes(book)
    held = holds(day)
    held_ids = frozenset(hold.order_id for hold in held)
    windows = {
        order_id: order_windows(day, order)
        for order_id, order in day.orders.items()
        if order_id not in held_ids
    }
    need_gal: dict[str, float] = {}
    for order_id in windows:
        order = day.orders[order_id]
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    apart = separation(book)
    problem = build_problem(
        day,
        all_recipes,
        windows,
        held_ids,
        roads.travel_by_truck,
        {truck.truck_id: loadings(book, truck, apart, need_gal) for truck in book.trucks.values()},
    )
    answer = engine_named(engine).solve(problem, effort, seed, progress)
    progress(1.0, "writing the schedule")
    origin = Origin(
        seed=seed,
        effort=effort_text(effort),
        engine=engine,
        roads=roads.roads.description,
        roads_warning=roads.roads.warning,
    )
    plan = make_plan(day, all_recipes, windows, held, answer, roads.travel_by_truck, origin)
    return PlannedDay(plan, day, roads, audit(plan, day, roads.travel_by_truck))


def open_plan(plan_file: Path, workbook: Path, extract: Path | None) -> PlannedDay:
    """A plan.json with the day and roads it belongs to, audited as it is.

    Raises WorkbookError, RoadError, PlanFileError.
    """
    try:
        text = plan_file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise PlanFileError(f"{plan_file}: {error}") from error
    plan = from_json(text)
    try:
        when = date.fromisoformat(plan.date)
    except ValueError as error:
        raise PlanFileError(f"{plan_file}: date: {error}") from error
    day = open_day(workbook, when)
    roads = open_day_roads(workbook, day, extract)
    return PlannedDay(plan, day, roads, audit(plan, day, roads.travel_by_truck))


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


def day_places(day: Day) -> list[Place]:
    """Every site, and every property with an order that day, each once."""
    book = day.workbook
    due = {order.property_id for order in day.orders.values()}
    return [Place(site.site_id, site.lat, site.lon) for site in book.sites.values()] + [
        Place(home.property_id, home.lat, home.lon)
        for home in book.properties.values()
        if home.property_id in due
    ]


def effort_text(effort: Effort) -> str:
    """'count 300' or 'seconds 20', as plan.json keeps it."""
    return f"count {effort.count}" if effort.seconds is None else f"seconds {effort.seconds:g}"


def _named_extract(path: Path, office: OfficeFile) -> Path | None:
    if office.roads is None:
        return None
    folder = path if path.is_dir() else path.parent
    return folder / office.roads


def _where(book: Workbook, place_id: str) -> tuple[str, int | None]:
    table = "sites" if place_id in book.sites else "properties"
    return book.source.where(table, place_id)


def _far_places(day: Day, roads: Roads, places: list[Place], notes: list[str]) -> Iterable[Problem]:
    far_ft = day.workbook.settings.far_from_road_ft
    for snap in roads.snaps(places):
        file, row = _where(day.workbook, snap.place_id)
        if snap.distance_ft > OUTSIDE_FT:
            yield Problem(
                file,
                row,
                "lat",
                "ROAD-1",
                f"'{snap.place_id}' is {snap.distance_ft / 5280:.1f} miles from the nearest road "
                "of the extract",
                cure="check lat and lon, or use an extract that covers the place",
            )
        elif snap.distance_ft > far_ft:
            notes.append(
                f"{file}, row {row}: '{snap.place_id}' is {snap.distance_ft:.0f} ft from the "
                f"nearest road ({snap.street or 'unnamed'}); check its lat and lon"
            )


def _travel(
    day: Day, roads: Roads, places: list[Place], limits: VehicleLimits, truck_id: str
) -> Travel:
    try:
        return roads.travel(places, limits)
    except RoadError as error:
        if not error.place_ids:
            raise
        raise WorkbookError(
            Problem(
                *_where(day.workbook, place_id),
                "lat",
                "ROAD-2",
                f"truck {truck_id} cannot reach '{place_id}' by road and come back",
                cure="check lat and lon, the truck's height and weight, and the road extract",
            )
            for place_id in error.place_ids
        ) from error
