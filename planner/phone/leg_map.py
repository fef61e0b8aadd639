"""The drawn map of one leg: the way, where it begins and ends, and the streets and water around.

Only numbers and SVG path texts; the template draws them. North is up.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from planner.maps.background import simplify
from planner.roads.travel import Leg, RoadStretch

WIDTH, HEIGHT = 360, 150
"""Drawn size, in SVG user units."""

MARGIN = 26
"""Free room around the way, for the number at its end."""

LEAST_SPAN_DEG = 0.002
"""A leg along one block is drawn with the blocks beside it (about 730 ft)."""

SHARPNESS = 4
"""Lines are simplified on a grid this many times finer than what is drawn."""

MOST_SIGNS: Final = 26_000
"""So many signs of path text behind the ways of all legs of a truck: its page stays small, and a
map of every lane cannot be read in the sun."""

SHARES: Final = {"water": 0.2, "major": 0.35, "minor": 0.45}
"""Of them, by kind."""

LEAST_SIGNS: Final = 10
"""No line takes less."""

Point = tuple[float, float]


@dataclass(frozen=True)
class LegMap:
    """What is drawn. way, water, major, minor: path texts; start, end: (x, y)."""

    way: str
    water: str
    major: str
    minor: str
    start: tuple[int, int]
    end: tuple[int, int]

    @property
    def background_signs(self) -> int:
        """Length of what lies behind the way."""
        return len(self.water) + len(self.minor) + len(self.major)


class Backdrop:
    """Streets and water of the day, found by their place. Built once for all legs."""

    def __init__(self, streets: Iterable[RoadStretch]) -> None:
        self._rows = [(_box(street.points), street) for street in streets if street.points]

    def near(self, box: tuple[float, float, float, float]) -> list[RoadStretch]:
        """Those that may cross the box (least lat, least lon, most lat, most lon)."""
        south, west, north, east = box
        return [
            street
            for (low_lat, low_lon, high_lat, high_lon), street in self._rows
            if low_lat <= north and high_lat >= south and low_lon <= east and high_lon >= west
        ]


def leg_map(leg: Leg, backdrop: Backdrop, most_signs: float = MOST_SIGNS) -> LegMap:
    """The map of one leg, the longest lines of each kind first where there is no room for all.
    most_signs: of path text behind the way."""
    view = _View(leg.points)
    lines: dict[str, list[list[Point]]] = {kind: [] for kind in SHARES}
    for street in backdrop.near(view.box):
        kind = street.kind if street.kind in lines else "minor"
        lines[kind] += view.pieces(street.points)
    way = [view.at(point) for point in leg.points]
    return LegMap(
        way=_path(way),
        **{
            kind: "".join(_that_fit(lines[kind], share * most_signs))
            for kind, share in SHARES.items()
        },
        start=(round(way[0][0]), round(way[0][1])),
        end=(round(way[-1][0]), round(way[-1][1])),
    )


class _View:
    def __init__(self, points: Sequence[Point]) -> None:
        south, west, north, east = _box(points)
        mid_lat, mid_lon = (south + north) / 2, (west + east) / 2
        narrow = math.cos(math.radians(mid_lat))
        scale = min(
            (WIDTH - 2 * MARGIN) / max((east - west) * narrow, LEAST_SPAN_DEG),
            (HEIGHT - 2 * MARGIN) / max(north - south, LEAST_SPAN_DEG),
        )
        self._scale_x, self._scale_y = scale * narrow, scale
        self._west, self._north = mid_lon - WIDTH / 2 / self._scale_x, mid_lat + HEIGHT / 2 / scale
        half_lat, half_lon = HEIGHT / 2 / scale, WIDTH / 2 / self._scale_x
        self.box = (mid_lat - half_lat, mid_lon - half_lon, mid_lat + half_lat, mid_lon + half_lon)

    def at(self, point: Point) -> Point:
        return ((point[1] - self._west) * self._scale_x, (self._north - point[0]) * self._scale_y)

    def pieces(self, points: Sequence[Point]) -> list[list[Point]]:
        """The parts of a line that are seen, each with a point beyond the edge at its ends."""
        found: list[list[Point]] = []
        drawn = [self.at(point) for point in points]
        for a, b in pairwise(drawn):
            if max(a[0], b[0]) < 0 or min(a[0], b[0]) > WIDTH:
                continue
            if max(a[1], b[1]) < 0 or min(a[1], b[1]) > HEIGHT:
                continue
            if found and found[-1][-1] == a:
                found[-1].append(b)
            else:
                found.append([a, b])
        return found


def _box(points: Sequence[Point]) -> tuple[float, float, float, float]:
    lats, lons = [lat for lat, _ in points], [lon for _, lon in points]
    return min(lats), min(lons), max(lats), max(lons)


def _that_fit(lines: list[list[Point]], most_signs: float) -> Iterator[str]:
    """Path texts, the longest lines first."""
    signs = 0
    for line in sorted(lines, key=_length, reverse=True):
        if signs > most_signs - LEAST_SIGNS:
            return
        text = _path(line)
        if signs + len(text) <= most_signs:
            signs += len(text)
            yield text


def _length(line: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(line))


def _path(line: Sequence[Point]) -> str:
    """SVG path text in whole units, from the line's beginning by steps; '' for a mere point."""
    fine = [(round(x * SHARPNESS), round(y * SHARPNESS)) for x, y in line]
    points = [(round(x / SHARPNESS), round(y / SHARPNESS)) for x, y in simplify(fine)]
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points) if a != b]
    tail = " ".join(f"{x} {y}" for x, y in steps).replace(" -", "-")
    return f"M{points[0][0]} {points[0][1]}l{tail}" if steps else ""
