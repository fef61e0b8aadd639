"""The right source of times and ways for what the user gave."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from planner.roads.given import given
from planner.roads.hours import ANY_DAY, HoursWorked
from planner.roads.straight_line import straight_line
from planner.roads.travel import OPENSTREETMAP_CREDIT, Place, RoadError, Roads

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
