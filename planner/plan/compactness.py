"""How much the trucks' areas overlap, and how far a truck's orders lie from each other."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from planner.day.day import Day
from planner.plan.model import Plan
from planner.routing.build import flat_miles


@dataclass(frozen=True)
class Compactness:
    """overlap_mi2: ground inside the convex hulls of the properties of two trucks or more;
    overlap_share: of all ground inside any hull, 0 to 1; middle_miles: straight miles of an order
    from the middle (mean) of its truck's orders, mean over the orders."""

    overlap_mi2: float
    overlap_share: float
    middle_miles: float


def compactness(plan: Plan, day: Day) -> Compactness:
    """Of the plan's visits. Places are laid on a flat map; refills and yards do not count, for they
    are where they are. Orders at properties that the day does not have are passed over."""
    places = list(day.workbook.properties)
    xy = dict(zip(places, flat_miles(day, places), strict=True))
    points = [
        np.array(
            [xy[stop.place_id] for stop in truck.stops for _ in stop.orders if stop.place_id in xy]
        )
        for truck in plan.trucks
    ]
    points = [one for one in points if len(one)]
    hulls = [shapely.MultiPoint(one).convex_hull for one in points]
    covered = shapely.union_all(hulls).area
    shared = shapely.union_all([a.intersection(b) for a, b in combinations(hulls, 2)]).area
    away = [np.hypot(*(one - one.mean(axis=0)).T) for one in points]
    return Compactness(
        overlap_mi2=float(shared),
        overlap_share=float(shared / covered) if covered > 0 else 0.0,
        middle_miles=float(np.concatenate(away).mean()) if away else 0.0,
    )
