"""Ways cut at junctions and joined where nothing is decided: the edges of the graph."""

from dataclasses import dataclass

import numpy as np

from planner.roads.limits import NO_LIMITS, Limits
from planner.roads.network import RawNetwork
from planner.roads.sphere import FT_PER_MILE, Flags, Floats, Ints, great_circle_ft
from planner.roads.tags import Control, Passage

NO_LIMIT = np.inf


@dataclass(frozen=True)
class EdgeArrays:
    """Stretches of road between junctions.

    tail, head: junctions (rows). The points of edge e are rows start[e] to start[e + 1] of
    lat, lon; length_tenth_ft, forward_ms and backward_ms count from the edge's first point, in
    tenths of a foot and milliseconds, so that every sum along a way is exact. limits: row of
    limit_table, one figure per kind (see KINDS), infinite where there is none.
    """

    tail: Ints
    head: Ints
    open_forward: Flags
    open_backward: Flags
    ends_only: Flags
    may_stop: Flags
    truck_sign: Flags
    drawn: Flags
    roundabout: Flags
    rank: Ints
    limits: Ints
    limit_table: Floats
    start: Ints
    lat: Floats
    lon: Floats
    length_tenth_ft: Ints
    forward_ms: Ints
    backward_ms: Ints


@dataclass(frozen=True)
class Edges(EdgeArrays):
    """The same while a graph is built. point_way: row of the way that the stretch after the point
    belongs to; point_along: driven in the way's sense. junction_node: row of RawNetwork.node_ids of
    each junction; node_limits: as limits, of each junction."""

    point_way: Ints
    point_along: Flags
    junction_node: Ints
    node_limits: Ints


@dataclass(frozen=True)
class _WayTable:
    """The rules of all ways as arrays."""

    forward_mph: Floats
    backward_mph: Floats
    rank: Ints
    signature: Ints
    """Equal where two ways may be one edge."""
    ends_only: Flags
    may_stop: Flags
    truck_sign: Flags
    roundabout: Flags
    drawn: Flags
    limits: Ints


@dataclass(frozen=True)
class _Runs:
    """Parts of ways between kept nodes; first, last: rows of RawNetwork.way_nodes."""

    way: Ints
    first: Ints
    last: Ints
    tail: Ints
    head: Ints
    ends_only: Flags


def build_edges(raw: RawNetwork) -> Edges:
    """The edges of a network, in the order of the ways."""
    rows: dict[Limits, int] = {NO_LIMITS: 0}
    ways = _way_table(raw, rows)
    runs, junction_node, forced = _runs(raw, ways)
    chains = _chains(runs, _mates(runs, ways, forced))
    node_limits = np.zeros(len(raw.node_ids), dtype=np.int64)
    for row, rule in raw.node_rules.items():
        node_limits[row] = rows.setdefault(rule.limits, len(rows))
    table = np.array([[_figure(one) for one in limits] for limits in rows], dtype=np.float64)
    return _edges(raw, ways, runs, chains, junction_node, node_limits[junction_node], table)


def _way_table(raw: RawNetwork, rows: dict[Limits, int]) -> _WayTable:
    rules = raw.rules
    signatures: dict[tuple[object, ...], int] = {}
    signature = [
        signatures.setdefault(
            (r.ends_only, r.may_stop, r.truck_sign, r.roundabout, r.drawn, r.limits),
            len(signatures),
        )
        for r in rules
    ]
    return _WayTable(
        forward_mph=np.array([r.forward_mph for r in rules], dtype=np.float64),
        backward_mph=np.array([r.backward_mph for r in rules], dtype=np.float64),
        rank=np.array([r.rank for r in rules], dtype=np.int64),
        signature=np.array(signature, dtype=np.int64),
        ends_only=np.array([r.ends_only for r in rules], dtype=np.bool_),
        may_stop=np.array([r.may_stop for r in rules], dtype=np.bool_),
        truck_sign=np.array([r.truck_sign for r in rules], dtype=np.bool_),
        roundabout=np.array([r.roundabout for r in rules], dtype=np.bool_),
        drawn=np.array([r.drawn for r in rules], dtype=np.bool_),
        limits=np.array([rows.setdefault(r.limits, len(rows)) for r in rules], dtype=np.int64),
    )


def _figure(value: float | None) -> float:
    return NO_LIMIT if value is None else value


def _forced_nodes(raw: RawNetwork) -> Flags:
    """Nodes that must stay junctions although only two roads meet there: signs and barriers, and
    the ends of ways that a turn rule names."""
    forced = np.zeros(len(raw.node_ids), dtype=np.bool_)
    forced[[row for row, rule in raw.node_rules.items() if not rule.names_exit_only]] = True
    via = np.array([r.via_node for r in raw.turn_rules if r.via_node is not None], dtype=np.int64)
    forced |= np.isin(raw.node_ids, via)
    named = {
        way
        for rule in raw.turn_rules
        if rule.via_node is None
        for way in (*rule.from_ways, *rule.via_ways, *rule.to_ways)
    }
    rows = np.flatnonzero(np.isin(raw.way_ids, np.array(sorted(named), dtype=np.int64)))
    forced[raw.way_nodes[raw.way_start[rows]]] = True
    forced[raw.way_nodes[raw.way_start[rows + 1] - 1]] = True
    return forced


def _runs(raw: RawNetwork, ways: _WayTable) -> tuple[_Runs, Ints, Flags]:
    """Runs, the node of each junction, and whether the junction must stay one."""
    nodes = raw.way_nodes
    is_first = np.zeros(len(nodes), dtype=np.bool_)
    is_last = np.zeros(len(nodes), dtype=np.bool_)
    is_first[raw.way_start[:-1]] = True
    is_last[raw.way_start[1:] - 1] = True
    forced = _forced_nodes(raw)
    uses = np.bincount(nodes, minlength=len(raw.node_ids))
    cut = is_first | is_last | (uses > 1)[nodes] | forced[nodes]
    cuts = np.flatnonzero(cut)
    first = cuts[:-1][~is_last[cuts[:-1]]]
    last = cuts[1:][~is_last[cuts[:-1]]]
    way = np.searchsorted(raw.way_start, first, side="right") - 1
    tail, head = nodes[first].copy(), nodes[last].copy()
    origin = _part_barriers(raw, tail, head)
    ends_only = ways.ends_only[way] | _behind_gate(raw, ways, way, tail, head)
    used, compact = np.unique(np.concatenate([tail, head]), return_inverse=True)
    junction_node = origin[used]
    runs = _Runs(way, first, last, compact[: len(tail)], compact[len(tail) :], ends_only)
    return runs, junction_node, forced[junction_node]


def _part_barriers(raw: RawNetwork, tail: Ints, head: Ints) -> Ints:
    """Give each road end at a closed barrier a junction of its own (changed in place), so that
    nothing passes. Returns the node of every junction number."""
    closed = [row for row, rule in raw.node_rules.items() if rule.barrier is Passage.CLOSED]
    origin = [np.arange(len(raw.node_ids), dtype=np.int64)]
    number = len(raw.node_ids)
    for ends in (tail, head):
        at = np.flatnonzero(np.isin(ends, np.array(closed, dtype=np.int64)))
        origin.append(ends[at].copy())
        ends[at] = np.arange(number, number + len(at))
        number += len(at)
    return np.concatenate(origin)


def _behind_gate(raw: RawNetwork, ways: _WayTable, way: Ints, tail: Ints, head: Ints) -> Flags:
    """Runs that touch a gate which may be locked. Where a gate is drawn on a junction of three or
    more roads it can only stand across the smallest of them."""
    gates = np.zeros(max(int(tail.max()), int(head.max())) + 1, dtype=np.bool_)
    gates[[row for row, rule in raw.node_rules.items() if rule.barrier is Passage.ENDS_ONLY]] = True
    ends = np.concatenate([tail, head])
    ranks = np.concatenate([ways.rank[way], ways.rank[way]])
    degree = np.bincount(ends, minlength=len(gates))
    largest = np.full(len(gates), 99, dtype=np.int64)
    smallest = np.zeros(len(gates), dtype=np.int64)
    np.minimum.at(largest, ends, ranks)
    np.maximum.at(smallest, ends, ranks)
    across = (degree[ends] <= 2) | ((ranks == smallest[ends]) & (largest[ends] < ranks))
    touched = gates[ends] & across
    result: Flags = touched[: len(tail)] | touched[len(tail) :]
    return result


def _mates(runs: _Runs, ways: _WayTable, forced: Flags) -> Ints:
    """For each run end (2 * run = its tail, + 1 = its head) the end that it is joined to, or -1."""
    count = len(runs.way)
    junction = np.empty(2 * count, dtype=np.int64)
    junction[0::2], junction[1::2] = runs.tail, runs.head
    order = np.argsort(junction, kind="stable")
    degree = np.bincount(junction, minlength=len(forced))
    begin = np.concatenate([[0], np.cumsum(degree)[:-1]])
    plain = np.flatnonzero((degree == 2) & ~forced)
    a, b = order[begin[plain]], order[begin[plain] + 1]
    run_a, run_b = a // 2, b // 2
    way_a, way_b = runs.way[run_a], runs.way[run_b]
    flipped = (a % 2) == (b % 2)
    forward, backward = ways.forward_mph > 0, ways.backward_mph > 0
    same_sense = np.where(
        flipped,
        (forward[way_a] == backward[way_b]) & (backward[way_a] == forward[way_b]),
        (forward[way_a] == forward[way_b]) & (backward[way_a] == backward[way_b]),
    )
    joined = (
        (run_a != run_b)
        & same_sense
        & (ways.signature[way_a] == ways.signature[way_b])
        & (runs.ends_only[run_a] == runs.ends_only[run_b])
    )
    mates = np.full(2 * count, -1, dtype=np.int64)
    mates[a[joined]], mates[b[joined]] = b[joined], a[joined]
    return mates


def _chains(runs: _Runs, mates: Ints) -> list[list[int]]:
    """Runs joined to edges, as lists of 2 * run (driven as drawn) or 2 * run + 1 (reversed)."""
    mate = mates.tolist()
    seen = bytearray(len(runs.way))
    chains: list[list[int]] = []

    def follow(entry: int) -> None:
        chain: list[int] = []
        while entry >= 0 and not seen[entry // 2]:
            seen[entry // 2] = 1
            chain.append(entry)
            entry = mate[entry ^ 1]
        chains.append(chain)

    for run in range(len(runs.way)):
        if seen[run]:
            continue
        if mate[2 * run] < 0:
            follow(2 * run)
        elif mate[2 * run + 1] < 0:
            follow(2 * run + 1)
    for run in range(len(runs.way)):
        if not seen[run]:  # A ring that touches nothing else.
            follow(2 * run)
    return chains


def _edges(
    raw: RawNetwork,
    ways: _WayTable,
    runs: _Runs,
    chains: list[list[int]],
    junction_node: Ints,
    node_limits: Ints,
    limit_table: Floats,
) -> Edges:
    first_entry = np.array([chain[0] for chain in chains], dtype=np.int64)
    last_entry = np.array([chain[-1] for chain in chains], dtype=np.int64)
    lead = runs.way[first_entry // 2]
    along = first_entry % 2 == 0
    forward, backward = ways.forward_mph > 0, ways.backward_mph > 0
    points, point_way, point_along, start = _points(raw, runs, chains)
    lat, lon = raw.lat[points], raw.lon[points]
    lengths = _summed_along(*_steps(lat, lon, ways, point_way, point_along, start), start)
    rank = np.minimum.reduceat(ways.rank[point_way], start[:-1])
    return Edges(
        tail=np.where(along, runs.tail[first_entry // 2], runs.head[first_entry // 2]),
        head=np.where(last_entry % 2 == 0, runs.head[last_entry // 2], runs.tail[last_entry // 2]),
        open_forward=np.where(along, forward[lead], backward[lead]),
        open_backward=np.where(along, backward[lead], forward[lead]),
        ends_only=runs.ends_only[first_entry // 2],
        may_stop=ways.may_stop[lead],
        truck_sign=ways.truck_sign[lead],
        roundabout=ways.roundabout[lead],
        drawn=ways.drawn[lead],
        rank=rank,
        limits=ways.limits[lead],
        start=start,
        lat=lat,
        lon=lon,
        length_tenth_ft=lengths[0],
        forward_ms=lengths[1],
        backward_ms=lengths[2],
        point_way=point_way,
        point_along=point_along,
        junction_node=junction_node,
        node_limits=node_limits,
        limit_table=limit_table,
    )


def _points(
    raw: RawNetwork, runs: _Runs, chains: list[list[int]]
) -> tuple[Ints, Ints, Flags, Ints]:
    """Node rows of all edges in a row, way and sense of each point's stretch, and edge starts."""
    nodes = raw.way_nodes
    first, last = runs.first.tolist(), runs.last.tolist()
    pieces: list[Ints] = []
    entries: list[int] = []
    sizes: list[int] = []
    starts = [0]
    for chain in chains:
        length = 1
        for place, entry in enumerate(chain):
            run = entry >> 1
            piece = nodes[first[run] : last[run] + 1]
            piece = piece[::-1] if entry & 1 else piece
            is_last = place == len(chain) - 1
            # The last point of a run is the first of the next one.
            pieces.append(piece if is_last else piece[:-1])
            entries.append(entry)
            sizes.append(len(piece) if is_last else len(piece) - 1)
            length += len(piece) - 1
        starts.append(starts[-1] + length)
    entry_of_point = np.repeat(np.array(entries, dtype=np.int64), sizes)
    return (
        np.concatenate(pieces),
        runs.way[entry_of_point // 2],
        entry_of_point % 2 == 0,
        np.array(starts, dtype=np.int64),
    )


def _steps(
    lat: Floats, lon: Floats, ways: _WayTable, point_way: Ints, point_along: Flags, start: Ints
) -> tuple[Floats, Floats, Floats]:
    """Tenths of a foot, and milliseconds forward and backward, from each point to the next one of
    its edge (0 at an edge's last point)."""
    step_ft = np.zeros(len(lat), dtype=np.float64)
    step_ft[:-1] = great_circle_ft(lat[:-1], lon[:-1], lat[1:], lon[1:])
    step_ft[start[1:] - 1] = 0.0
    forward, backward = ways.forward_mph[point_way], ways.backward_mph[point_way]
    mph = np.where(point_along, forward, backward)
    mph_back = np.where(point_along, backward, forward)
    # A closed direction is never driven; any speed will do for its sums.
    mph = np.where(mph > 0, mph, mph_back)
    mph_back = np.where(mph_back > 0, mph_back, mph)
    ms_per_ft_mph = 3_600_000.0 / FT_PER_MILE
    return step_ft * 10.0, step_ft / mph * ms_per_ft_mph, step_ft / mph_back * ms_per_ft_mph


def _summed_along(
    tenth_ft: Floats, forward_ms: Floats, backward_ms: Floats, start: Ints
) -> tuple[Ints, Ints, Ints]:
    """Sums from each edge's first point, rounded once per point and not once per step."""
    sizes = np.diff(start)
    sums = []
    for steps in (tenth_ft, forward_ms, backward_ms):
        total = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
        sums.append(np.rint(total - np.repeat(total[start[:-1]], sizes)).astype(np.int64))
    return sums[0], sums[1], sums[2]


def control_arrays(raw: RawNetwork, junction_node: Ints) -> tuple[Ints, Ints, Flags]:
    """Control, direction and minor_only of each junction."""
    control = np.full(len(raw.node_ids), int(Control.NONE), dtype=np.int64)
    direction = np.zeros(len(raw.node_ids), dtype=np.int64)
    minor_only = np.zeros(len(raw.node_ids), dtype=np.bool_)
    for row, rule in raw.node_rules.items():
        control[row], direction[row] = int(rule.control), rule.direction
        minor_only[row] = rule.minor_only
    at = junction_node
    return control[at], direction[at], minor_only[at]
