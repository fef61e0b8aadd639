"""Roads of a comparison: read once, times of a day shared by all trucks that may drive alike."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from planner.compare.fleets import Fleet
from planner.day.day import Day, Workbook
from planner.day_roads import (
    DayRoads,
    day_places,
    kept_away,
    limits_of,
    open_book_roads,
    place_problems,
    road_file,
    workbook_places,
)
from planner.problems import Problem, WorkbookError
from planner.roads.cache import content_sha256
from planner.roads.network import clip_around
from planner.roads.travel import Place, Roads, Travel, VehicleLimits
from planner.weeks.branches import named_roads


class Ways:
    """Times and miles for any day and fleet of a comparison.

    told: description and warning of the roads. identity: what they are by content, for keys.
    notes: in words, on places far from any road and on trucks that cannot come near a property.
    Raises WorkbookError for places outside the roads and for yards and water points that a truck
    cannot come near, RoadError for a bad extract.
    """

    def __init__(
        self, workbook: Path, book: Workbook, fleets: Sequence[Fleet], extract: Path | None
    ) -> None:
        self._roads = open_book_roads(workbook, book, extract)
        self.told = (self._roads.description, self._roads.warning)
        self.identity = _identity(road_file(workbook, extract), book)
        self.notes = [*_far_places(book, self._roads, fleets)]
        self._away: dict[VehicleLimits, frozenset[str]] = {}
        for fleet in fleets:
            for truck in fleet.trucks.values():
                limits = limits_of(truck)
                if limits not in self._away:
                    self._away[limits] = kept_away(book, self._roads, limits)
        self.notes += _kept_out(fleets, self._away)
        self._places: list[Place] = []
        self._travel_of: dict[VehicleLimits, Travel] = {}

    def out_of_reach(self, fleet: Fleet) -> dict[str, frozenset[str]]:
        """Truck -> properties that it cannot come near."""
        return {name: self._away[limits_of(truck)] for name, truck in fleet.trucks.items()}

    def travel(self, day: Day) -> dict[str, Travel]:
        """Times of the day's places for its trucks. Those of the last places are kept: ask for
        all fleets of a day one after the other. Raises RoadError."""
        places = day_places(day)
        if self._places != places:
            self._places, self._travel_of = places, {}
        found = {}
        for name, truck in day.workbook.trucks.items():
            limits = limits_of(truck)
            if limits not in self._travel_of:
                self._travel_of[limits] = self._roads.travel(places, limits)
            found[name] = self._travel_of[limits]
        return found

    def day_roads(self, day: Day) -> DayRoads:
        """travel() with what is said of the roads, light enough for another process."""
        limits = {name: limits_of(truck) for name, truck in day.workbook.trucks.items()}
        return DayRoads(named_roads(*self.told), self.travel(day), limits, ())


def _identity(file: Path | None, book: Workbook) -> str:
    if file is None:
        return "straight line"
    clip = clip_around(workbook_places(book))
    return f"{content_sha256(file)} {clip.text() if clip else 'whole'}"


def _far_places(book: Workbook, roads: Roads, fleets: Sequence[Fleet]) -> Iterator[str]:
    """Notes; every problem of every fleet is raised at once."""
    problems: dict[Problem, None] = {}
    notes: dict[str, None] = {}
    for fleet in fleets:
        trucks = dict(fleet.trucks)
        found, told = place_problems(
            replace(book, trucks=trucks), roads, workbook_places(book), set()
        )
        problems |= dict.fromkeys(found)
        notes |= dict.fromkeys(told)
    if problems:
        raise WorkbookError(problems)
    yield from notes


def _kept_out(fleets: Sequence[Fleet], away: dict[VehicleLimits, frozenset[str]]) -> Iterator[str]:
    for fleet in fleets:
        for name, truck in fleet.trucks.items():
            homes = sorted(away[limits_of(truck)])
            if homes:
                yield (
                    f"fleet {fleet.name}: low or weak bridges keep truck {name} away from "
                    f"{', '.join(homes)}; orders there are for its other trucks"
                )
