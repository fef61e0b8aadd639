"""From edges to a turn-aware graph: what follows what, and what each turn costs.

A state is a directed edge just driven (2 * edge forward, 2 * edge + 1 backward), or a copy of one
that remembers the way by which it was reached, where a turn rule over via ways needs that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.roads.directed import Directed, directed_edges, followers
from planner.roads.edges import Edges, control_arrays
from planner.roads.network import RawNetwork
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
from planner.roads.turn_rules import apply_via_ways, find_bans


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
