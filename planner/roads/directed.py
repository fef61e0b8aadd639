"""Edges in both directions, with what a driver sees at their ends."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from planner.roads.edges import Edges
from planner.roads.network import RawNetwork
from planner.roads.sphere import Flags, Floats, Ints, bearing_deg

Number = TypeVar("Number", np.int64, np.float64, np.bool_)

BEARING_OVER_FT = 60.0
"""Directions are taken over this much of a road, so that a kink at the curb is not a turn."""


@dataclass(frozen=True)
class Directed:
    """Every edge in both directions (2 * edge, 2 * edge + 1). tail, head: junctions; first_bearing,
    last_bearing: degrees on leaving the tail and on reaching the head; first_way, last_way: OSM
    ids there; along: reaches its head in the sense in which that way is drawn."""

    is_open: Flags
    tail: Ints
    head: Ints
    length_ft: Floats
    rank: Ints
    roundabout: Flags
    first_bearing: Floats
    last_bearing: Floats
    first_way: Ints
    last_way: Ints
    along: Flags


def directed_edges(raw: RawNetwork, edges: Edges) -> Directed:
    """Both directions of every edge of a network."""
    first, last = edges.start[:-1], edges.start[1:] - 1
    out_at, out_back = _bearings(edges)
    way_first, way_last = raw.way_ids[edges.point_way[first]], raw.way_ids[edges.point_way[last]]
    length_ft = edges.length_tenth_ft[last] / 10.0
    return Directed(
        is_open=_both(edges.open_forward, edges.open_backward),
        tail=_both(edges.tail, edges.head),
        head=_both(edges.head, edges.tail),
        length_ft=_both(length_ft, length_ft),
        rank=_both(edges.rank, edges.rank),
        roundabout=_both(edges.roundabout, edges.roundabout),
        first_bearing=_both(out_at, out_back),
        last_bearing=_both((out_back + 180.0) % 360.0, (out_at + 180.0) % 360.0),
        first_way=_both(way_first, way_last),
        last_way=_both(way_last, way_first),
        along=_both(edges.point_along[last], ~edges.point_along[first]),
    )


def _both(forward: NDArray[Number], backward: NDArray[Number]) -> NDArray[Number]:
    result = np.empty(2 * len(forward), dtype=forward.dtype)
    result[0::2], result[1::2] = forward, backward
    return result


def _bearings(edges: Edges) -> tuple[Floats, Floats]:
    """Bearing on leaving an edge's first point, and on leaving its last point backward."""
    first, last = edges.start[:-1], edges.start[1:] - 1
    # Lengths begin at 0 on every edge; an offset per edge makes them rise over the whole array.
    sizes = np.diff(edges.start)
    total = edges.length_tenth_ft[last] + 1
    offset = np.concatenate([[0], np.cumsum(total)[:-1]])
    rising = edges.length_tenth_ft + np.repeat(offset, sizes)
    over = int(BEARING_OVER_FT * 10)
    ahead = np.searchsorted(rising, np.minimum(offset + over, rising[last]))
    behind = np.searchsorted(rising, np.maximum(rising[last] - over, offset), side="right") - 1
    ahead = np.clip(ahead, first + 1, last)
    behind = np.clip(behind, first, last - 1)
    lat, lon = edges.lat, edges.lon
    return (
        bearing_deg(lat[first], lon[first], lat[ahead], lon[ahead]),
        bearing_deg(lat[last], lon[last], lat[behind], lon[behind]),
    )


def followers(directed: Directed) -> tuple[Ints, Ints]:
    """Every pair of open directed edges where the second begins at the end of the first, turning
    round on the spot included."""
    open_edges = np.flatnonzero(directed.is_open)
    by_tail = open_edges[np.argsort(directed.tail[open_edges], kind="stable")]
    junctions = int(max(directed.tail.max(), directed.head.max())) + 1
    leaving = np.bincount(directed.tail[open_edges], minlength=junctions)
    offset = np.concatenate([[0], np.cumsum(leaving)[:-1]])
    count = leaving[directed.head[open_edges]]
    begin = np.repeat(open_edges, count)
    within = np.arange(len(begin)) - np.repeat(np.cumsum(count) - count, count)
    end = by_tail[np.repeat(offset[directed.head[open_edges]], count) + within]
    return begin, end
