"""Distances and bearings on the globe."""

import itertools
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Point = tuple[float, float]
"""lat, lon."""

EARTH_RADIUS_FT: Final = 6_371_008.8 / 0.3048
"""Mean radius of WGS 84 (Moritz 2000, Geodetic Reference System 1980, Journal of Geodesy 74)."""

FT_PER_MILE: Final = 5280.0
FT_PER_DEG: Final = EARTH_RADIUS_FT * np.pi / 180.0


def great_circle_ft(lat1: Floats, lon1: Floats, lat2: Floats, lon2: Floats) -> Floats:
    """Feet between points in degrees (haversine); arrays are broadcast."""
    a1, a2 = np.radians(lat1), np.radians(lat2)
    half = np.sin((a2 - a1) / 2) ** 2
    half = half + np.cos(a1) * np.cos(a2) * np.sin(np.radians(lon2 - lon1) / 2) ** 2
    result: Floats = 2 * EARTH_RADIUS_FT * np.arcsin(np.sqrt(np.minimum(half, 1.0)))
    return result


def bearing_deg(lat1: Floats, lon1: Floats, lat2: Floats, lon2: Floats) -> Floats:
    """Compass bearing of short steps, degrees clockwise from north."""
    east = (lon2 - lon1) * np.cos(np.radians((lat1 + lat2) / 2))
    result: Floats = np.degrees(np.arctan2(east, lat2 - lat1)) % 360.0
    return result


def turn_deg(before: Floats, after: Floats) -> Floats:
    """Change of bearing in [-180, 180): right is positive, left negative."""
    result: Floats = (after - before + 180.0) % 360.0 - 180.0
    return result


def along(points: tuple[Point, ...], share: float) -> Point:
    """The point after a share of a line's length."""
    lengths = [apart_ft(a, b) for a, b in itertools.pairwise(points)]
    left = share * sum(lengths)
    for length, a, b in zip(lengths, points, points[1:], strict=False):
        if left <= length and length > 0:
            return part_way(a, b, left / length)
        left -= length
    return points[-1]


def part_way(a: Point, b: Point, share: float) -> Point:
    """The point after a share of the straight way."""
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def apart_ft(a: Point, b: Point) -> float:
    """Feet between two points."""
    return float(great_circle_ft(*(np.array(value) for value in (*a, *b))))


def spread_ft(points: Iterable[Point]) -> float:
    """Feet across the box round the points."""
    lat, lon = zip(*points, strict=True)
    return apart_ft((min(lat), min(lon)), (max(lat), max(lon)))
