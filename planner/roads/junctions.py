"""What a driver sees where roads meet: which roads go on, and in which direction."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from planner.roads.graph import RoadGraph
from planner.roads.tags import RoadLabel

BEARING_OVER_FT = 80.0
"""Directions are taken over this much of a road: a truck's turn, not the kink at the curb."""


@dataclass(frozen=True)
class Exit:
    """A road that leaves a junction. edge: directed; bearing: degrees on leaving."""

    edge: int
    bearing: float
    label: RoadLabel
    roundabout: bool
    one_way: bool
    is_street: bool


class Junctions:
    """Roads that leave the junctions of a graph."""

    def __init__(self, graph: RoadGraph) -> None:
        self._graph = graph
        self._tail = _both(graph.tail, graph.head)
        self._head = _both(graph.head, graph.tail)
        self._exits: dict[int, tuple[Exit, ...]] = {}

    @cached_property
    def _by_tail(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Directed edges sorted by their tail, and the first of each junction."""
        order = np.argsort(self._tail, kind="stable")
        counts = np.bincount(self._tail, minlength=len(self._graph.exit_name))
        return order, np.concatenate([[0], np.cumsum(counts)])

    def tail(self, edge: int) -> int:
        """Junction where a directed edge begins."""
        return int(self._tail[edge])

    def head(self, edge: int) -> int:
        """Junction where a directed edge ends."""
        return int(self._head[edge])

    def exits(self, junction: int) -> tuple[Exit, ...]:
        """Every road that may be driven away from a junction."""
        if junction not in self._exits:
            roads = self.roads(junction)
            self._exits[junction] = tuple(self._exit(edge) for edge in roads if self.is_open(edge))
        return self._exits[junction]

    def roads(self, junction: int) -> list[int]:
        """Directed edges that begin at a junction, closed ones too."""
        order, first = self._by_tail
        edges: list[int] = order[first[junction] : first[junction + 1]].tolist()
        return edges

    def is_open(self, edge: int) -> bool:
        """Whether a directed edge may be driven."""
        graph = self._graph
        return bool((graph.open_backward if edge % 2 else graph.open_forward)[edge // 2])

    def exit_number(self, edge: int) -> str:
        """Number of the motorway's exit that stands at the begin of a directed edge."""
        return self._graph.names[int(self._graph.exit_name[self.tail(edge)])]

    def road_class(self, edge: int) -> str:
        """Class of the road where a directed edge begins."""
        graph = self._graph
        row = int(graph.start[edge // 2 + 1]) - 2 if edge % 2 else int(graph.start[edge // 2])
        return graph.label(int(graph.point_label[row])).road_class

    def one_way(self, edge: int) -> bool:
        """Whether the other direction is closed."""
        return not self.is_open(edge ^ 1)

    def _exit(self, edge: int) -> Exit:
        graph = self._graph
        low, high = int(graph.start[edge // 2]), int(graph.start[edge // 2 + 1]) - 1
        row = high if edge % 2 else low
        return Exit(
            edge,
            bearing(graph, row, low if edge % 2 else high),
            graph.label(int(graph.point_label[high - 1 if edge % 2 else low])),
            bool(graph.roundabout[edge // 2]),
            self.one_way(edge),
            bool(graph.drawn[edge // 2]) and not bool(graph.ends_only[edge // 2]),
        )


def bearing(graph: RoadGraph, row: int, end: int) -> float:
    """Degrees clockwise from north on leaving a point of an edge towards another of its points,
    taken over BEARING_OVER_FT or as much as there is."""
    step = 1 if end > row else -1
    lengths = graph.length_tenth_ft
    begin, over = int(lengths[row]), BEARING_OVER_FT * 10
    at = row + step
    while at != end and abs(int(lengths[at]) - begin) < over:
        at += step
    before, after = abs(int(lengths[at - step]) - begin), abs(int(lengths[at]) - begin)
    share = min(1.0, (over - before) / (after - before)) if after > before else 1.0
    lat, lon = graph.lat, graph.lon
    lat0, lon0 = float(lat[at - step]), float(lon[at - step])
    to_lat = lat0 + share * (float(lat[at]) - lat0)
    to_lon = lon0 + share * (float(lon[at]) - lon0)
    return degrees((float(lat[row]), float(lon[row])), (to_lat, to_lon))


def degrees(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Compass bearing from one point (lat, lon) to another one near it."""
    east = (end[1] - start[1]) * math.cos(math.radians((start[0] + end[0]) / 2))
    return math.degrees(math.atan2(east, end[0] - start[0])) % 360.0


def change(before: float, after: float) -> float:
    """Change of bearing in [-180, 180): right is positive, left negative."""
    return (after - before + 180.0) % 360.0 - 180.0


def _both(forward: NDArray[np.int64], backward: NDArray[np.int64]) -> NDArray[np.int64]:
    result = np.empty(2 * len(forward), dtype=np.int64)
    result[0::2], result[1::2] = forward, backward
    return result
