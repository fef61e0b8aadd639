"""A graph with fewer nodes and the same distances between the nodes that matter.

Most nodes lie on streets where nobody stops today. A node with few neighbors is taken out and
each way through it replaced by one arc of the summed weight; of two arcs between the same nodes
the lighter stays. Distances between kept nodes do not change: packed weights add up exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
