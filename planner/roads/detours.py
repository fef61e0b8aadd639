"""Why a truck does not take the way that others take."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from planner.roads.graph import RoadGraph
from planner.roads.limits import KINDS
from planner.roads.profile import Restrictions
from planner.roads.travel import VehicleLimits

WORTH_SAYING_MS: Final = 30_000
"""A way round that costs less than half a minute is not told."""

WORDS: Final = {
    "height_ft": "height limit {:.4g} ft",
    "weight_lb": "weight limit {:,.0f} lb",
    "axle_lb": "axle limit {:,.0f} lb",
    "length_ft": "length limit {:.4g} ft",
    "width_ft": "width limit {:.4g} ft",
}


def barred_by(
    graph: RoadGraph, bars: Restrictions, limits: VehicleLimits, shorter: Sequence[int]
) -> str:
    """The first thing that bars the truck on the directed edges of the shorter way, with its
    street, in words."""
    for directed in shorter:
        edge = directed // 2
        if not bars.closed[edge] and not (bars.ends_only[edge] and not graph.ends_only[edge]):
            continue
        street = graph.names[int(graph.point_name[graph.start[edge]])] or "an unnamed road"
        figures = graph.limit_table[graph.limits[edge]]
        for kind, figure in zip(KINDS, figures.tolist(), strict=True):
            size = getattr(limits, kind)
            if size is not None and figure < size:
                return f"{street} ({WORDS[kind].format(figure)})"
        return f"{street} (no trucks)"
    return "the shorter way (a height or weight limit at a point)"
