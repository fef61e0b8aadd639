"""What the town is drawn on: streets, water, and the sheet that collects them.

Feet from the south-west corner of a map of 63,360 x 47,520 ft (12 by 9 miles).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from random import Random

from town_geometry import Point, distance_ft, points, spline
from town_names import Names

CORE: Point = (27_200.0, 25_400.0)
VILLAGE: Point = (51_300.0, 27_300.0)


@dataclass(frozen=True)
class Street:
    """One drawn street. kind: OpenStreetMap highway value; zone: where it lies, which sets the
    lots along it; tags: further OpenStreetMap tags; turning_end: ends in a turning circle;
    tied: 'start', 'end' or 'both': that end is drawn on to whatever street is nearest;
    number_from: the point that house numbers count from (None = its own first point)."""

    name: str
    kind: str
    zone: str
    points: tuple[Point, ...]
    tags: dict[str, str] = field(default_factory=dict)
    turning_end: bool = False
    tied: str = ""
    number_from: Point | None = None


@dataclass(frozen=True)
class Drawing:
    """The town as drawn, before crossings become shared nodes."""

    streets: tuple[Street, ...]
    river: tuple[Point, ...]
    stream: tuple[Point, ...]
    lake: tuple[Point, ...]
    weak_bridge_name: str


def _river() -> list[Point]:
    return spline(
        points(
            "36500,47720 34600,44000 35900,40200 34300,36800 35400,33200 33600,30000 "
            "33900,26600 32900,23300 34400,19800 33300,16000 35000,12600 34000,8800 "
            "35200,4600 34300,-200"
        ),
        250,
    )


def _bank(river: Sequence[Point], by_ft: float) -> list[Point]:
    """A road along the river: every sixth point of it, smoothed and moved aside."""
    coarse = [river[0], *river[6:-6:12], river[-1]]
    return [(x + by_ft, y) for x, y in spline(coarse, 250)]


def lake_ring() -> list[Point]:
    """The shore of the lake, as a ring."""
    middle, ring = (24_600.0, 41_200.0), []
    for k in range(40):
        angle = 2 * math.pi * k / 40
        reach = 1_250 + 330 * math.sin(2 * angle + 0.7) + 190 * math.sin(3 * angle + 2)
        ring.append(
            (middle[0] + 1.5 * reach * math.cos(angle), middle[1] + reach * math.sin(angle))
        )
    return ring


class Sketch:
    """Collects streets; holds the chance and the names they are drawn with."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.names = Names(self.random)
        self.streets: list[Street] = []
        self.river = _river()
        self.west_bank = _bank(self.river, -1_250)
        self.east_bank = _bank(self.river, 1_350)

    def add(self, name: str, kind: str, zone: str, points: Sequence[Point], **more: object) -> None:
        """Draw one street; more: further fields of Street."""
        street = Street(name, kind, zone, tuple(points))
        self.streets.append(replace(street, **more))  # type: ignore[arg-type]


def steps(low: float, high: float, step: float = 240.0) -> list[float]:
    """Even steps from low to high, both included."""
    count = max(1, round((high - low) / step))
    return [low + (high - low) * k / count for k in range(count + 1)]


def around(line: Sequence[Point], middle: Point, half_ft: float) -> tuple[list[Point], list[Point]]:
    """What lies before and after a stretch of 2 x half_ft around a point of the line."""
    before: list[Point] = []
    after: list[Point] = []
    for a, b in itertools.pairwise(line):
        pieces = max(1, round(distance_ft(a, b) / 30))
        for k in range(pieces):
            p = (a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces)
            if distance_ft(p, middle) > half_ft:
                (before if p[0] < middle[0] else after).append(p)
    after.append(line[-1])
    return before, after
