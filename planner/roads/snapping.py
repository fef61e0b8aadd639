"""The nearest point of the roads to each place."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from planner.roads.graph import RoadGraph
from planner.roads.sphere import FT_PER_DEG, Flags, Floats, Ints, great_circle_ft
from planner.roads.travel import Place

SPACING_FT = 200.0
"""Roads are searched by sample points this far apart; the nearest point itself is exact."""


@dataclass(frozen=True)
class SnapPoint:
    """Where a place meets an edge. row: point before it; tenth_ft, forward_ms, backward_ms: sums
    from the edge's first point; distance_ft: from the place."""

    edge: int
    row: int
    lat: float
    lon: float
    tenth_ft: int
    forward_ms: int
    backward_ms: int
    distance_ft: float


class Snapper:
    """Finds nearest points on the edges of a graph where a truck may stop."""

    def __init__(self, graph: RoadGraph, allowed: Flags) -> None:
        """allowed: per edge. The sums and positions of `graph` are used for the answers."""
        self._graph = graph
        self._lat0 = float(graph.lat.mean())
        self._lon0 = float(graph.lon.mean())
        sizes = np.diff(graph.start)
        edge = np.repeat(np.arange(graph.edge_count), sizes)
        has_next = np.ones(len(edge), dtype=np.bool_)
        has_next[graph.start[1:] - 1] = False
        self._rows = np.flatnonzero(has_next & allowed[edge])
        self._edge = edge[self._rows]
        x, y = self._project(graph.lat, graph.lon)
        self._x, self._y = x[self._rows], y[self._rows]
        self._dx, self._dy = x[self._rows + 1] - self._x, y[self._rows + 1] - self._y
        pieces = np.maximum(1, np.ceil(np.hypot(self._dx, self._dy) / SPACING_FT)).astype(np.int64)
        self._piece_of = np.repeat(np.arange(len(self._rows)), pieces)
        number = np.arange(len(self._piece_of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        share = (number + 0.5) / pieces[self._piece_of]
        samples = np.column_stack(
            [
                self._x[self._piece_of] + share * self._dx[self._piece_of],
                self._y[self._piece_of] + share * self._dy[self._piece_of],
            ]
        )
        self._tree = cKDTree(samples, balanced_tree=False, compact_nodes=False)

    def _project(self, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
        """Feet east and north of the middle; over a county the scale is right to half a percent,
        which only matters between roads at the same distance."""
        east = (lon - self._lon0) * FT_PER_DEG * np.cos(np.radians(self._lat0))
        return east, (lat - self._lat0) * FT_PER_DEG

    def snap(self, places: Sequence[Place]) -> list[SnapPoint]:
        """The nearest point for each place; of equally near roads the first in the file."""
        lat = np.array([place.lat for place in places], dtype=np.float64)
        lon = np.array([place.lon for place in places], dtype=np.float64)
        east, north = self._project(lat, lon)
        at = np.column_stack([east, north])
        nearest = np.atleast_1d(self._tree.query(at)[0])
        # A sample of the nearest road is at most half a spacing farther than the road itself.
        around = self._tree.query_ball_point(at, nearest + SPACING_FT / 2 + 1.0)
        return [
            self._nearest(place, float(x), float(y), np.unique(self._piece_of[samples]))
            for place, x, y, samples in zip(places, east, north, around, strict=True)
        ]

    def _nearest(self, place: Place, x: float, y: float, pieces: Ints) -> SnapPoint:
        dx, dy = self._dx[pieces], self._dy[pieces]
        to_x, to_y = x - self._x[pieces], y - self._y[pieces]
        square = dx * dx + dy * dy
        share = np.clip((to_x * dx + to_y * dy) / np.where(square > 0, square, 1.0), 0.0, 1.0)
        best = int(np.argmin(np.hypot(to_x - share * dx, to_y - share * dy)))
        return self._point(place, int(pieces[best]), float(share[best]))

    def _point(self, place: Place, piece: int, share: float) -> SnapPoint:
        graph, row = self._graph, int(self._rows[piece])

        def between(values: NDArray[np.int64] | Floats) -> float:
            return float(values[row]) + share * (float(values[row + 1]) - float(values[row]))

        lat, lon = between(graph.lat), between(graph.lon)
        away = great_circle_ft(
            np.array(place.lat), np.array(place.lon), np.array(lat), np.array(lon)
        )
        return SnapPoint(
            edge=int(self._edge[piece]),
            row=row,
            lat=lat,
            lon=lon,
            tenth_ft=round(between(graph.length_tenth_ft)),
            forward_ms=round(between(graph.forward_ms)),
            backward_ms=round(between(graph.backward_ms)),
            distance_ft=float(away),
        )
