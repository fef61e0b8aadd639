"""Lines and areas on a flat map; the only import of shapely."""

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import shapely
from numpy.typing import NDArray


def simplified(points: Sequence[tuple[int, int]], least_bend: float) -> list[tuple[int, int]]:
    """The points without those that bend the line by least_bend units or less (the method of
    Douglas and Peucker, kept to the ends of the line). A line of less than two points stays."""
    if len(points) < 2:
        return list(points)
    line = shapely.LineString(points).simplify(least_bend, preserve_topology=False)
    return [(int(x), int(y)) for x, y in line.coords]


def covered_and_shared(groups: Sequence[NDArray[Any]]) -> tuple[float, float]:
    """The area inside any convex hull of the groups' points (rows of x, y), and inside two or more,
    in squares of their unit."""
    hulls = [shapely.MultiPoint(one).convex_hull for one in groups]
    shared = shapely.union_all([a.intersection(b) for a, b in combinations(hulls, 2)]).area
    return float(shapely.union_all(hulls).area), float(shared)
