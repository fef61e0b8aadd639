"""Shortest ways between snapped places, on a graph with fewer nodes and the same distances.

Most nodes lie on streets where nobody stops today. A node with few neighbors is taken out and
each way through it replaced by one arc of the summed weight; of two arcs between the same nodes
the lighter stays. Distances between kept nodes do not change: packed weights add up exactly.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from planner.roads.graph import RoadGraph, SnapPoint
from planner.roads.profile import Profile, pack
from planner.roads.sphere import Flags, Floats, Ints

MOST_GROWTH = 6
"""A node may be taken out when this adds at most so many arcs. Measured on a county of 3,500 km:
against 2, 500 x 500 takes a tenth less and 1,500 x 1,500 a quarter less; more gains nothing."""

LEAST_GAIN = 0.02
"""Taking out nodes stops when a round removes less than this share of them."""


@dataclass(frozen=True)
class Arcs:
    """Arcs of a graph, without loops; at most one from node to node once thinned."""

    begin: Ints
    end: Ints
    weight: Floats


def thin(arcs: Arcs, keep: Flags) -> Arcs:
    """Arcs between fewer nodes. keep: nodes that must stay. Distances between them are those of
    the whole graph."""
    count = len(keep)
    arcs = _lightest(arcs, count)
    rest = np.zeros(count, dtype=np.bool_)
    rest[arcs.begin] = rest[arcs.end] = True
    while True:
        out = _to_take_out(arcs, ~keep & rest, count)
        if int(out.sum()) <= LEAST_GAIN * int(rest.sum()):
            return arcs
        rest &= ~out
        arcs = _lightest(_bridged(arcs, out, count), count)


def _to_take_out(arcs: Arcs, may_go: Flags, count: int) -> Flags:
    """Nodes with little to replace, no two of them neighbors."""
    coming = np.bincount(arcs.end, minlength=count)
    leaving = np.bincount(arcs.begin, minlength=count)
    growth = coming * leaving - coming - leaving
    candidate = may_go & (growth <= MOST_GROWTH)
    turn = np.full(count, count, dtype=np.int64)
    chosen = np.flatnonzero(candidate)
    # Small nodes first; among equals a fixed scramble, so that long streets go in few rounds.
    order = np.lexsort(((chosen * 2_654_435_761) % 4_294_967_296, growth[chosen]))
    turn[chosen[order]] = np.arange(len(chosen))
    both = candidate[arcs.begin] & candidate[arcs.end]
    begin, end = arcs.begin[both], arcs.end[both]
    later = np.where(turn[begin] > turn[end], begin, end)
    blocked = np.zeros(count, dtype=np.bool_)
    blocked[later] = True
    result: Flags = candidate & ~blocked
    return result


def _bridged(arcs: Arcs, out: Flags, count: int) -> Arcs:
    """The graph without the given nodes, with an arc for each way through one of them."""
    into = np.flatnonzero(out[arcs.end])
    leave = np.flatnonzero(out[arcs.begin])
    leave = leave[np.argsort(arcs.begin[leave], kind="stable")]
    ways = np.bincount(arcs.begin[leave], minlength=count)
    first = np.concatenate([[0], np.cumsum(ways)[:-1]])
    times = ways[arcs.end[into]]
    a = np.repeat(into, times)
    within = np.arange(len(a)) - np.repeat(np.cumsum(times) - times, times)
    b = leave[np.repeat(first[arcs.end[into]], times) + within]
    stay = ~out[arcs.begin] & ~out[arcs.end]
    return Arcs(
        np.concatenate([arcs.begin[stay], arcs.begin[a]]),
        np.concatenate([arcs.end[stay], arcs.end[b]]),
        np.concatenate([arcs.weight[stay], arcs.weight[a] + arcs.weight[b]]),
    )


def _lightest(arcs: Arcs, count: int) -> Arcs:
    """The lightest arc of each pair of nodes, without loops, sorted by (begin, end)."""
    pair = arcs.begin * count + arcs.end
    order = np.lexsort((arcs.weight, pair))
    pair = pair[order]
    first = np.ones(len(pair), dtype=np.bool_)
    first[1:] = pair[1:] != pair[:-1]
    first &= (arcs.begin != arcs.end)[order]
    rows = order[first]
    return Arcs(arcs.begin[rows], arcs.end[rows], arcs.weight[rows])


SOURCES_AT_ONCE = 32
"""Bounds the memory of a search: this many rows of one float64 per node."""


@dataclass(frozen=True)
class RoadPath:
    """A fastest way. weight: packed milliseconds and tenths of a foot; edges: directed edges in
    driving order, the first and the last driven in part (one entry when the way stays on one
    edge)."""

    weight: float
    edges: tuple[int, ...]


def _one(ms: int, tenth_ft: int) -> float:
    return float(pack(np.array(ms), np.array(tenth_ft)))


def _matrix(rows: Ints, columns: Ints, weights: Floats, size: int) -> csr_array[np.float64]:
    """A square matrix from arcs; weights of 0 stay arcs, and two arcs between the same nodes stay
    two (a sparse matrix made the usual way would add them up)."""
    order = np.argsort(rows, kind="stable")
    indptr = np.concatenate([[0], np.cumsum(np.bincount(rows, minlength=size))])
    parts = (weights[order], columns[order].astype(np.int32), indptr.astype(np.int32))
    return csr_array(parts, shape=(size, size))


class Search:
    """Answers on one profile; places are given as snapped points."""

    def __init__(self, graph: RoadGraph, profile: Profile) -> None:
        self._profile = profile
        self._length, self._ms = graph.edge_totals()

    def weights(self, points: Sequence[SnapPoint]) -> Floats:
        """Packed weights between all points (from, to); inf where there is no way."""
        count = len(points)
        result = np.full((count, count), np.inf)
        matrix, first_source, node_column = self._thinned(points)
        nodes, costs, owner = self._targets(points)
        # A node that thinning found to lead nowhere has no column; nothing arrives by it.
        known = node_column[nodes] >= 0
        columns, costs, owner = node_column[nodes[known]], costs[known], owner[known]
        reached, starts = np.unique(owner, return_index=True)
        for first in range(0, count, SOURCES_AT_ONCE):
            rows = np.arange(first, min(first + SOURCES_AT_ONCE, count))
            away = dijkstra(matrix, indices=first_source + rows)
            if len(columns):
                ends = away[:, columns] + costs
                result[np.ix_(rows, reached)] = np.minimum.reduceat(ends, starts, axis=1)
        self._stay_on_edge(points, result)
        np.fill_diagonal(result, 0.0)
        return result

    def _thinned(self, points: Sequence[SnapPoint]) -> tuple[csr_array[np.float64], int, Ints]:
        """A smaller matrix with the same distances from the points to the nodes by which points
        are reached, the row of the first point, and the column of each node (-1 = none)."""
        profile = self._profile
        departures = [self._departures(point) for point in points]
        keep = np.zeros(profile.node_count, dtype=np.bool_)
        keep[self._targets(points)[0]] = True
        keep[[node for several in departures for node, _ in several]] = True
        begin = np.repeat(np.arange(profile.node_count), np.diff(profile.indptr))
        arcs = thin(Arcs(begin, profile.indices.astype(np.int64), profile.weights), keep)
        keep[arcs.begin] = keep[arcs.end] = True
        nodes = np.flatnonzero(keep)
        column = np.full(profile.node_count, -1, dtype=np.int64)
        column[nodes] = np.arange(len(nodes))
        owner = np.repeat(np.arange(len(points)), [len(several) for several in departures])
        ends = [node for several in departures for node, _ in several]
        extra = [weight for several in departures for _, weight in several]
        rows = np.concatenate([column[arcs.begin], len(nodes) + owner])
        columns = np.concatenate([column[arcs.end], column[np.array(ends, dtype=np.int64)]])
        weights = np.concatenate([arcs.weight, np.array(extra, dtype=np.float64)])
        return _matrix(rows, columns, weights, len(nodes) + len(points)), len(nodes), column

    def way(self, start: SnapPoint, end: SnapPoint, guess: float) -> RoadPath | None:
        """The fastest way, or None. guess: packed weight to look around first; any guess gives
        the same way."""
        direct = self._direct(start, end)
        nodes, costs, _ = self._targets([end])
        matrix = self._with_source(start)
        source = self._profile.node_count
        limit = guess
        while True:
            away, before = dijkstra(
                matrix, indices=np.array([source]), return_predecessors=True, limit=limit
            )
            ends = away[0, nodes] + costs
            best = int(np.argmin(ends)) if len(ends) else -1
            weight = float(ends[best]) if best >= 0 else np.inf
            if min(weight, direct.weight if direct else np.inf) <= limit or np.isinf(limit):
                break
            limit = limit * 4 if limit < guess * 64 else np.inf
        if direct is not None and direct.weight <= weight:
            return direct
        if np.isinf(weight):
            return None
        last = self._last_edge(end, best)
        edges = [last]
        node = int(nodes[best])
        while node != source:
            edges.append(int(self._profile.node_edge[node]))
            node = int(before[0, node])
        return RoadPath(weight, tuple(reversed(edges)))

    def _departures(self, point: SnapPoint) -> list[tuple[int, float]]:
        """Nodes that a trip from a point first reaches the end of, and the weight until there."""
        result = []
        for edge, ms, tenth_ft in (
            (
                2 * point.edge,
                int(self._ms[2 * point.edge]) - point.forward_ms,
                int(self._length[2 * point.edge]) - point.tenth_ft,
            ),
            (2 * point.edge + 1, point.backward_ms, point.tenth_ft),
        ):
            node = int(self._profile.depart_node[edge])
            if node >= 0:
                result.append((node, _one(ms, tenth_ft)))
        return result

    def _arrivals(self, point: SnapPoint) -> list[tuple[int, int, int]]:
        """Directed edges that lead to a point, with milliseconds and tenths of a foot on them."""
        return [
            (2 * point.edge, point.forward_ms, point.tenth_ft),
            (
                2 * point.edge + 1,
                int(self._ms[2 * point.edge + 1]) - point.backward_ms,
                int(self._length[2 * point.edge]) - point.tenth_ft,
            ),
        ]

    def _with_source(self, point: SnapPoint) -> csr_array[np.float64]:
        """The profile's matrix with one more row for a point."""
        profile = self._profile
        departures = self._departures(point)
        total = profile.node_count + 1
        nodes = np.array([node for node, _ in departures], dtype=np.int32)
        weights = np.array([weight for _, weight in departures], dtype=np.float64)
        parts = (
            np.concatenate([profile.weights, weights]),
            np.concatenate([profile.indices, nodes]),
            np.append(profile.indptr, profile.indptr[-1] + len(nodes)).astype(np.int32),
        )
        return csr_array(parts, shape=(total, total))

    def _targets(self, points: Sequence[SnapPoint]) -> tuple[Ints, Floats, Ints]:
        """Nodes from which points are reached, the weight from there, and which point (sorted)."""
        profile = self._profile
        nodes: list[Ints] = []
        costs: list[Floats] = []
        owner: list[Ints] = []
        for place, point in enumerate(points):
            for edge, ms, tenth_ft in self._arrivals(point):
                low, high = profile.into_start[edge], profile.into_start[edge + 1]
                nodes.append(profile.into_node[low:high])
                turn_ms = profile.into_turn_ms[low:high]
                costs.append(pack(turn_ms + ms, np.full(len(turn_ms), tenth_ft)))
                owner.append(np.full(high - low, place, dtype=np.int64))
        return np.concatenate(nodes), np.concatenate(costs), np.concatenate(owner)

    def _last_edge(self, point: SnapPoint, row: int) -> int:
        """Directed edge that a row of _targets([point]) arrives on."""
        edge = 2 * point.edge
        forward = self._profile.into_start[edge + 1] - self._profile.into_start[edge]
        return edge if row < forward else edge + 1

    def _direct(self, start: SnapPoint, end: SnapPoint) -> RoadPath | None:
        """The way along one edge, when both points lie on it in a sense that may be driven."""
        if start.edge != end.edge:
            return None
        edge, along = 2 * start.edge, end.tenth_ft - start.tenth_ft
        if along >= 0 and self._profile.usable[edge]:
            return RoadPath(_one(end.forward_ms - start.forward_ms, along), (edge,))
        if along <= 0 and self._profile.usable[edge + 1]:
            return RoadPath(_one(start.backward_ms - end.backward_ms, -along), (edge + 1,))
        return None

    def _stay_on_edge(self, points: Sequence[SnapPoint], result: Floats) -> None:
        """Put in the ways between points of one edge where these are faster (in place)."""
        by_edge: dict[int, list[int]] = {}
        for place, point in enumerate(points):
            by_edge.setdefault(point.edge, []).append(place)
        for places in by_edge.values():
            for i in places:
                for j in places:
                    direct = self._direct(points[i], points[j]) if i != j else None
                    if direct is not None:
                        result[i, j] = min(result[i, j], direct.weight)
