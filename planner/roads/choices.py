"""A way as the stretches that are driven one after the other, and at one junction: whether a
driver has to be told, and what.

The angles that part one thing from another were chosen on three real extracts so that an
independent engine mostly says the same (tests/bench/bench_turns.py); no published source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from planner.roads.graph import Exit, RoadGraph, SnapPoint, bearing, change, degrees
from planner.roads.search import RoadPath
from planner.roads.speeds import CLASSES
from planner.roads.sphere import FT_PER_DEG
from planner.roads.tags import RoadLabel


@dataclass(frozen=True)
class Piece:
    """A driven stretch of one directed edge with one label. inside: it begins within its edge.
    begin, end: degrees on leaving its begin and on reaching its end; points: (lat, lon) of all that
    are passed, its begin left out and its end included."""

    edge: int
    label: RoadLabel
    inside: bool
    at: tuple[float, float]
    begin: float
    end: float
    length_ft: float
    points: tuple[tuple[float, float], ...]
    roundabout: bool


def pieces_of(graph: RoadGraph, way: RoadPath, first: SnapPoint, last: SnapPoint) -> list[Piece]:
    """The way from one snapped point to the other, in driving order."""
    pieces: list[Piece] = []
    for place, edge in enumerate(way.edges):
        start = first if place == 0 else None
        end = last if place == len(way.edges) - 1 else None
        pieces += _pieces_of_edge(graph, edge, start, end)
    return pieces


def _pieces_of_edge(
    graph: RoadGraph, edge: int, start: SnapPoint | None, end: SnapPoint | None
) -> list[Piece]:
    low, high = int(graph.start[edge // 2]), int(graph.start[edge // 2 + 1]) - 1
    backward = edge % 2 == 1
    # Stretch s lies between the points s and s + 1.
    before, after = (end, start) if backward else (start, end)
    first = before.row if before is not None else low
    last = after.row if after is not None else high - 1
    order = range(last, first - 1, -1) if backward else range(first, last + 1)
    pieces = []
    for run in _runs(graph, order):
        begins, ends = run[0] == order[0], run[-1] == order[-1]
        from_row, to_row = run[0] + backward, run[-1] + (not backward)
        at = _position(graph, from_row, start if begins else None)
        rows = [s if backward else s + 1 for s in (run[:-1] if ends and end is not None else run)]
        points = [_position(graph, row, None) for row in rows]
        if ends and end is not None:
            points.append((end.lat, end.lon))
        tenth_ft = _tenth_ft(graph, to_row, end if ends else None) - _tenth_ft(
            graph, from_row, start if begins else None
        )
        pieces.append(
            Piece(
                edge=edge,
                label=graph.label(int(graph.point_label[run[0]])),
                inside=not begins,
                at=at,
                begin=bearing(graph, from_row, low if backward else high),
                end=(bearing(graph, to_row, high if backward else low) + 180.0) % 360.0,
                length_ft=abs(tenth_ft) / 10.0,
                points=tuple(points),
                roundabout=bool(graph.roundabout[edge // 2]),
            )
        )
    return pieces


def _runs(graph: RoadGraph, order: range) -> list[list[int]]:
    """The stretches in driving order, cut where the label changes."""
    runs: list[list[int]] = []
    for stretch in order:
        if not runs or graph.point_label[stretch] != graph.point_label[runs[-1][-1]]:
            runs.append([])
        runs[-1].append(stretch)
    return runs


def _position(graph: RoadGraph, row: int, snap: SnapPoint | None) -> tuple[float, float]:
    if snap is not None:
        return snap.lat, snap.lon
    return float(graph.lat[row]), float(graph.lon[row])


def _tenth_ft(graph: RoadGraph, row: int, snap: SnapPoint | None) -> int:
    return snap.tenth_ft if snap is not None else int(graph.length_tenth_ft[row])


STRAIGHT_DEG: Final = 30.0
"""Less is going on, where the roads carry different names."""

CORNER_DEG: Final = 45.0
"""Less is a slight turn, a bend of the same street, or a branch of a fork."""

SHARP_DEG: Final = 130.0
U_TURN_DEG: Final = 160.0

KEEP_DEG: Final = 20.0
"""Who leaves a street that goes on by less than this keeps to a side; by more, he turns."""

FORK_GAP_DEG: Final = 25.0
"""Another branch that bends away by more than this more is no choice to think about."""

BEAR_DEG: Final = 12.0
"""A bend onto another street that joins from behind is told from here on."""

BEHIND_DEG: Final = 148.0
DOUBLE_DEG: Final = 5.0
"""Two roads of one name this close are one street, drawn twice."""

AHEAD_DEG: Final = 90.0
CLEARLY_DEG: Final = 15.0
BESIDE_FT: Final = 10.0
"""Nearer to the middle of the road nobody can tell on which side of it a point lies."""

BESIDE_DEG: Final = (30.0, 150.0)
"""A place farther round lies ahead, behind the end of the street, or back."""

UNKNOWN_RANK: Final = 7
HIGHWAYS: Final = frozenset({"motorway", "trunk"})


def decide(
    angle: float, before: Piece, after: Piece, others: Sequence[Exit], passed: bool
) -> tuple[str, str] | None:
    """Kind and side of what is told at a junction, None when nothing is. angle: of the road that is
    taken; passed: whether roads meet there at all."""
    same = shares_name(before.label, after.label)
    every = [(change(before.end, one.bearing), one) for one in others]
    # Nobody takes a driveway for a street.
    rivals = [pair for pair in every if pair[1].is_street or not is_street(after)]
    if abs(angle) >= U_TURN_DEG and same:
        return "u-turn", "left" if angle < 0 else "right"
    if abs(angle) < (CORNER_DEG if same else STRAIGHT_DEG):
        return _fork(angle, before, after, rivals, passed)
    if _same_street(before.label, after.label):
        return ("turn", side_word(angle)) if _looks_on(every, rivals) else None
    named = before.label.shown or after.label.shown
    if abs(angle) < CORNER_DEG and not (passed and named):
        return None
    return ("turn", side_word(angle)) if passed or named else None


def _looks_on(every: Sequence[tuple[float, Exit]], rivals: Sequence[tuple[float, Exit]]) -> bool:
    """Whether a street that bends seems to go on otherwise."""
    return bool(rivals) or any(abs(phi) < AHEAD_DEG for phi, _ in every)


def _fork(
    angle: float, before: Piece, after: Piece, rivals: Sequence[tuple[float, Exit]], passed: bool
) -> tuple[str, str] | None:
    """What is told where the way goes on nearly straight."""
    same = shares_name(before.label, after.label)
    if not (before.label.shown or after.label.shown or is_link(after)):
        return None
    near = [
        (phi, one)
        for phi, one in rivals
        if abs(phi) < CORNER_DEG
        and not (abs(phi - angle) < DOUBLE_DEG and shares_name(after.label, one.label))
    ]
    going_on = [phi for phi, one in near if shares_name(before.label, one.label)]
    if going_on and not same:
        side = "left" if angle < min(going_on, key=abs) else "right"
        return ("keep", side) if abs(angle) < KEEP_DEG else ("turn", f"slight {side}")
    if (
        same
        and abs(angle) >= STRAIGHT_DEG
        and not all(abs(phi) > abs(angle) + CLEARLY_DEG for phi, _ in rivals)
    ):
        return "turn", side_word(angle)
    equal = [
        phi
        for phi, one in near
        if _rank(one.label) <= _rank(after.label) + (0 if same else 1)
        and (is_link(after) or not one.label.road_class.endswith("_link"))
    ]
    if any(abs(phi) - abs(angle) <= FORK_GAP_DEG for phi in equal):
        return "keep", "left" if angle < min(equal, key=abs) else "right"
    if not same and any(shares_name(before.label, one.label) for _, one in rivals):
        return "straight", ""  # The street that was followed turns off here.
    joins = passed and all(abs(phi) > BEHIND_DEG for phi, _ in rivals)
    if joins and not same and after.label.shown and abs(angle) > BEAR_DEG:
        return "turn", side_word(angle)
    return None


def side_word(angle: float) -> str:
    """'left', 'slight right' ... of a change of bearing."""
    side = "left" if angle < 0 else "right"
    if abs(angle) < CORNER_DEG:
        return f"slight {side}"
    return f"sharp {side}" if abs(angle) > SHARP_DEG else side


def arrival_side(last: Piece, place: tuple[float, float]) -> str:
    """Side of the street on which a place lies for who arrives, '' when it cannot be told."""
    lat, lon = last.points[-1]
    north = (place[0] - lat) * FT_PER_DEG
    east = (place[1] - lon) * FT_PER_DEG * math.cos(math.radians(lat))
    if math.hypot(north, east) < BESIDE_FT:
        return ""
    points = [last.at, *last.points]
    prior = next((p for p in reversed(points[:-1]) if p != points[-1]), None)
    heading = degrees(prior, points[-1]) if prior else last.end
    angle = change(heading, degrees((lat, lon), place))
    if not BESIDE_DEG[0] <= abs(angle) <= BESIDE_DEG[1]:
        return ""
    return "left" if angle < 0 else "right"


def shares_name(one: RoadLabel, other: RoadLabel) -> bool:
    """Whether two roads carry a common name or route number."""
    return bool(_names(one) & _names(other))


def _same_street(one: RoadLabel, other: RoadLabel) -> bool:
    """Whether two roads are one street: by their names where both have one, else by the numbers."""
    if one.name and other.name:
        return bool(_parts(one.name) & _parts(other.name))
    return shares_name(one, other)


def _parts(text: str) -> set[str]:
    return {part.strip() for part in text.split(";") if part.strip()}


def _names(label: RoadLabel) -> set[str]:
    return _parts(label.name) | _parts(label.refs)


def is_link(piece: Piece) -> bool:
    """Whether it is a ramp or a channel for turning."""
    return piece.label.road_class.endswith("_link")


def is_highway(piece: Piece) -> bool:
    """Whether it is a motorway or a trunk road."""
    return piece.label.road_class in HIGHWAYS


def is_motorway(piece: Piece) -> bool:
    """Whether it is a motorway or its ramp."""
    return piece.label.road_class.startswith("motorway")


def is_street(piece: Piece) -> bool:
    """Whether it is more than a driveway, an alley or a track."""
    return piece.label.road_class not in ("service", "track")


def _rank(label: RoadLabel) -> int:
    return CLASSES[label.road_class].rank if label.road_class in CLASSES else UNKNOWN_RANK
