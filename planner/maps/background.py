"""Streets and water packed small enough to travel inside the map page.

A street is one list of whole numbers: latitude and longitude of its first point in units of 1e-5
degree (about 3.6 ft), then the steps to each next point. Names are listed once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.roads.travel import RoadStretch
from planner.shapes import simplified

UNITS_PER_DEG = 100_000
"""Five decimals of a degree."""

LEAST_BEND_UNITS = 4.0
"""A point this near the straight line between its neighbors (15 ft) is not seen on a map."""

Point = tuple[int, int]


@dataclass(frozen=True)
class Background:
    """names: of streets; lines: kind -> list of [name number, lat, lon, step, step, ...]."""

    names: tuple[str, ...]
    lines: dict[str, list[list[int]]]


def background(streets: Sequence[RoadStretch]) -> Background:
    """The streets, simplified and packed. Kinds other than major and water count as minor."""
    names: dict[str, int] = {"": 0}
    lines: dict[str, list[list[int]]] = {"water": [], "minor": [], "major": []}
    for street in streets:
        points = simplify([_units(point) for point in street.points])
        if len(points) < 2:
            continue
        number = names.setdefault(street.name, len(names))
        kind = street.kind if street.kind in lines else "minor"
        lines[kind].append([number, *_steps(points)])
    return Background(tuple(names), lines)


def packed_way(points: Sequence[tuple[float, float]], *, is_simple: bool = False) -> list[int]:
    """A truck's way as [lat, lon, step, step, ...], simplified; [] for less than two points.
    is_simple: it is simplified already."""
    units = [_units(point) for point in points]
    kept = units if is_simple else simplify(units)
    return _steps(kept) if len(kept) > 1 else []


def simple_way(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """The (lat, lon) that are left of a way when it is simplified."""
    kept = simplify([_units(point) for point in points])
    return tuple((lat / UNITS_PER_DEG, lon / UNITS_PER_DEG) for lat, lon in kept)


def _units(point: tuple[float, float]) -> Point:
    return round(point[0] * UNITS_PER_DEG), round(point[1] * UNITS_PER_DEG)


def _steps(points: Sequence[Point]) -> list[int]:
    steps = [*points[0]]
    for before, point in pairwise(points):
        steps += [point[0] - before[0], point[1] - before[1]]
    return steps


def simplify(points: Sequence[Point]) -> list[Point]:
    """The points without those that bend the line by less than LEAST_BEND_UNITS."""
    return simplified(points, LEAST_BEND_UNITS)
