"""From edges to a turn-aware graph: what follows what, and what each turn costs.

A state is a directed edge just driven (2 * edge forward, 2 * edge + 1 backward), or a copy of
one that remembers the way by which it was reached, where a turn rule over via ways needs that.

Turn restrictions are applied to directed edges. A rule over a via node takes single turns away.
A rule over via ways depends on the street by which the via way was reached; the states of the
via way are copied for those who came that way.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from planner.roads.directed import Directed, directed_edges, followers
from planner.roads.edges import Edges, control_arrays
from planner.roads.network import RawNetwork, TurnRule
from planner.roads.speeds import (
    APPROACH_FT,
    GIVE_WAY_S,
    LEFT_TURN_S,
    RIGHT_TURN_S,
    SIGNAL_GROUP_FT,
    SIGNAL_S,
    STOP_S,
    TURN_DEG,
    U_TURN_S,
    UNMAPPED_STOP_RANK_STEP,
    UNMAPPED_STOP_S,
)
from planner.roads.sphere import Flags, Floats, Ints, turn_deg
from planner.roads.tags import Control

Path = tuple[int, ...]

BEST_DEG = {"left_turn": -90.0, "right_turn": 90.0, "straight_on": 0.0, "u_turn": 180.0}
"""Where a way runs on through the junction, the rule means the branch that turns most like this."""

MOST_VIA_EDGES = 24
"""A via way longer than this many edges is a slip of the mapper."""


@dataclass
class TurnBans:
    """What the restrictions forbid. banned: one per arc; no_paths: directed edges that may not be
    driven one after the other; only_paths: path up to the last via edge -> what may follow."""

    banned: Flags
    no_paths: set[Path] = field(default_factory=set)
    only_paths: dict[Path, set[int]] = field(default_factory=dict)
    used: int = 0
    unclear: int = 0


class _Lookup:
    """Arcs by the state that they begin at, and directed edges by way."""

    def __init__(self, directed: Directed, begin: Ints, end: Ints, angle: Floats) -> None:
        self.directed, self.begin, self.end, self.angle = directed, begin, end, angle
        order = np.argsort(begin, kind="stable")
        self._order = order
        self._sorted = begin[order]
        self._by_last_way: dict[int, list[int]] | None = None

    def arcs(self, edge: int) -> Ints:
        """Rows of the arcs that begin at a directed edge."""
        low, high = np.searchsorted(self._sorted, [edge, edge + 1])
        return self._order[low:high]

    def reaching_by(self, ways: tuple[int, ...]) -> Iterator[int]:
        """Open directed edges whose last stretch belongs to one of the ways."""
        if self._by_last_way is None:
            self._by_last_way = defaultdict(list)
            open_edges = np.flatnonzero(self.directed.is_open)
            for edge, way in zip(
                open_edges.tolist(), self.directed.last_way[open_edges].tolist(), strict=True
            ):
                self._by_last_way[way].append(edge)
        for way in ways:
            yield from self._by_last_way.get(way, [])


def find_bans(
    raw: RawNetwork, directed: Directed, junction_node: Ints, begin: Ints, end: Ints, angle: Floats
) -> TurnBans:
    """Everything that the network's turn rules forbid."""
    bans = TurnBans(np.zeros(len(begin), dtype=np.bool_))
    if not raw.turn_rules:
        return bans
    look = _Lookup(directed, begin, end, angle)
    junctions_of: dict[int, list[int]] = defaultdict(list)
    wanted = {rule.via_node for rule in raw.turn_rules}
    for junction, node in enumerate(raw.node_ids[junction_node].tolist()):
        if node in wanted:
            junctions_of[node].append(junction)
    only: dict[int, set[int]] = defaultdict(set)
    for rule in raw.turn_rules:
        if rule.via_node is not None:
            done = _ban_at_node(rule, junctions_of[rule.via_node], look, bans, only)
        else:
            done = _ban_over_ways(rule, look, bans)
        bans.used += done
        bans.unclear += not done
    for edge, rows in only.items():
        arcs = look.arcs(edge)
        bans.banned[arcs[~np.isin(arcs, np.array(sorted(rows), dtype=np.int64))]] = True
    return bans


def _ban_at_node(
    rule: TurnRule, junctions: list[int], look: _Lookup, bans: TurnBans, only: dict[int, set[int]]
) -> bool:
    """Take the rule's turns at its via node; False when its ways do not meet there."""
    rows = [
        int(row)
        for edge in look.reaching_by(rule.from_ways)
        if int(look.directed.head[edge]) in junctions
        for row in look.arcs(edge)
        if int(look.directed.first_way[look.end[row]]) in rule.to_ways
    ]
    if rule.kind in BEST_DEG and len(rows) > len(rule.from_ways) * len(rule.to_ways):
        rows = [min(rows, key=lambda row: _misfit(rule.kind, float(look.angle[row])))]
    for row in rows:
        if rule.only:
            only[int(look.begin[row])].add(row)
        else:
            bans.banned[row] = True
    return bool(rows)


def _misfit(kind: str, angle: float) -> float:
    return abs(float(turn_deg(np.array(angle), np.array(BEST_DEG[kind]))))


def _ban_over_ways(rule: TurnRule, look: _Lookup, bans: TurnBans) -> bool:
    """Note the rule's paths over its via ways; False when there is none."""
    paths = [
        path
        for edge in dict.fromkeys(look.reaching_by(rule.from_ways))
        for path in _paths(rule, (edge,), look)
    ]
    for path in paths:
        if rule.only:
            bans.only_paths.setdefault(path[:-1], set()).add(path[-1])
        else:
            bans.no_paths.add(path)
    return bool(paths)


def _paths(rule: TurnRule, path: Path, look: _Lookup) -> Iterator[Path]:
    """Ways to go on from a path over all via ways to a 'to' way."""
    directed = look.directed
    vias = {int(directed.first_way[edge]) for edge in path[1:]}
    for row in look.arcs(path[-1]):
        edge = int(look.end[row])
        way = int(directed.first_way[edge])
        if way in rule.to_ways and vias.issuperset(rule.via_ways):
            yield (*path, edge)
        turns_back = edge == path[-1] ^ 1
        goes_on = way in rule.via_ways and not turns_back and edge not in path[1:]
        if goes_on and len(path) < MOST_VIA_EDGES:
            yield from _paths(rule, (*path, edge), look)


def apply_via_ways(
    bans: TurnBans, begin: Ints, end: Ints, directed_count: int
) -> tuple[Ints, Ints, Ints, Ints]:
    """Arcs with copied states where via ways need them.

    Returns begin and end of all arcs, the directed edge of each state, and for each arc the row of
    the arc that it was made from."""
    state_edge = np.arange(directed_count, dtype=np.int64)
    rows = np.arange(len(begin), dtype=np.int64)
    paths = [path[:-1] for path in sorted(bans.no_paths)] + sorted(bans.only_paths)
    if not paths:
        return begin, end, state_edge, rows
    prefixes = sorted({path[:size] for path in paths for size in range(2, len(path) + 1)})
    state_of = {prefix: directed_count + place for place, prefix in enumerate(prefixes)}
    arcs_of = _arcs_by_begin(begin, end, {edge for path in paths for edge in path})
    extra: list[tuple[int, int, int]] = []
    moved = end.copy()
    for first, second in {prefix[:2] for prefix in prefixes}:
        for row, follower in arcs_of.get(first, []):
            if follower == second:
                moved[row] = state_of[first, second]
    for prefix in prefixes:
        for row, follower in arcs_of.get(prefix[-1], []):
            if not _forbidden((*prefix, follower), bans):
                state = _longest_known((*prefix, follower), state_of)
                extra.append((state_of[prefix], state, row))
    added = np.array(extra, dtype=np.int64).reshape(-1, 3)
    return (
        np.concatenate([begin, added[:, 0]]),
        np.concatenate([moved, added[:, 1]]),
        np.concatenate([state_edge, np.array([prefix[-1] for prefix in prefixes])]),
        np.concatenate([rows, added[:, 2]]),
    )


def _arcs_by_begin(begin: Ints, end: Ints, edges: set[int]) -> dict[int, list[tuple[int, int]]]:
    """Row and follower of the arcs that begin at the given directed edges."""
    arcs: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for row in np.flatnonzero(np.isin(begin, np.array(sorted(edges), dtype=np.int64))).tolist():
        arcs[int(begin[row])].append((row, int(end[row])))
    return arcs


def _forbidden(path: Path, bans: TurnBans) -> bool:
    """Whether the last step of a path breaks a rule that any of its endings falls under."""
    for size in range(3, len(path) + 1):
        ending = path[-size:]
        if ending in bans.no_paths:
            return True
        allowed = bans.only_paths.get(ending[:-1])
        if allowed is not None and path[-1] not in allowed:
            return True
    return False


def _longest_known(path: Path, state_of: dict[Path, int]) -> int:
    """State after a path: the longest ending that a rule still watches, else the bare edge."""
    for size in range(len(path), 1, -1):
        state = state_of.get(path[-size:])
        if state is not None:
            return state
    return path[-1]


@dataclass(frozen=True)
class Turns:
    """Arcs between states, sorted by (begin, end): end's road may follow begin's; turning round
    on the spot is one of them everywhere, and is a profile's to allow. ms: milliseconds of the
    turn itself. state_edge: directed edge of each state. limits: of what stands at the junction, as
    those of edges. rules_used, rules_unclear: turn restrictions kept, and left out because the
    ways do not meet as written."""

    begin: Ints
    end: Ints
    ms: Ints
    limits: Ints
    state_edge: Ints
    rules_used: int
    rules_unclear: int


def build_turns(raw: RawNetwork, edges: Edges) -> Turns:
    """All allowed turns of a network."""
    directed = directed_edges(raw, edges)
    begin, end = followers(directed)
    angle = turn_deg(directed.last_bearing[begin], directed.first_bearing[end])
    bans = find_bans(raw, directed, edges.junction_node, begin, end, angle)
    allowed = ~bans.banned
    begin, end, angle = begin[allowed], end[allowed], angle[allowed]
    ms, limits = _costs(raw, edges, directed, begin, end, angle)
    begin, end, state_edge, source = apply_via_ways(bans, begin, end, len(directed.tail))
    order = np.lexsort((end, begin))
    return Turns(
        begin=begin[order],
        end=end[order],
        ms=ms[source][order],
        limits=limits[source][order],
        state_edge=state_edge,
        rules_used=bans.used,
        rules_unclear=bans.unclear,
    )


def _costs(
    raw: RawNetwork, edges: Edges, directed: Directed, begin: Ints, end: Ints, angle: Floats
) -> tuple[Ints, Ints]:
    """Milliseconds and limits of each arc."""
    junction = directed.head[begin]
    control, direction, minor_only = control_arrays(raw, edges.junction_node)
    degree = np.bincount(np.concatenate([edges.tail, edges.head]), minlength=len(control))
    largest = np.full(len(control), 99, dtype=np.int64)
    np.minimum.at(largest, edges.tail, edges.rank)
    np.minimum.at(largest, edges.head, edges.rank)
    is_junction = degree[junction] > 2
    seconds = _turn_seconds(directed, begin, end, angle, is_junction)

    faces = _faces_driver(directed, begin, end, direction[junction], is_junction)
    smaller = directed.rank[begin] > largest[junction]
    sign_applies = faces & (~(minor_only[junction] & is_junction) | smaller)
    at_signal = control[junction] == Control.SIGNAL
    came_from_signal = (control[directed.tail[begin]] == Control.SIGNAL) & (
        directed.length_ft[begin] <= SIGNAL_GROUP_FT
    )
    seconds += np.where(at_signal & faces & ~came_from_signal, SIGNAL_S, 0.0)
    seconds += np.where((control[junction] == Control.STOP) & sign_applies, STOP_S, 0.0)
    seconds += np.where((control[junction] == Control.GIVE_WAY) & sign_applies, GIVE_WAY_S, 0.0)
    yields = (
        is_junction
        & (control[junction] == Control.NONE)
        & (directed.rank[begin] - largest[junction] >= UNMAPPED_STOP_RANK_STEP)
        & ~directed.roundabout[begin]
        & ~directed.roundabout[end]
    )
    seconds += np.where(yields, UNMAPPED_STOP_S, 0.0)
    # Turning round in front of a low beam is not passing under it.
    under = np.where(end == (begin ^ 1), 0, edges.node_limits[junction])
    return np.rint(seconds * 1000).astype(np.int64), under


def _turn_seconds(
    directed: Directed, begin: Ints, end: Ints, angle: Floats, is_junction: Flags
) -> Floats:
    in_circle, into_circle = directed.roundabout[begin], directed.roundabout[end]
    left = is_junction & (angle <= -TURN_DEG) & ~in_circle & ~into_circle
    # Going into a roundabout is a right turn; going round and out of it is no turn at all.
    right = is_junction & (angle >= TURN_DEG) & ~in_circle
    seconds = np.where(left, LEFT_TURN_S, np.where(right, RIGHT_TURN_S, 0.0))
    result: Floats = np.where(end == (begin ^ 1), U_TURN_S, seconds)
    return result


def _faces_driver(
    directed: Directed, begin: Ints, end: Ints, direction: Ints, is_junction: Flags
) -> Flags:
    """Whether a sign or signal stands for traffic on this arc: by its written direction, else, on
    a street near a junction, for those who drive towards the junction."""
    written = directed.along[begin] == (direction > 0)
    behind_ft, ahead_ft = directed.length_ft[begin], directed.length_ft[end]
    approach = (np.minimum(behind_ft, ahead_ft) > APPROACH_FT) | (ahead_ft <= behind_ft)
    result: Flags = np.where(direction != 0, written, is_junction | approach)
    return result
