"""The right source of times and ways for what the user gave: an extract, a table that somebody
else made (CSV with from, to, minutes, miles), or straight lines, made longer by a factor."""

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from planner.plain_files import text_of, why
from planner.roads.limits import ANY_DAY, HoursWorked
from planner.roads.sphere import FT_PER_MILE, great_circle_ft
from planner.roads.travel import (
    OPENSTREETMAP_CREDIT,
    Leg,
    Place,
    RoadDoubts,
    RoadError,
    Roads,
    RoadStretch,
    Snap,
    Travel,
    VehicleLimits,
)


class NoNetwork:
    """Answers of a source of times that knows no streets."""

    def leg(self, start: Place, end: Place, limits: VehicleLimits | None = None) -> Leg:
        """The straight line."""
        return straight_leg(start, end)

    def points(
        self, start: Place, end: Place, limits: VehicleLimits | None = None
    ) -> tuple[tuple[float, float], ...]:
        """Of the straight line."""
        return straight_leg(start, end).points

    def snaps(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> list[Snap]:
        """None: there is no road."""
        return []

    def streets(self) -> list[RoadStretch]:
        """None: there is no road."""
        return []

    def doubts(self, places: Sequence[Place]) -> RoadDoubts:
        """None: there is no road."""
        return RoadDoubts()

    def beside_dropped(self, places: Sequence[Place]) -> frozenset[str]:
        """None: there is no road."""
        return frozenset()


class StraightLineRoads(NoNetwork):
    """Straight line times a factor, at one speed; see the Roads protocol."""

    credit = ""

    def __init__(self, factor: float, speed_mph: float) -> None:
        self._factor, self._speed_mph = factor, speed_mph
        self.description = f"straight line × {factor:g} at {speed_mph:g} mph"
        self.warning = (
            "NO ROAD MAP: drive times are guessed from straight lines "
            f"(× {factor:g} at {speed_mph:g} mph). Rivers, one-way streets and closed roads are "
            "not known. Give a road extract of your county before you rely on the clock times."
        )

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places; limits change nothing."""
        lat = np.array([place.lat for place in places], dtype=np.float64)
        lon = np.array([place.lon for place in places], dtype=np.float64)
        feet = great_circle_ft(lat[:, None], lon[:, None], lat[None, :], lon[None, :])
        miles = feet / FT_PER_MILE * self._factor
        np.fill_diagonal(miles, 0.0)
        ids = tuple(place.place_id for place in places)
        return Travel(ids, miles / self._speed_mph * 60.0, miles)


def straight_leg(start: Place, end: Place) -> Leg:
    """A leg drawn as a straight line, without streets."""
    return Leg(((start.lat, start.lon), (end.lat, end.lon)), ())


def straight_line(factor: float, speed_mph: float) -> StraightLineRoads:
    """Roads guessed from straight lines. factor: road miles per straight mile; speed_mph: all day.
    Raises ValueError when either is not above 0."""
    if not (factor > 0 and speed_mph > 0):
        raise ValueError("factor and speed_mph must be above 0")
    return StraightLineRoads(factor, speed_mph)


COLUMNS = ("from", "to", "minutes", "miles")
MOST = 1440
"""Minutes of a day; no trip of a crew has as many miles either."""
FASTEST_MILES_PER_MIN = 2.0
MOST_NAMED = 20
"""A message names this many pairs or rows and counts the rest."""


class GivenRoads(NoNetwork):
    """Times and miles by pairs of place ids; see the Roads protocol."""

    credit = ""

    def __init__(self, name: str, pairs: dict[tuple[str, str], tuple[float, float]]) -> None:
        self._name, self._pairs = name, pairs
        self.description = f"times and miles given in {name}"
        self.warning = (
            f"Drive times come from the table {name}, not from a road map; lines on the map are "
            "straight."
        )

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places; limits change nothing. Raises RoadError naming
        every pair that the table lacks (each direction is a pair of its own)."""
        ids = tuple(place.place_id for place in places)
        missing = [(a, b) for a in ids for b in ids if a != b and (a, b) not in self._pairs]
        if missing:
            named = _some([f"{a} to {b}" for a, b in missing])
            lacking = dict.fromkeys(place for pair in missing for place in pair)
            raise RoadError(f"{self._name} has no row for {named}", tuple(lacking))
        both = np.array(
            [[self._pairs[a, b] if a != b else (0.0, 0.0) for b in ids] for a in ids],
            dtype=np.float64,
        ).reshape(len(ids), len(ids), 2)
        return Travel(ids, both[:, :, 0].copy(), both[:, :, 1].copy())


def given(path: Path) -> GivenRoads:
    """Roads from a table file. Raises RoadError with everything that is wrong in it."""
    try:
        text = text_of(path, "utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RoadError(f"the table of times {path.name} cannot be read: {why(error)}") from error
    lines = text.splitlines()
    separator = ";" if lines and ";" in lines[0] else ","
    rows = list(csv.reader(lines, delimiter=separator))
    header = [cell.strip().lower() for cell in rows[0]] if rows else []
    lacking = [column for column in COLUMNS if column not in header]
    if lacking:
        raise RoadError(
            f"{path.name} needs the columns {', '.join(COLUMNS)}; it lacks {', '.join(lacking)}"
        )
    at = [header.index(column) for column in COLUMNS]
    pairs: dict[tuple[str, str], tuple[float, float]] = {}
    wrong: list[str] = []
    for number, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        start, end, minutes, miles = (cells[i] if i < len(cells) else "" for i in at)
        drive_min, drive_miles = _amount(minutes), _amount(miles)
        if not start or not end:
            wrong.append(f"row {number}: from or to is blank")
        elif drive_min is None or drive_miles is None:
            found = f"{minutes[:20]!r} and {miles[:20]!r}"
            wrong.append(
                f"row {number}: minutes and miles must be from 0 to {MOST:,} (found {found})"
            )
        elif drive_miles > 1 and drive_miles > drive_min * FASTEST_MILES_PER_MIN:
            wrong.append(f"row {number}: {miles} miles in {minutes} minutes; no truck is so fast")
        elif pairs.setdefault((start, end), (drive_min, drive_miles)) != (drive_min, drive_miles):
            wrong.append(f"row {number}: {start} to {end} stands twice with different times")
    if wrong:
        raise RoadError(f"{path.name}: {_some(wrong)}")
    return GivenRoads(path.name, pairs)


def _amount(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0 <= value <= MOST else None


def _some(texts: list[str]) -> str:
    more = len(texts) - MOST_NAMED
    return "; ".join(texts[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


TOWN_SCRIPT = "demo_data/make_town.py"
"""How the extract of the demo town names its writer; the demo is not OpenStreetMap's data."""

INVENTED_CREDIT = "An invented town: no real streets"

EXTRACT_SUFFIXES = (".osm.pbf", ".pbf", ".osm", ".osm.gz", ".osm.bz2")


def open_roads(
    path: Path | None,
    places: Sequence[Place],
    *,
    straight_line_factor: float,
    straight_line_speed_mph: float,
    road_time_factor: float,
    worked: HoursWorked = ANY_DAY,
) -> Roads:
    """Roads from an OpenStreetMap extract (clipped around the places; give all places of the
    workbook, so that the clip stays the same from day to day), from a table of times (.csv), or
    from straight lines when path is None. road_time_factor multiplies the minutes of an extract;
    worked: limits and closures of its streets that cannot hold then do not count.
    Raises RoadError when the file is missing, broken, of another kind or holds no road there."""
    if path is None:
        return straight_line(straight_line_factor, straight_line_speed_mph)
    name = path.name.lower()
    if name.endswith(".csv"):
        return given(path)
    if not name.endswith(EXTRACT_SUFFIXES):
        raise RoadError(
            f"{path.name} is no road file that the planner reads; give an OpenStreetMap extract "
            "(.osm.pbf) or a table of times (.csv)"
        )
    from planner.roads.cache import cached_graph
    from planner.roads.extract import ExtractRoads
    from planner.roads.network import clip_around
    from planner.roads.reader import written_by

    graph, sha256, _ = cached_graph(path, clip_around(places), worked)
    # Whatever says nothing else of itself counts as OpenStreetMap's data.
    credit = INVENTED_CREDIT if written_by(path) == TOWN_SCRIPT else OPENSTREETMAP_CREDIT
    description = f"roads of {path.name} (sha256 {sha256[:12]})"
    return ExtractRoads(graph, description, road_time_factor, credit, worked)
