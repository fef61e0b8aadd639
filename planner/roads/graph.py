"""The graph of a road extract as plain arrays: what is built once and kept in the cache."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from planner.roads.edges import EdgeArrays, Floats, Ints, build_edges
from planner.roads.network import RawNetwork
from planner.roads.tags import NodeRule, RoadLabel, WayRule
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
