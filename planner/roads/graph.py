"""The graph of a road extract as plain arrays: what is built once and kept in the cache."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planner.roads.edges import Edges, build_edges
from planner.roads.network import RawNetwork
from planner.roads.tags import NodeRule, WayRule
from planner.roads.turns import build_turns

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class RoadGraph:
    """Edges, states and arcs (see Edges and Turns for the meaning of the arrays).

    point_name: row of names of the stretch after each point. water_*: lines, laid out like the
    edges' points. turn_rules_used, _unclear, _ignored: restrictions that are kept, whose ways do
    not meet as written, and that are timed or incomplete. limits, arc_limits: rows of limit_table.
    timed_rules: ways and nodes with rules of some hours or days, left out; unread_limits: limits
    that cannot be read, as 'key=value', one per way or node.
    """

    tail: Ints
    head: Ints
    open_forward: Flags
    open_backward: Flags
    ends_only: Flags
    may_stop: Flags
    truck_sign: Flags
    drawn: Flags
    rank: Ints
    limits: Ints
    limit_table: Floats
    start: Ints
    lat: Floats
    lon: Floats
    length_tenth_ft: Ints
    forward_ms: Ints
    backward_ms: Ints
    point_name: Ints
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
    way_name = np.array(
        [names.setdefault(rule.name, len(names)) for rule in raw.rules], dtype=np.int64
    )
    water_name = [names.setdefault(name, len(names)) for name, _ in raw.water]
    lines = [line for _, line in raw.water] or [np.empty((0, 2))]
    water = np.concatenate(lines)
    sizes = [len(line) for _, line in raw.water]
    return RoadGraph(
        **_shared(edges),
        point_name=way_name[edges.point_way],
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
    )


FROM_EDGES = (
    "tail",
    "head",
    "open_forward",
    "open_backward",
    "ends_only",
    "may_stop",
    "truck_sign",
    "drawn",
    "rank",
    "limits",
    "limit_table",
    "start",
    "lat",
    "lon",
    "length_tenth_ft",
    "forward_ms",
    "backward_ms",
)


def _shared(edges: Edges) -> dict[str, Any]:
    return {name: getattr(edges, name) for name in FROM_EDGES}
