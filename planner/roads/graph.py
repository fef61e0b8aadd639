"""The graph of a road extract as plain arrays: what is built once and kept in the cache; and
what a driver sees where roads meet: which roads go on, and in which direction; the nearest point
of the roads to each place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from planner.roads.edges import EdgeArrays, build_edges
from planner.roads.network import RawNetwork
from planner.roads.sphere import FT_PER_DEG, Flags, Floats, Ints, great_circle_ft
from planner.roads.tags import NodeRule, RoadLabel, WayRule
from planner.roads.travel import Place
from planner.roads.turns import build_turns


@dataclass(frozen=True)
class RoadGraph(EdgeArrays):
    """Edges, states and arcs (see Turns for the meaning of these).

    point_label: row of label_table of the stretch after each point; a row there is the shown name
    and the texts of a RoadLabel, as rows of names; exit_name: of each junction. water_*: lines, as
    the edges' points. turn_rules_used, _unclear, _ignored: restrictions that are kept,
    whose ways do not meet as written, and that are timed or incomplete. arc_limits: rows
    of limit_table. timed_rules: ways and nodes with rules of some hours or days, left out;
    unread_limits: limits that cannot be read, as 'key=value', one per way or node; conditions: of
    limits, closures and barred turns of some hours, which count all day, one per way, node or turn.
    """

    point_label: Ints
    label_table: Ints
    exit_name: Ints
    arc_begin: Ints
    arc_end: Ints
    arc_ms: Ints
    arc_limits: Ints
    state_edge: Ints
    water_start: Ints
    water_name: Ints
    water_lat: Floats
    water_lon: Floats
    turn_rules_used: int
    turn_rules_unclear: int
    turn_rules_ignored: int
    timed_rules: int
    names: tuple[str, ...]
    unread_limits: tuple[str, ...]
    conditions: tuple[str, ...]

    @cached_property
    def point_name(self) -> Ints:
        """Row of names of the stretch after each point: the name it is shown with."""
        result: Ints = self.label_table[:, 0][self.point_label]
        return result

    def label(self, row: int) -> RoadLabel:
        """What is said of the road at a row of point_label."""
        return RoadLabel(*(self.names[text] for text in self.label_table[row, 1:].tolist()))

    @property
    def edge_count(self) -> int:
        """Number of stretches between junctions."""
        return len(self.tail)

    def edge_totals(self) -> tuple[Ints, Ints]:
        """Tenths of a foot and milliseconds of every directed edge (2 * edge, 2 * edge + 1)."""
        last = self.start[1:] - 1
        ms = np.empty(2 * self.edge_count, dtype=np.int64)
        ms[0::2], ms[1::2] = self.forward_ms[last], self.backward_ms[last]
        return np.repeat(self.length_tenth_ft[last], 2), ms

    def junction_count(self) -> int:
        """Junctions where three or more stretches meet."""
        degree = np.bincount(np.concatenate([self.tail, self.head]))
        return int((degree > 2).sum())


def build_graph(raw: RawNetwork) -> RoadGraph:
    """The graph of a network."""
    edges = build_edges(raw)
    turns = build_turns(raw, edges)
    rules: list[WayRule | NodeRule] = [*raw.rules, *raw.node_rules.values()]
    names: dict[str, int] = {"": 0}
    labels: dict[RoadLabel, int] = {}
    way_label = np.array(
        [labels.setdefault(rule.label, len(labels)) for rule in raw.rules], dtype=np.int64
    )
    label_table = [
        [names.setdefault(text, len(names)) for text in (label.shown, *label)] for label in labels
    ]
    exits = {row: rule.exit for row, rule in raw.node_rules.items() if rule.exit}
    exit_name = [names.setdefault(exits.get(row, ""), len(names)) for row in edges.junction_node]
    water_name = [names.setdefault(name, len(names)) for name, _ in raw.water]
    lines = [line for _, line in raw.water] or [np.empty((0, 2))]
    water = np.concatenate(lines)
    sizes = [len(line) for _, line in raw.water]
    return RoadGraph(
        **{one.name: getattr(edges, one.name) for one in fields(EdgeArrays)},
        point_label=way_label[edges.point_way],
        label_table=np.array(label_table, dtype=np.int64),
        exit_name=np.array(exit_name, dtype=np.int64),
        arc_begin=turns.begin,
        arc_end=turns.end,
        arc_ms=turns.ms,
        arc_limits=turns.limits,
        state_edge=turns.state_edge,
        water_start=np.concatenate([[0], np.cumsum(sizes, dtype=np.int64)]).astype(np.int64),
        water_name=np.array(water_name, dtype=np.int64),
        water_lat=np.ascontiguousarray(water[:, 0]),
        water_lon=np.ascontiguousarray(water[:, 1]),
        turn_rules_used=turns.rules_used,
        turn_rules_unclear=turns.rules_unclear,
        turn_rules_ignored=raw.turn_rules_ignored,
        timed_rules=sum(rule.timed for rule in rules),
        names=tuple(names),
        unread_limits=tuple(text for rule in rules for text in rule.unread),
        conditions=(
            *(text for rule in rules for text in rule.hours),
            *(rule.hours for rule in raw.turn_rules if rule.hours),
        ),
    )


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
