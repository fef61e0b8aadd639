"""Distances and bearings on the globe."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

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
