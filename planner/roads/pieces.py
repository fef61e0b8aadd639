"""A way over the graph as the stretches that are driven one after the other."""

from __future__ import annotations

from dataclasses import dataclass

from planner.roads.graph import RoadGraph
from planner.roads.junctions import bearing
from planner.roads.search import RoadPath
from planner.roads.snapping import SnapPoint
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
