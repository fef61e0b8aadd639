"""The part of a graph that one vehicle may use, as a matrix for shortest paths.

A road that may only begin or end a trip stands in the matrix twice: once for trips that have not
left it since they began, once for trips that will end on it. From the first one goes out to the
open roads, from the open roads into the second, and never back: so it cannot shorten a trip.

Minutes and miles are found in one search: a weight holds whole milliseconds and, below them, whole
tenths of a foot. Sums of such numbers are exact in float64 and come apart again without rounding,
so miles are those of the fastest way, and of the shortest among equally fast ones.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from planner.roads.graph import RoadGraph
from planner.roads.limits import KINDS
from planner.roads.speeds import TRUCK_SIGN_LB
from planner.roads.sphere import Flags, Floats, Ints
from planner.roads.travel import RoadError, VehicleLimits

LENGTH_BITS = 26
PACK = float(2**LENGTH_BITS)
"""Room for 1,270 miles in tenths of a foot; the other 27 bits of an exact float64 hold 37 hours."""


def pack(ms: NDArray[np.int64], tenth_ft: NDArray[np.int64]) -> Floats:
    """One weight of milliseconds and tenths of a foot."""
    return ms.astype(np.float64) * PACK + tenth_ft.astype(np.float64)


def unpack(weights: Floats) -> tuple[Floats, Floats]:
    """Milliseconds and tenths of a foot of finite weights."""
    ms = np.floor(weights / PACK)
    return ms, weights - ms * PACK


@dataclass(frozen=True)
class Restrictions:
    """What one vehicle finds closed, and where it may only begin or end a trip (per edge);
    arc_closed: turns under something too low."""

    closed: Flags
    ends_only: Flags
    arc_closed: Flags

    def key(self) -> bytes:
        """Equal for vehicles that may use the same roads."""
        parts = (self.closed, self.ends_only, self.arc_closed)
        return b"".join(np.packbits(part).tobytes() for part in parts)


def restrictions(graph: RoadGraph, limits: VehicleLimits | None) -> Restrictions:
    """What the vehicle's weight and size mean on this graph."""
    limits = limits or VehicleLimits()
    figures = [getattr(limits, kind) for kind in KINDS]
    size = np.array([-np.inf if one is None else one for one in figures])
    too_much: Flags = np.any(graph.limit_table < size, axis=1)
    ends_only = graph.ends_only
    if limits.weight_lb is not None and limits.weight_lb > TRUCK_SIGN_LB:
        ends_only = ends_only | graph.truck_sign
    return Restrictions(too_much[graph.limits], ends_only, too_much[graph.arc_limits])


@dataclass(frozen=True)
class Profile:
    """A vehicle's graph.

    nodes 0 to states - 1 are the states, the rest those of trips still on the ends-only road where
    they began. node_edge: directed edge of each node. depart_node: node of a trip that begins on a
    directed edge, -1 where none may. usable: directed edges that lie in the connected network.
    indptr, indices, weights: the matrix. into_*: the same arcs sorted by the directed edge that
    they lead into, with the weight of the turn alone; into_start: first of each directed edge.
    """

    node_edge: Ints
    depart_node: Ints
    usable: Flags
    indptr: Ints
    indices: NDArray[np.int32]
    weights: Floats
    into_start: Ints
    into_node: Ints
    into_turn_ms: Ints
    through_edges: int
    dropped_edges: int
    dropped_tenth_ft: int

    @property
    def node_count(self) -> int:
        """Nodes of the matrix."""
        return len(self.node_edge)


def build_profile(graph: RoadGraph, limit: Restrictions) -> Profile:
    """The graph of one vehicle. Raises RoadError when nothing is open to it."""
    edge_of_state = graph.state_edge // 2
    is_open = np.empty(2 * graph.edge_count, dtype=np.bool_)
    is_open[0::2], is_open[1::2] = graph.open_forward, graph.open_backward
    alive = is_open[graph.state_edge] & ~limit.closed[edge_of_state]
    through = alive & ~limit.ends_only[edge_of_state]
    arc_alive = alive[graph.arc_begin] & alive[graph.arc_end] & ~limit.arc_closed
    usable = _parts(graph, arc_alive, through, alive).usable
    arc_alive &= ~_needless_u_turns(graph, arc_alive, usable, through)
    parts = _parts(graph, arc_alive, through, alive)
    if not parts.main.any():
        raise RoadError("the road extract holds no connected road that this truck may drive")
    return _assemble(graph, arc_alive, parts.main, parts.side)


@dataclass(frozen=True)
class _Parts:
    """main: states on open roads that hang together; side: states on roads where a trip can only
    begin or end; usable: states from which and to which a trip can go on without a stop."""

    main: Flags
    side: Flags
    usable: Flags


def _parts(graph: RoadGraph, arc_alive: Flags, through: Flags, alive: Flags) -> _Parts:
    """A road counts when it can be reached from the strongly connected part with the longest open
    roads and left towards it, in whatever sense: who stops on it may leave the way he came. It is
    a main road when both can be done on open roads."""
    edge = graph.state_edge // 2
    begin, end = graph.arc_begin[arc_alive], graph.arc_end[arc_alive]
    length = graph.edge_totals()[0][graph.state_edge]
    on_open = through[begin] & through[end]
    labels = _components(begin[on_open], end[on_open], len(through))
    total = np.bincount(labels[through], weights=length[through], minlength=len(through))
    core = through & (labels == int(np.argmax(total)))
    reached = _spread(begin[on_open], end[on_open], core)
    left = _spread(end[on_open], begin[on_open], core)
    main = through & _of_edge(edge, reached, graph) & _of_edge(edge, left, graph)
    into_side, out_of_side = ~main[end], ~main[begin]
    reached |= _spread(begin[into_side], end[into_side], reached)
    left |= _spread(end[out_of_side], begin[out_of_side], left)
    counts = _of_edge(edge, reached, graph) & _of_edge(edge, left, graph)
    return _Parts(main, alive & counts & ~main, reached & left)


def _of_edge(edge: Ints, state: Flags, graph: RoadGraph) -> Flags:
    """For each state whether any state of its edge has the property."""
    any_state = np.zeros(graph.edge_count, dtype=np.bool_)
    any_state[edge[state]] = True
    result: Flags = any_state[edge]
    return result


def _spread(begin: Ints, end: Ints, start: Flags) -> Flags:
    """All states that arcs lead to from the given ones, and these."""
    count = len(start)
    first = np.flatnonzero(start)
    rows = np.concatenate([begin, np.full(len(first), count)])
    columns = np.concatenate([end, first])
    ones = np.ones(len(rows), dtype=np.int8)
    matrix = csr_array((ones, (rows, columns)), shape=(count + 1, count + 1))
    order = breadth_first_order(matrix, count, return_predecessors=False)
    result = np.zeros(count + 1, dtype=np.bool_)
    result[order] = True
    return result[:count]


def _needless_u_turns(graph: RoadGraph, arc_alive: Flags, usable: Flags, through: Flags) -> Flags:
    """Turns on the spot where the road goes on. What is left are those at the end of a road for
    this vehicle: nothing beyond, nothing that comes back, or (on an open road) only a private
    one."""
    begin, end = graph.arc_begin, graph.arc_end
    is_u_turn = graph.state_edge[end] == graph.state_edge[begin] ^ 1
    goes_on = arc_alive & ~is_u_turn & usable[end] & (through[end] | ~through[begin])
    has_way_on = np.zeros(len(through), dtype=np.bool_)
    has_way_on[begin[goes_on]] = True
    needless: Flags = is_u_turn & has_way_on[begin]
    return needless


def _components(begin: Ints, end: Ints, count: int) -> NDArray[np.int32]:
    ones = np.ones(len(begin), dtype=np.int8)
    matrix = csr_array((ones, (begin, end)), shape=(count, count))
    labels: NDArray[np.int32] = connected_components(matrix, connection="strong")[1]
    return labels


def _assemble(graph: RoadGraph, arc_alive: Flags, main: Flags, side: Flags) -> Profile:
    """side: states on roads where trips only begin or end."""
    states = len(main)
    start_node = np.full(states, -1, dtype=np.int64)
    side_states = np.flatnonzero(side)
    start_node[side_states] = states + np.arange(len(side_states))
    begin, end, turn_ms = graph.arc_begin, graph.arc_end, graph.arc_ms
    inward = arc_alive & (main[begin] | side[begin]) & (main[end] | side[end])
    inward &= ~(side[begin] & main[end])
    within = arc_alive & side[begin] & side[end]
    outward = arc_alive & side[begin] & main[end]
    node_edge = np.concatenate([graph.state_edge, graph.state_edge[side_states]])
    u = np.concatenate([begin[inward], start_node[begin[within]], start_node[begin[outward]]])
    v = np.concatenate([end[inward], start_node[end[within]], end[outward]])
    ms = np.concatenate([turn_ms[inward], turn_ms[within], turn_ms[outward]])
    length, drive_ms = graph.edge_totals()
    into = node_edge[v]
    order = np.lexsort((v, u))
    by_edge = np.lexsort((u, into))
    directed = 2 * graph.edge_count
    usable = (main | side)[:directed]
    kept_edge = usable[0::2] | usable[1::2]
    return Profile(
        node_edge=node_edge,
        depart_node=np.where(main[:directed], np.arange(directed), start_node[:directed]),
        usable=usable,
        indptr=_starts(u, len(node_edge)),
        indices=v[order].astype(np.int32),
        weights=pack(ms + drive_ms[into], length[into])[order],
        into_start=_starts(into, directed),
        into_node=u[by_edge],
        into_turn_ms=ms[by_edge],
        through_edges=int((main[:directed][0::2] | main[:directed][1::2]).sum()),
        dropped_edges=int((~kept_edge).sum()),
        dropped_tenth_ft=int(length[0::2][~kept_edge].sum()),
    )


def _starts(rows: Ints, count: int) -> Ints:
    return np.concatenate([[0], np.cumsum(np.bincount(rows, minlength=count))]).astype(np.int64)
