"""Turns drawn streets into ways that share nodes where they meet, as a road extract has them."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass

from town_geometry import (
    Point,
    SegmentIndex,
    crossing,
    distance_ft,
    nearest_on,
    point_at,
    simplify,
)
from town_sketch import Street

JOIN_FT = 60.0
"""A street that ends this near another one meets it."""

TIE_FT = 3_200.0
"""A tied street is drawn on at most this far."""

SAME_CORNER_FT = 40.0
"""Junctions nearer than this are one junction."""

STUB_FT = 190.0
"""A loose end shorter than this beyond a junction is cut off."""

BEND_FT = 3.0
"""How far a way may lie from its drawn line."""


@dataclass
class Way:
    """A street with the numbers of its nodes."""

    street: Street
    nodes: list[int]


@dataclass
class Network:
    """Nodes (points by number) and the ways through them; junctions: nodes shared by ways."""

    points: list[Point]
    ways: list[Way]

    def uses(self) -> Counter[int]:
        """How many street ends meet at each node (2 = a bend, 3 or more = a junction)."""
        count: Counter[int] = Counter()
        for way in self.ways:
            for place, node in enumerate(way.nodes):
                count[node] += 1 if place in (0, len(way.nodes) - 1) else 2
        return count


class _Corners:
    """Junction points; near ones are the same."""

    def __init__(self) -> None:
        self.points: list[Point] = []
        self._squares: dict[tuple[int, int], list[int]] = {}

    def number(self, p: Point, within_ft: float) -> int:
        square = (int(p[0] // 100), int(p[1] // 100))
        near = [
            (distance_ft(p, self.points[n]), n)
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for n in self._squares.get((square[0] + i, square[1] + j), ())
        ]
        if near and min(near)[0] <= within_ft:
            return min(near)[1]
        return self.new(p)

    def new(self, p: Point) -> int:
        self.points.append(p)
        square = (int(p[0] // 100), int(p[1] // 100))
        self._squares.setdefault(square, []).append(len(self.points) - 1)
        return len(self.points) - 1


def build(streets: tuple[Street, ...]) -> Network:
    """The network of all streets that hang together."""
    lines = [list(street.points) for street in streets]
    _tie_ends(streets, lines)
    index = _index_of(lines)
    marks = _meetings(lines, index)
    corners = _Corners()
    ways = [
        Way(street, _nodes_of(lines[k], sorted(marks[k]), corners))
        for k, street in enumerate(streets)
    ]
    network = Network(corners.points, [way for way in ways if len(way.nodes) > 1])
    _cut_stubs(network)
    return _largest_part(network)


def _index_of(lines: list[list[Point]]) -> SegmentIndex:
    index = SegmentIndex()
    for k, line in enumerate(lines):
        for i, (a, b) in enumerate(itertools.pairwise(line)):
            index.add(a, b, (k, i))
    return index


def _tie_ends(streets: tuple[Street, ...], lines: list[list[Point]]) -> None:
    """Draw the ends of tied streets straight on to the next street, or else to the nearest."""
    index = _index_of(lines)
    for k, street in enumerate(streets):
        for end, at in (("start", 0), ("end", -1)):
            if street.tied in (end, "both"):
                p, inner = street.points[at], street.points[1 if at == 0 else -2]
                reach = _straight_on(lines, index, k, inner, p)
                if reach is None:
                    nearest = _nearest(lines, index, k, p, TIE_FT)
                    reach = None if nearest is None else nearest[2]
                if reach is not None:
                    lines[k].insert(0 if at == 0 else len(lines[k]), reach)


def _straight_on(
    lines: list[list[Point]], index: SegmentIndex, own: int, inner: Point, end: Point
) -> Point | None:
    """Where a line that goes on straight from its end first meets another line."""
    size = distance_ft(inner, end)
    far = point_at(inner, end, 1 + TIE_FT / size)
    start = point_at(inner, end, 1 + 1 / size)
    meets = [
        (meet[0], k, i)
        for k, i in index.near(start, far)
        if k != own and (meet := crossing(start, far, lines[k][i], lines[k][i + 1])) is not None
    ]
    return point_at(start, far, min(meets)[0]) if meets else None


def _nearest(
    lines: list[list[Point]], index: SegmentIndex, own: int, p: Point, within_ft: float
) -> tuple[int, float, Point] | None:
    """The nearest place on another line: its number, segment + share, and the point."""
    best: tuple[float, int, float, Point] | None = None
    for k, i in index.near(p, p, within_ft):
        if k != own:
            q, share = nearest_on(p, lines[k][i], lines[k][i + 1])
            off_ft = distance_ft(p, q)
            if off_ft <= within_ft and (best is None or off_ft < best[0]):
                best = (off_ft, k, i + share, q)
    return None if best is None else best[1:]


def _meetings(lines: list[list[Point]], index: SegmentIndex) -> list[list[tuple[float, Point]]]:
    """Per line: where it meets others, as (segment + share, point)."""
    marks: list[list[tuple[float, Point]]] = [[] for _ in lines]
    for k, line in enumerate(lines):
        for i, (a, b) in enumerate(itertools.pairwise(line)):
            for other, j in index.near(a, b):
                if other <= k:
                    continue
                meet = crossing(a, b, lines[other][j], lines[other][j + 1])
                if meet is not None:
                    p = point_at(a, b, meet[0])
                    marks[k].append((i + meet[0], p))
                    marks[other].append((j + meet[1], p))
    for k, line in enumerate(lines):
        for end, where in ((line[0], 0.0), (line[-1], float(len(line) - 1))):
            reach = _nearest(lines, index, k, end, JOIN_FT)
            if reach is not None:
                marks[k].append((where, reach[2]))
                marks[reach[0]].append((reach[1], reach[2]))
    return marks


def _nodes_of(line: list[Point], marks: list[tuple[float, Point]], corners: _Corners) -> list[int]:
    """Nodes along one line: its junctions, and bends between them."""
    stops: list[tuple[float, int]] = [
        (where, corners.number(p, SAME_CORNER_FT)) for where, p in marks
    ]
    if not stops or stops[0][0] > 0:
        stops.insert(0, (0.0, corners.number(line[0], 1.0)))
    if stops[-1][0] < len(line) - 1:
        stops.append((float(len(line) - 1), corners.number(line[-1], 1.0)))
    nodes = [stops[0][1]]
    for (start, a), (end, b) in itertools.pairwise(stops):
        if a == b:
            continue
        p, q = corners.points[a], corners.points[b]
        between = [
            line[n]
            for n in range(int(start) + 1, int(end) + (1 if end > int(end) else 0))
            if distance_ft(line[n], p) > SAME_CORNER_FT and distance_ft(line[n], q) > SAME_CORNER_FT
        ]
        nodes += [corners.new(bend) for bend in simplify([p, *between, q], BEND_FT)[1:-1]]
        nodes.append(b)
    return nodes


def _cut_stubs(network: Network) -> None:
    uses = network.uses()
    for way in network.ways:
        for at_end in (False, True):
            if at_end and way.street.turning_end:
                continue
            nodes = way.nodes[::-1] if at_end else way.nodes
            if uses[nodes[0]] > 1:
                continue
            gone_ft = 0.0
            for place, (a, b) in enumerate(itertools.pairwise(nodes)):
                gone_ft += distance_ft(network.points[a], network.points[b])
                if gone_ft > STUB_FT:
                    break
                if uses[b] >= 3:
                    kept = nodes[place + 1 :]
                    way.nodes = kept[::-1] if at_end else kept
                    break
    network.ways = [way for way in network.ways if len(way.nodes) > 1]


def _largest_part(network: Network) -> Network:
    """The network without the pieces that hang loose, nodes renumbered in the order of use."""
    part = list(range(len(network.points)))

    def root(n: int) -> int:
        while part[n] != n:
            part[n] = part[part[n]]
            n = part[n]
        return n

    for way in network.ways:
        for node in way.nodes[1:]:
            part[root(node)] = root(way.nodes[0])
    sizes = Counter(root(way.nodes[0]) for way in network.ways)
    main = max(sorted(sizes), key=lambda n: sizes[n])
    new: dict[int, int] = {}
    ways = []
    for way in network.ways:
        if root(way.nodes[0]) == main:
            ways.append(Way(way.street, [new.setdefault(n, len(new)) for n in way.nodes]))
    points = [network.points[old] for old in new]
    return Network(points, ways)
