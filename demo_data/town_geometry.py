"""Plane geometry for drawing the demo town, in feet from the map's south-west corner."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

Point = tuple[float, float]


def points(text: str) -> list[Point]:
    """Points written as 'x,y x,y ...' in feet."""
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in text.split())]


def distance_ft(a: Point, b: Point) -> float:
    """Feet between two points."""
    return math.hypot(a[0] - b[0], a[1] - b[1])


def length_ft(points: Sequence[Point]) -> float:
    """Feet along a drawn line."""
    return sum(distance_ft(a, b) for a, b in itertools.pairwise(points))


def spline(controls: Sequence[Point], step_ft: float = 150.0) -> list[Point]:
    """A smooth line through the control points (Catmull-Rom), one point about every step_ft."""
    if len(controls) < 3:
        return list(controls)
    first = (2 * controls[0][0] - controls[1][0], 2 * controls[0][1] - controls[1][1])
    last = (2 * controls[-1][0] - controls[-2][0], 2 * controls[-1][1] - controls[-2][1])
    padded = [first, *controls, last]
    line: list[Point] = []
    for p0, p1, p2, p3 in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        pieces = max(1, round(distance_ft(p1, p2) / step_ft))
        for piece in range(pieces):
            t = piece / pieces
            line.append(
                (_cubic(p0[0], p1[0], p2[0], p3[0], t), _cubic(p0[1], p1[1], p2[1], p3[1], t))
            )
    line.append(controls[-1])
    return line


def _cubic(a: float, b: float, c: float, d: float, t: float) -> float:
    return 0.5 * (
        2 * b
        + (c - a) * t
        + (2 * a - 5 * b + 4 * c - d) * t * t
        + (3 * b - a - 3 * c + d) * t * t * t
    )


def simplify(points: Sequence[Point], within_ft: float) -> list[Point]:
    """The line with fewer points, nowhere farther than within_ft from it."""
    if len(points) < 3:
        return list(points)
    far, far_ft = 0, -1.0
    for place in range(1, len(points) - 1):
        off_ft = distance_ft(points[place], nearest_on(points[place], points[0], points[-1])[0])
        if off_ft > far_ft:
            far, far_ft = place, off_ft
    if far_ft <= within_ft:
        return [points[0], points[-1]]
    return simplify(points[: far + 1], within_ft)[:-1] + simplify(points[far:], within_ft)


def nearest_on(p: Point, a: Point, b: Point) -> tuple[Point, float]:
    """The point of segment ab nearest to p, and its share of the way from a to b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    if square == 0:
        return a, 0.0
    share = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square))
    return (a[0] + share * dx, a[1] + share * dy), share


def crossing(a: Point, b: Point, c: Point, d: Point) -> tuple[float, float] | None:
    """Shares of ab and of cd at which the two segments cross, or None."""
    rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    turn = rx * sy - ry * sx
    if abs(turn) < 1e-9:
        return None
    t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / turn
    u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / turn
    return (t, u) if 0 <= t <= 1 and 0 <= u <= 1 else None


def point_at(a: Point, b: Point, share: float) -> Point:
    """The point at a share of the way from a to b."""
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def crossings(line: Sequence[Point], other: Sequence[Point]) -> list[tuple[float, Point]]:
    """Where line crosses other: (segment number + share along line, point), in order."""
    found = []
    for i, (a, b) in enumerate(itertools.pairwise(line)):
        for c, d in itertools.pairwise(other):
            meet = crossing(a, b, c, d)
            if meet is not None:
                found.append((i + meet[0], point_at(a, b, meet[0])))
    return sorted(found)


def split_line(line: Sequence[Point], cuts: Sequence[tuple[float, Point]]) -> list[list[Point]]:
    """The pieces of a line cut at (segment number + share, point) places."""
    pieces: list[list[Point]] = []
    start = [line[0]]
    done = 0
    for where, point in sorted(cuts):
        segment = int(where)
        piece = [*start, *line[done + 1 : segment + 1], point]
        pieces.append(piece)
        start, done = [point], segment
    pieces.append([*start, *line[done + 1 :]])
    return [piece for piece in pieces if length_ft(piece) > 1]


def offset(line: Sequence[Point], by_ft: float) -> list[Point]:
    """The line moved sideways, to its left when by_ft is positive."""
    moved = []
    for i, p in enumerate(line):
        a, b = line[max(0, i - 1)], line[min(len(line) - 1, i + 1)]
        size = distance_ft(a, b) or 1.0
        nx, ny = -(b[1] - a[1]) / size, (b[0] - a[0]) / size
        moved.append((p[0] + nx * by_ft, p[1] + ny * by_ft))
    return moved


def walk(line: Sequence[Point], first_ft: float, step_ft: float) -> Iterator[tuple[Point, Point]]:
    """Points every step_ft along a line, each with the unit direction of travel there."""
    wanted, gone = first_ft, 0.0
    for a, b in itertools.pairwise(line):
        size = distance_ft(a, b)
        while size and wanted <= gone + size:
            share = (wanted - gone) / size
            yield point_at(a, b, share), ((b[0] - a[0]) / size, (b[1] - a[1]) / size)
            wanted += step_ft
        gone += size


def inside(p: Point, ring: Sequence[Point]) -> bool:
    """Whether a point lies in a closed ring."""
    odd = False
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (a[1] > p[1]) != (b[1] > p[1]) and p[0] < a[0] + (p[1] - a[1]) * (b[0] - a[0]) / (
            b[1] - a[1]
        ):
            odd = not odd
    return odd


class SegmentIndex:
    """Segments by the squares they touch, so that near ones are found quickly."""

    def __init__(self, square_ft: float = 400.0) -> None:
        self._square_ft = square_ft
        self._squares: dict[tuple[int, int], list[tuple[int, int]]] = {}

    def _cover(self, a: Point, b: Point, margin_ft: float) -> Iterator[tuple[int, int]]:
        low_x, high_x = sorted((a[0], b[0]))
        low_y, high_y = sorted((a[1], b[1]))
        size = self._square_ft
        for i in range(int((low_x - margin_ft) // size), int((high_x + margin_ft) // size) + 1):
            for j in range(int((low_y - margin_ft) // size), int((high_y + margin_ft) // size) + 1):
                yield i, j

    def add(self, a: Point, b: Point, key: tuple[int, int]) -> None:
        """Remember a segment under a key."""
        for square in self._cover(a, b, 0.0):
            self._squares.setdefault(square, []).append(key)

    def near(self, a: Point, b: Point, margin_ft: float = 0.0) -> list[tuple[int, int]]:
        """Keys of the segments that may lie within margin_ft of ab, in order."""
        found: set[tuple[int, int]] = set()
        for square in self._cover(a, b, margin_ft):
            found.update(self._squares.get(square, ()))
        return sorted(found)
