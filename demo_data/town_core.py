"""The core of the demo town: its warped grid, the blocks askew to it, the streets that lead out."""

from __future__ import annotations

import math

from town_geometry import Point, spline
from town_sketch import CORE, Sketch


def core_frame(u: float, v: float) -> Point:
    """Core street grid (feet east and north of the courthouse) to the map, slightly warped."""
    wu = u + 70 * math.sin(v / 1_500 + 0.6) + 45 * math.sin((u + v) / 2_600)
    wv = v + 85 * math.sin(u / 1_900 + 1.1) + 40 * math.sin((u - v) / 1_700)
    turn = math.radians(5)
    return (
        CORE[0] + wu * math.cos(turn) - wv * math.sin(turn),
        CORE[1] + wu * math.sin(turn) + wv * math.cos(turn),
    )


# Feet between neighboring streets: surveyed in several additions, so not one even block.
COLUMNS = (
    -3_900,
    -3_540,
    -3_180,
    -2_760,
    -2_380,
    -2_000,
    -1_560,
    -1_180,
    -790,
    -390,
    0,
    400,
    800,
    1_190,
    1_640,
    2_020,
    2_400,
    2_830,
    3_210,
    3_600,
)

ROWS = (
    -3_080,
    -2_760,
    -2_400,
    -2_060,
    -1_700,
    -1_330,
    -1_000,
    -660,
    -330,
    0,
    330,
    660,
    1_010,
    1_350,
    1_680,
    2_060,
    2_420,
    2_760,
    3_150,
)

COLUMN_ZERO, ROW_ZERO = COLUMNS.index(0), ROWS.index(0)

_OPEN_GROUND = ((4, 12, 6, 14, "park"), (14, 3, 16, 5, "school"), (9, 9, 10, 10, "square"))


def _in_town(column: int, row: int) -> bool:
    """Whether a corner of the grid was ever built: a ragged oval."""
    u, v = COLUMNS[column], ROWS[row]
    angle = math.atan2(v, u)
    edge = 1 + 0.09 * math.sin(3 * angle + 0.5) + 0.07 * math.sin(5 * angle + 2)
    if column == COLUMN_ZERO or row == ROW_ZERO:
        return True
    return math.hypot(u / 3_850, v / 3_150) < edge


def core_line(index: int, axis: str) -> list[Point]:
    """Corners of the core street at an offset from Main (row) or Court (column)."""
    if axis == "row":
        row = ROW_ZERO + index
        return [core_frame(COLUMNS[c], ROWS[row]) for c in range(len(COLUMNS)) if _in_town(c, row)]
    column = COLUMN_ZERO + index
    return [core_frame(COLUMNS[column], ROWS[r]) for r in range(len(ROWS)) if _in_town(column, r)]


def _missing(column: int, row: int, axis: str) -> bool:
    """Whether a block's street was given up for a park, a school or the courthouse square."""
    for left, low, right, high, _ in _OPEN_GROUND:
        if axis == "row" and low < row < high and left <= column < right:
            return True
        if axis == "column" and left < column < right and low <= row < high:
            return True
    return False


def draw_core(s: Sketch) -> None:
    """The core's grid, with a few blocks that were never cut through."""
    lost = {
        (s.random.randrange(20), s.random.randrange(19), s.random.choice(("row", "column")))
        for _ in range(26)
    }
    for axis, count in (("row", len(ROWS)), ("column", len(COLUMNS))):
        for index in range(count):
            _draw_core_street(s, axis, index, lost)


def _draw_core_street(s: Sketch, axis: str, index: int, lost: set[tuple[int, int, str]]) -> None:
    zero = ROW_ZERO if axis == "row" else COLUMN_ZERO
    other_zero = COLUMN_ZERO if axis == "row" else ROW_ZERO
    others = len(COLUMNS) if axis == "row" else len(ROWS)
    base = s.names.core(axis, index - zero)
    kind, tags = _core_rank(axis, index - zero)
    run: list[Point] = []
    run_side = ""

    def finish() -> None:
        if len(run) > 1:
            s.add(f"{run_side} {base}", kind, "core", list(run), tags=dict(tags), number_from=CORE)
        run.clear()

    for k in range(others):
        column, row = (k, index) if axis == "row" else (index, k)
        here = core_frame(COLUMNS[column], ROWS[row])
        if not _in_town(column, row):
            finish()
            continue
        run.append(here)
        side = (
            ("East" if k >= other_zero else "West")
            if axis == "row"
            else ("North" if k >= other_zero else "South")
        )
        gone = index != zero and (_missing(column, row, axis) or (column, row, axis) in lost)
        if gone or side != run_side:
            run_now = run[-1]
            finish()
            run_side = side
            if not gone:
                run.append(run_now)
    finish()


def _core_rank(axis: str, off_axis: int) -> tuple[str, dict[str, str]]:
    """Highway value and tags by how far a street is from Main or Court Street."""
    if off_axis == 0 and axis == "row":
        return "primary", {"ref": "SR 918", "maxspeed": "30 mph"}
    if off_axis == 0:
        return "secondary", {"maxspeed": "30 mph"}
    if axis == "column" and off_axis in (1, -1):
        return "residential", {"oneway": "yes" if off_axis == 1 else "-1", "maxspeed": "25 mph"}
    if axis == "row" and off_axis in (1, -1):
        return "residential", {"oneway": "yes" if off_axis == 1 else "-1", "maxspeed": "25 mph"}
    if off_axis in (-6, 6):
        return "tertiary", {"maxspeed": "30 mph"}
    return "residential", {"maxspeed": "25 mph"} if off_axis % 3 == 0 else {}


def draw_links(s: Sketch) -> None:
    """Streets that tie the core to its neighbors."""
    north = core_frame(COLUMNS[4], ROWS[15])
    s.add(
        "Orchard Avenue",
        "tertiary",
        "suburb",
        spline(
            [
                (15_900, 28_800),
                (18_000, 28_600),
                (20_500, 28_000),
                (22_900, 27_700),
                core_frame(COLUMNS[2], ROWS[13]),
            ]
        ),
        tags={"maxspeed": "35 mph"},
    )
    s.add(
        "Cemetery Road",
        "tertiary",
        "rural",
        spline(
            [
                north,
                (24_300, 29_800),
                (25_600, 31_200),
                (27_000, 31_700),
                (30_000, 31_300),
                (32_600, 30_900),
            ]
        ),
        tags={"maxspeed": "35 mph"},
        tied="end",
    )
    for column, row in ((-1, 9 + 5), (-1, 9 - 3)):
        first = [p for p in core_line(row - ROW_ZERO, "row")][column]
        s.add(
            s.names.themed("addition", "Road"),
            "residential",
            "core",
            spline([first, (first[0] + 350, first[1] + 30), (first[0] + 700, first[1] + 20)]),
            tied="end",
        )


def draw_addition(s: Sketch) -> None:
    """Blocks laid out later along the old railway, so askew to the core."""
    turn = math.radians(-24)
    columns, rows = (0, 420, 800, 1_220, 1_600, 2_020), (0, 350, 690, 1_050, 1_400)

    def corner(i: int, j: int) -> Point:
        u, v = columns[i] + 18 * math.sin(3 * j), rows[j] + 25 * math.sin(i / 1.5)
        return (
            28_250 + u * math.cos(turn) - v * math.sin(turn),
            20_900 + u * math.sin(turn) + v * math.cos(turn),
        )

    for j in range(5):
        s.add(
            s.names.themed("addition", "Street"),
            "residential",
            "core",
            [corner(i, j) for i in range(1 if j == 4 else 0, 6)],
            tied="both" if j in (0, 2) else "",
        )
    for i in range(6):
        s.add(
            s.names.themed("addition", "Avenue"),
            "residential",
            "core",
            [corner(i, j) for j in range(4 if i == 0 else 5)],
            tied="end" if i in (1, 3) else "",
        )
