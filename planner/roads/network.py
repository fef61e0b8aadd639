"""The roads of an extract as read, before they become a graph."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.roads.tags import NodeRule, WayRule
from planner.roads.travel import Place

CLIP_MARGIN_MILES = 5.0
"""Roads this far round the places are kept, so that a trip may swing out to a better road."""

CLIP_STEP_DEG = 0.05
"""Boxes are widened to this grid, so that one more customer does not make another clip (and
another graph in the cache) every evening."""

MILES_PER_DEG_LAT = 69.0
"""To the nearest mile; only the size of the margin depends on it."""


@dataclass(frozen=True)
class Box:
    """A span of degrees; both ends belong to it."""

    south: float
    west: float
    north: float
    east: float

    def holds(self, lat: float, lon: float) -> bool:
        """Whether a point lies in it."""
        return self.south <= lat <= self.north and self.west <= lon <= self.east

    def text(self) -> str:
        """The box for a cache key."""
        return f"{self.south:.4f},{self.west:.4f},{self.north:.4f},{self.east:.4f}"


def clip_around(places: Sequence[Place]) -> Box | None:
    """The box round the places with its margin, on the grid; None (everything) without places."""
    if not places:
        return None
    lat, lon = [place.lat for place in places], [place.lon for place in places]
    box = widened(Box(min(lat), min(lon), max(lat), max(lon)), CLIP_MARGIN_MILES)
    step = CLIP_STEP_DEG
    return Box(
        math.floor(box.south / step) * step,
        math.floor(box.west / step) * step,
        math.ceil(box.north / step) * step,
        math.ceil(box.east / step) * step,
    )


def widened(box: Box, margin_miles: float) -> Box:
    """The box with a margin on every side."""
    lat_margin = margin_miles / MILES_PER_DEG_LAT
    widest_lat = min(max(abs(box.south), abs(box.north)), 80.0)
    lon_margin = lat_margin / math.cos(math.radians(widest_lat))
    return Box(
        box.south - lat_margin, box.west - lon_margin, box.north + lat_margin, box.east + lon_margin
    )


@dataclass(frozen=True)
class TurnRule:
    """A turn restriction. only: the turn is the only one allowed; otherwise it is forbidden.
    kind: left_turn, right_turn, straight_on, u_turn, entry or exit. via_node: OSM node, or None
    when the turn runs over via_ways. hours: the condition when it is barred for some hours only."""

    only: bool
    kind: str
    from_ways: tuple[int, ...]
    via_node: int | None
    via_ways: tuple[int, ...]
    to_ways: tuple[int, ...]
    hours: str = ""


@dataclass(frozen=True)
class RawNetwork:
    """Drivable ways of a clip.

    node_ids, lat, lon: one per node. way_ids, rules: one per way; the nodes of way w are
    way_nodes[way_start[w]:way_start[w + 1]] (rows of node_ids). node_rules: row of node -> rule.
    water: lines of (lat, lon) rows with their names. turn_rules_ignored: timed or unreadable
    restrictions that were left out.
    """

    node_ids: NDArray[np.int64]
    lat: NDArray[np.float64]
    lon: NDArray[np.float64]
    way_ids: NDArray[np.int64]
    way_start: NDArray[np.int64]
    way_nodes: NDArray[np.int64]
    rules: list[WayRule]
    node_rules: dict[int, NodeRule]
    turn_rules: list[TurnRule]
    turn_rules_ignored: int = 0
    water: list[tuple[str, NDArray[np.float64]]] = field(default_factory=list)
