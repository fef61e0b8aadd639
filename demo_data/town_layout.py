"""The drawing of the demo town: water, main roads, core, subdivisions, village, country roads.

Everything is invented. Feet from the map's south-west corner; the map is MAP_WIDE_FT x
MAP_HIGH_FT. A newcomer who wants another town changes the control points here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from random import Random

from town_geometry import Point, crossings, distance_ft, inside, length_ft, spline, split_line
from town_names import Names

MAP_WIDE_FT, MAP_HIGH_FT = 63_360.0, 47_520.0
CORE: Point = (27_200.0, 25_400.0)
VILLAGE: Point = (51_300.0, 27_300.0)


@dataclass(frozen=True)
class Street:
    """One drawn street. kind: OpenStreetMap highway value; zone: where it lies, which sets the
    lots along it; tags: further OpenStreetMap tags; turning_end: ends in a turning circle;
    tied: 'start', 'end' or 'both': that end is drawn on to whatever street is nearest; number_from: the point that house numbers count from (None = its own first point)."""

    name: str
    kind: str
    zone: str
    points: tuple[Point, ...]
    tags: dict[str, str] = field(default_factory=dict)
    turning_end: bool = False
    tied: str = ""
    number_from: Point | None = None


@dataclass(frozen=True)
class Drawing:
    """The town as drawn, before crossings become shared nodes."""

    streets: tuple[Street, ...]
    river: tuple[Point, ...]
    stream: tuple[Point, ...]
    lake: tuple[Point, ...]
    weak_bridge_name: str


def _river() -> list[Point]:
    return spline(
        [
            (36_500, MAP_HIGH_FT + 200),
            (34_600, 44_000),
            (35_900, 40_200),
            (34_300, 36_800),
            (35_400, 33_200),
            (33_600, 30_000),
            (33_900, 26_600),
            (32_900, 23_300),
            (34_400, 19_800),
            (33_300, 16_000),
            (35_000, 12_600),
            (34_000, 8_800),
            (35_200, 4_600),
            (34_300, -200),
        ],
        250,
    )


def _bank(river: Sequence[Point], by_ft: float) -> list[Point]:
    """A road along the river: every sixth point of it, smoothed and moved aside."""
    coarse = [river[0], *river[6:-6:12], river[-1]]
    return [(x + by_ft, y) for x, y in spline(coarse, 250)]


def _lake() -> list[Point]:
    middle, ring = (24_600.0, 41_200.0), []
    for k in range(40):
        angle = 2 * math.pi * k / 40
        reach = 1_250 + 330 * math.sin(2 * angle + 0.7) + 190 * math.sin(3 * angle + 2)
        ring.append(
            (middle[0] + 1.5 * reach * math.cos(angle), middle[1] + reach * math.sin(angle))
        )
    return ring


class _Sketch:
    """Collects streets; holds the chance and the names they are drawn with."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.names = Names(self.random)
        self.streets: list[Street] = []
        self.river = _river()
        self.west_bank = _bank(self.river, -1_250)
        self.east_bank = _bank(self.river, 1_350)

    def add(self, name: str, kind: str, zone: str, points: Sequence[Point], **more: object) -> None:
        street = Street(name, kind, zone, tuple(points))
        self.streets.append(replace(street, **more))  # type: ignore[arg-type]


# --------------------------------------------------------------------------- main roads


def _draw_main_roads(s: _Sketch) -> None:
    main = _core_line(0, axis="row")
    west_end, east_end = main[0], main[-1]
    s.add(
        "State Route 918",
        "primary",
        "rural",
        spline(
            [
                (0, 22_300),
                (5_600, 23_100),
                (11_500, 22_700),
                (17_000, 23_900),
                (21_000, 24_500),
                west_end,
            ]
        ),
        tags={"ref": "SR 918", "maxspeed": "55 mph"},
    )
    over = spline(
        [east_end, (31_900, 25_900), (33_000, 26_050), (34_900, 26_350), (36_600, 26_500)]
    )
    bridge = next(iter(crossings(over, s.river)))
    before, after = _around(over, bridge[1], 190)
    s.add(
        "East Main Street",
        "primary",
        "core",
        before,
        tags={"ref": "SR 918", "maxspeed": "35 mph"},
        number_from=CORE,
    )
    s.add(
        "Main Street Bridge",
        "primary",
        "bridge",
        (before[-1], after[0]),
        tags={"ref": "SR 918", "bridge": "yes", "layer": "1", "maxspeed": "35 mph"},
    )
    s.add(
        "East Main Street",
        "primary",
        "core",
        after,
        tags={"ref": "SR 918", "maxspeed": "35 mph"},
        number_from=CORE,
    )
    s.add(
        "State Route 918",
        "primary",
        "rural",
        spline(
            [
                (36_600, 26_500),
                (39_800, 26_900),
                (43_800, 26_200),
                (47_600, 27_400),
                (VILLAGE[0], VILLAGE[1]),
                (55_200, 27_100),
                (59_000, 28_300),
                (MAP_WIDE_FT, 28_000),
            ]
        ),
        tags={"ref": "SR 918", "maxspeed": "55 mph"},
    )
    court = _core_line(0, axis="column")
    s.add(
        "Tannery Pike",
        "secondary",
        "rural",
        spline(
            [
                court[-1],
                (26_900, 30_500),
                (27_600, 34_600),
                (29_200, 38_500),
                (28_900, 42_500),
                (29_600, MAP_HIGH_FT),
            ]
        ),
        tags={"maxspeed": "45 mph"},
    )
    s.add(
        "Cold Spring Road",
        "secondary",
        "rural",
        spline(
            [
                court[0],
                (27_700, 20_300),
                (27_300, 16_500),
                (28_300, 11_800),
                (27_500, 6_400),
                (28_100, 0),
            ]
        ),
        tags={"maxspeed": "45 mph"},
    )


def _around(
    line: Sequence[Point], middle: Point, half_ft: float
) -> tuple[list[Point], list[Point]]:
    """What lies before and after a stretch of 2 x half_ft around a point of the line."""
    before: list[Point] = []
    after: list[Point] = []
    for a, b in itertools.pairwise(line):
        pieces = max(1, round(distance_ft(a, b) / 30))
        for k in range(pieces):
            p = (a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces)
            if distance_ft(p, middle) > half_ft:
                (before if p[0] < middle[0] else after).append(p)
    after.append(line[-1])
    return before, after


def _draw_country_roads(s: _Sketch) -> None:
    """Farm roads about a mile and a half apart with doglegs; those that meet the river stop at
    the bank roads, except the one with the weak bridge."""
    s.add("Old Ferry Road", "tertiary", "rural", s.west_bank, tags={"maxspeed": "40 mph"})
    s.add("East Bank Road", "tertiary", "rural", s.east_bank, tags={"maxspeed": "40 mph"})
    down = [
        [
            (5_400, 0),
            (5_700, 9_000),
            (5_000, 15_600),
            (5_600, 23_000),
            (6_100, 30_800),
            (5_500, 38_000),
            (5_900, MAP_HIGH_FT),
        ],
        [
            (11_900, 0),
            (11_500, 4_700),
            (11_900, 10_400),
            (11_700, 14_700),
            (12_700, 16_300),
            (12_500, 22_700),
            (12_000, 28_500),
            (12_500, 35_600),
            (12_200, 41_500),
            (12_600, MAP_HIGH_FT),
        ],
        [
            (17_700, 0),
            (17_200, 6_000),
            (17_600, 11_000),
            (16_500, 15_400),
            (16_300, 19_500),
            (16_400, 23_700),
            (15_900, 28_800),
            (16_500, 35_300),
            (18_200, 38_000),
            (18_600, 42_600),
            (18_300, MAP_HIGH_FT),
        ],
        [
            (41_800, 0),
            (41_300, 5_200),
            (42_100, 11_000),
            (41_600, 15_800),
            (42_600, 21_000),
            (43_000, 26_300),
            (42_500, 31_500),
            (41_600, 36_000),
            (42_300, 42_000),
            (41_700, MAP_HIGH_FT),
        ],
        [
            (48_000, 0),
            (47_500, 4_900),
            (46_500, 5_900),
            (46_800, 11_300),
            (47_500, 15_700),
            (47_000, 21_200),
            (47_600, 27_400),
            (47_100, 33_000),
            (48_100, 36_800),
            (48_400, 42_700),
        ],
        [
            (VILLAGE[0], 13_500),
            (51_800, 20_000),
            (51_200, 24_200),
            VILLAGE,
            (51_500, 30_600),
            (52_600, 35_000),
            (52_300, 42_900),
            (53_100, MAP_HIGH_FT),
        ],
        [
            (57_900, 3_900),
            (57_300, 10_800),
            (58_200, 15_600),
            (57_600, 22_000),
            (58_000, 28_000),
            (57_500, 35_100),
            (58_300, 43_000),
        ],
    ]
    across = [
        [
            (0, 4_300),
            (5_500, 4_600),
            (11_700, 4_500),
            (17_500, 5_300),
            (22_500, 4_700),
            (27_800, 5_200),
            (34_000, 4_900),
            (41_400, 4_300),
            (47_600, 4_800),
            (52_500, 4_000),
            (58_000, 3_900),
            (MAP_WIDE_FT, 4_500),
        ],
        [
            (0, 10_700),
            (5_500, 10_300),
            (11_900, 10_600),
            (17_600, 11_200),
            (23_000, 10_600),
            (28_200, 11_100),
            (34_500, 10_900),
            (42_100, 11_000),
            (46_800, 11_300),
            (52_000, 10_700),
            (57_300, 10_900),
            (MAP_WIDE_FT, 10_200),
        ],
        [
            (0, 16_700),
            (5_100, 16_100),
            (12_600, 15_700),
            (16_500, 15_400),
            (22_500, 14_300),
            (27_700, 14_900),
            (33_500, 15_200),
            (41_600, 15_800),
            (47_500, 15_900),
            (51_500, 15_200),
            (58_200, 15_600),
            (MAP_WIDE_FT, 16_300),
        ],
        [
            (0, 35_900),
            (5_600, 35_300),
            (12_500, 35_800),
            (16_600, 35_500),
            (22_000, 36_700),
            (28_200, 36_100),
            (35_000, 36_500),
            (41_600, 36_000),
            (48_000, 36_600),
            (52_600, 35_200),
            (57_500, 35_100),
            (MAP_WIDE_FT, 34_600),
        ],
        [
            (0, 44_200),
            (5_700, 43_600),
            (12_300, 44_300),
            (18_500, 43_900),
            (23_600, 44_500),
            (29_000, 44_200),
            (35_000, 43_300),
            (42_200, 43_000),
            (48_400, 42_700),
            (52_300, 43_200),
            (58_300, 43_000),
        ],
        [(33_500, 20_700), (42_600, 21_100), (47_000, 21_300), (51_800, 20_600), (57_700, 21_700)],
        [(0, 29_400), (6_000, 30_200), (12_100, 29_300), (15_900, 28_900)],
        [(42_500, 31_500), (47_200, 32_300), (51_700, 31_700), (57_700, 32_200)],
    ]
    for controls in down:
        s.add(
            s.names.road(),
            "unclassified",
            "rural",
            spline(_shake(s, controls)),
            tags=_country_speed(s),
        )
    for number, controls in enumerate(across):
        name = "Gristmill Road" if number == 1 else s.names.road()
        line = spline(_shake(s, controls))
        _add_across(s, name, line, bridge=number == 1)
    s.add(
        s.names.road(),
        "tertiary",
        "rural",
        spline([(16_400, 23_700), (18_900, 21_900), (22_200, 22_100), (23_600, 22_500)]),
        tags={"maxspeed": "40 mph"},
        tied="end",
    )
    _draw_lanes(s)


def _shake(s: _Sketch, controls: Sequence[Point]) -> list[Point]:
    """Controls moved a little, and more controls between far ones: no country road is a ruler."""
    shaken: list[Point] = []
    for a, b in itertools.pairwise(controls):
        shaken.append(a)
        size = distance_ft(a, b)
        for k in (1, 2):
            if size > 4_000:
                aside = s.random.uniform(-230, 230)
                shaken.append(
                    (
                        a[0] + (b[0] - a[0]) * k / 3 - (b[1] - a[1]) / size * aside,
                        a[1] + (b[1] - a[1]) * k / 3 + (b[0] - a[0]) / size * aside,
                    )
                )
    return [*shaken, controls[-1]]


def _country_speed(s: _Sketch) -> dict[str, str]:
    return {"maxspeed": "45 mph"} if s.random.random() < 0.4 else {}


def _add_across(s: _Sketch, name: str, line: list[Point], bridge: bool) -> None:
    tags = _country_speed(s)
    cuts = [*crossings(line, s.west_bank)[:1], *crossings(line, s.east_bank)[-1:]]
    over = crossings(line, s.river)
    if bridge:
        before, after = _around(line, over[0][1], 150)
        s.add(name, "unclassified", "rural", before, tags=tags)
        # Six short tons: the larger trucks of the demo must go round by Main Street.
        s.add(
            f"{name} Bridge",
            "unclassified",
            "bridge",
            (before[-1], after[0]),
            tags={"bridge": "yes", "layer": "1", "maxweight": "6 st", "maxspeed": "25 mph"},
        )
        s.add(name, "unclassified", "rural", after, tags=tags)
        return
    pieces = split_line(line, cuts) if len(cuts) == 2 else [line]
    for piece in pieces:
        if not crossings(piece, s.river):
            east = piece[0][0] > 34_000 and len(pieces) > 1
            s.add(f"East {name}" if east else name, "unclassified", "rural", piece, tags=tags)


def _draw_lanes(s: _Sketch) -> None:
    """Dead-end lanes to farms and old landings."""
    for x, y, heading, size in (
        (5_500, 12_900, 20, 2_300),
        (11_900, 19_000, 165, 2_900),
        (12_300, 31_900, 10, 2_100),
        (17_300, 8_300, 185, 2_600),
        (28_100, 8_600, 15, 2_900),
        (42_000, 13_300, 0, 2_500),
        (47_000, 9_000, 170, 2_200),
        (51_700, 18_200, 8, 3_100),
        (57_700, 25_400, 175, 2_400),
        (42_000, 39_300, -6, 3_000),
        (52_400, 39_000, 12, 2_400),
        (5_700, 40_800, 5, 2_700),
        (28_900, 40_600, 170, 1_500),
        (47_500, 35_100, 185, 2_000),
        (27_700, 13_300, 182, 2_400),
    ):
        turn = math.radians(heading)
        aside = s.random.uniform(-350, 350)
        way = [
            (
                x + along * math.cos(turn) - side * math.sin(turn),
                y + along * math.sin(turn) + side * math.cos(turn),
            )
            for along, side in ((-900, 0), (0, 0), (size / 2, aside), (size, aside * 1.6))
        ]
        s.add(s.names.lane(), "residential", "rural", spline(way[1:]), tied="start")


# --------------------------------------------------------------------------- core


def _core_frame(u: float, v: float) -> Point:
    """Core street grid (feet east and north of the courthouse) to the map, slightly warped."""
    wu = u + 70 * math.sin(v / 1_500 + 0.6) + 45 * math.sin((u + v) / 2_600)
    wv = v + 85 * math.sin(u / 1_900 + 1.1) + 40 * math.sin((u - v) / 1_700)
    turn = math.radians(5)
    return (
        CORE[0] + wu * math.cos(turn) - wv * math.sin(turn),
        CORE[1] + wu * math.sin(turn) + wv * math.cos(turn),
    )


# Feet between neighbouring streets: surveyed in several additions, so not one even block.
_COLUMNS = (
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
_ROWS = (
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
_COLUMN_ZERO, _ROW_ZERO = _COLUMNS.index(0), _ROWS.index(0)
_OPEN_GROUND = ((4, 12, 6, 14, "park"), (14, 3, 16, 5, "school"), (9, 9, 10, 10, "square"))


def _in_town(column: int, row: int) -> bool:
    """Whether a corner of the grid was ever built: a ragged oval."""
    u, v = _COLUMNS[column], _ROWS[row]
    angle = math.atan2(v, u)
    edge = 1 + 0.09 * math.sin(3 * angle + 0.5) + 0.07 * math.sin(5 * angle + 2)
    if column == _COLUMN_ZERO or row == _ROW_ZERO:
        return True
    return math.hypot(u / 3_850, v / 3_150) < edge


def _core_line(index: int, axis: str) -> list[Point]:
    """Corners of the core street at an offset from Main (row) or Court (column)."""
    if axis == "row":
        row = _ROW_ZERO + index
        return [
            _core_frame(_COLUMNS[c], _ROWS[row]) for c in range(len(_COLUMNS)) if _in_town(c, row)
        ]
    column = _COLUMN_ZERO + index
    return [
        _core_frame(_COLUMNS[column], _ROWS[r]) for r in range(len(_ROWS)) if _in_town(column, r)
    ]


def _missing(column: int, row: int, axis: str) -> bool:
    """Whether a block's street was given up for a park, a school or the courthouse square."""
    for left, low, right, high, _ in _OPEN_GROUND:
        if axis == "row" and low < row < high and left <= column < right:
            return True
        if axis == "column" and left < column < right and low <= row < high:
            return True
    return False


def _draw_core(s: _Sketch) -> None:
    lost = {
        (s.random.randrange(20), s.random.randrange(19), s.random.choice(("row", "column")))
        for _ in range(26)
    }
    for axis, count in (("row", len(_ROWS)), ("column", len(_COLUMNS))):
        for index in range(count):
            _draw_core_street(s, axis, index, lost)


def _draw_core_street(s: _Sketch, axis: str, index: int, lost: set[tuple[int, int, str]]) -> None:
    zero = _ROW_ZERO if axis == "row" else _COLUMN_ZERO
    other_zero = _COLUMN_ZERO if axis == "row" else _ROW_ZERO
    others = len(_COLUMNS) if axis == "row" else len(_ROWS)
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
        here = _core_frame(_COLUMNS[column], _ROWS[row])
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


# --------------------------------------------------------------------------- subdivisions


def _bent(
    origin: Point, turn_degrees: float, bend_ft: float, wave_ft: float
) -> Callable[[float, float], Point]:
    """A frame for a subdivision whose streets follow the lie of the land."""
    turn = math.radians(turn_degrees)

    def place(u: float, v: float) -> Point:
        bu = u + 0.6 * bend_ft * math.sin(v / wave_ft * 2 * math.pi + 0.4)
        bv = v + bend_ft * math.sin(u / wave_ft * 2 * math.pi + 1.0)
        return (
            origin[0] + bu * math.cos(turn) - bv * math.sin(turn),
            origin[1] + bu * math.sin(turn) + bv * math.cos(turn),
        )

    return place


def _draw_loops(
    s: _Sketch,
    theme: str,
    origin: Point,
    turn: float,
    wide_ft: float,
    rows: int,
    bend_ft: float,
    lead_in: Sequence[Point],
    lead_out: Sequence[Point],
) -> None:
    """A winding spine with loops and courts to the right, and lanes to an outer drive and courts
    to the left."""
    place, gap = _bent(origin, turn, bend_ft, 5_200), 335.0
    middle, high = wide_ft * 0.5, rows * gap
    spine = [*lead_in, *(place(middle, v) for v in _steps(0, high, 220)), *lead_out]
    s.add(
        s.names.themed(theme, "Parkway"),
        "tertiary",
        "suburb",
        spline(spine, 110),
        tags={"maxspeed": "30 mph"},
        tied="both",
    )
    row = 0
    while row < rows - 1:
        low, reach = row * gap, wide_ft * (0.78 + 0.22 * s.random.random())
        if row % 5 == 2:
            # A wide loop with a court inside it, and then room for the next street.
            _draw_loop(s, theme, place, middle, low, low + 2 * gap, reach)
            s.add(
                s.names.themed(theme, "Court"),
                "residential",
                "suburb",
                spline([place(u, low + gap) for u in _steps(middle, reach - 500)], 80),
                turning_end=True,
            )
            row += 3
        else:
            _draw_loop(s, theme, place, middle, low, low + gap, reach)
            row += 2
    s.add(
        s.names.themed(theme, "Drive"),
        "residential",
        "suburb",
        spline(
            [
                place(middle, 0),
                *(place(u, 0) for u in _steps(260, middle - 260)[::-1]),
                *(place(20, v) for v in _steps(250, high - 620, 220)),
                *(place(u, high - gap) for u in _steps(260, middle - 250)),
                place(middle, high - gap),
            ],
            80,
        ),
        tags={"maxspeed": "25 mph"},
    )
    for row in range(1, rows - 2):
        through = row % 3 == 1
        short = 20.0 if through else s.random.uniform(330, 1_000)
        s.add(
            s.names.themed(theme, "Lane" if through else "Court"),
            "residential",
            "suburb",
            spline([place(u, row * gap) for u in [middle, *_steps(short, middle - 200)[::-1]]], 80),
            turning_end=not through,
        )
    s.add(
        s.names.themed(theme, "Way"),
        "residential",
        "suburb",
        spline([place(20, high * 0.45), place(-420, high * 0.47)], 80),
        tied="end",
    )
    for left, first, last in ((0.27, 1, 3), (0.33, 4, rows - 4)):
        s.add(
            s.names.themed(theme, "Street"),
            "residential",
            "suburb",
            spline(
                [
                    place(wide_ft * left + 40 * math.sin(v / 300), v)
                    for v in _steps(first * gap, last * gap, 110)
                ],
                80,
            ),
        )


def _draw_loop(
    s: _Sketch,
    theme: str,
    place: Callable[[float, float], Point],
    middle: float,
    low: float,
    top: float,
    reach: float,
) -> None:
    """A street that leaves the spine and comes back to it, at times with a court at its end."""
    out = _steps(middle + 250, reach)
    s.add(
        s.names.themed(theme, s.random.choice(("Loop", "Circle", "Place", "Crescent"))),
        "residential",
        "suburb",
        spline(
            [
                place(middle, low),
                *(place(u, low) for u in out),
                place(reach + 0.55 * (top - low), (low + top) / 2),
                *(place(u, top) for u in out[::-1]),
                place(middle, top),
            ],
            80,
        ),
        tags={"maxspeed": "25 mph"},
    )
    if s.random.random() < 0.6:
        far = reach + 0.55 * (top - low)
        s.add(
            s.names.themed(theme, "Court"),
            "residential",
            "suburb",
            spline(
                [
                    place(far, (low + top) / 2),
                    place(far + 180, (low + top) / 2 - 40),
                    place(far + 380, (low + top) / 2 - 20),
                ],
                60,
            ),
            turning_end=True,
        )


def _steps(low: float, high: float, step: float = 240.0) -> list[float]:
    """Even steps from low to high, both included."""
    count = max(1, round((high - low) / step))
    return [low + (high - low) * k / count for k in range(count + 1)]


def _draw_hill(s: _Sketch, theme: str, middle: Point) -> None:
    """Streets that run along a hill's contours, each as far as the builder got, tied by a few
    that climb."""

    def place(reach: float, angle: float) -> Point:
        wobble = 1 + 0.13 * math.sin(2 * angle + 0.8) + 0.05 * math.sin(5 * angle)
        return (
            middle[0] + 1.25 * reach * wobble * math.cos(angle),
            middle[1] + reach * wobble * math.sin(angle),
        )

    contours = (
        (560, -60, 250, "Circle"),
        (930, -85, 120, "Crescent"),
        (1_300, 20, 215, "Way"),
        (1_330, -80, -12, "Drive"),
        (1_690, -70, 150, "Ridge"),
        (2_080, -35, 95, "Trail"),
        (2_060, 120, 205, "Lane"),
        (2_480, 10, 140, "Drive"),
    )
    for reach, first, last, ending in contours:
        turns = _steps(math.radians(first), math.radians(last), 0.12)
        s.add(
            s.names.themed(theme, ending),
            "residential",
            "suburb",
            spline([place(reach + 30 * math.sin(4 * a), a) for a in turns], 80),
            tags={"maxspeed": "25 mph"},
        )
    for degrees, low, high in (
        (-58, 560, 1_690),
        (22, 560, 2_480),
        (75, 930, 2_080),
        (118, 1_300, 2_480),
        (200, 560, 2_060),
    ):
        angle = math.radians(degrees)
        s.add(
            s.names.themed(theme, "Street"),
            "residential",
            "suburb",
            spline(
                [place(r, angle + 0.16 * math.sin(r / 500)) for r in _steps(low, high, 180)], 90
            ),
        )
    foot = math.radians(-76)
    s.add(
        s.names.themed(theme, "Parkway"),
        "tertiary",
        "suburb",
        spline(
            [
                place(2_700, foot - 0.25),
                place(2_000, foot - 0.1),
                place(1_330, foot),
                place(930, foot + 0.1),
                place(560, foot + 0.3),
            ],
            110,
        ),
        tags={"maxspeed": "30 mph"},
        tied="start",
    )
    s.add(
        s.names.themed(theme, "Road"),
        "residential",
        "suburb",
        spline([place(2_060, math.radians(204)), place(2_300, math.radians(205))]),
        tied="end",
    )
    s.add(
        s.names.themed(theme, "Pass"),
        "residential",
        "suburb",
        spline([place(2_480, math.radians(12)), place(3_000, 0.1), place(3_400, 0.25)]),
        tied="end",
    )
    for reach, degrees in (
        (2_480, 40),
        (2_480, 58),
        (2_480, 92),
        (2_060, 140),
        (1_690, -28),
        (2_080, -8),
        (1_690, -66),
        (2_060, 166),
        (2_060, 186),
    ):
        angle = math.radians(degrees)
        s.add(
            s.names.themed(theme, "Court"),
            "residential",
            "suburb",
            spline(
                [
                    place(reach, angle),
                    place(reach + 210, angle + 0.03),
                    place(reach + 400, angle + 0.09),
                ],
                60,
            ),
            turning_end=True,
        )


def _draw_estates(s: _Sketch) -> None:
    """Large lots by the lake: a winding drive with long courts."""
    drive = spline(
        [
            (28_900, 38_900),
            (27_900, 38_600),
            (26_900, 38_900),
            (25_700, 38_300),
            (24_500, 38_600),
            (23_200, 38_100),
            (22_300, 38_900),
            (21_700, 40_200),
            (21_900, 41_600),
            (21_200, 42_700),
            (21_500, 44_200),
        ]
    )
    s.add("Lake Shore Drive", "tertiary", "estate", drive, tags={"maxspeed": "30 mph"}, tied="both")
    for x, y, to_x, to_y in (
        (27_400, 38_720, 27_900, 40_500),
        (26_000, 38_450, 25_600, 37_200),
        (23_700, 38_300, 23_900, 36_900),
        (21_700, 40_200, 20_100, 39_800),
        (21_300, 42_600, 19_700, 41_900),
        (24_500, 38_600, 24_900, 39_350),
    ):
        near = min(drive, key=lambda p: distance_ft(p, (x, y)))
        bow = s.random.uniform(-260, 260)
        s.add(
            s.names.themed("lake", "Court"),
            "residential",
            "estate",
            spline(
                [near, ((near[0] + to_x) / 2 + bow, (near[1] + to_y) / 2 + bow / 2), (to_x, to_y)],
                90,
            ),
            turning_end=True,
        )


def _draw_village(s: _Sketch) -> None:
    """A few blocks around the crossing of the state route and a county road."""

    def corner(i: int, j: int) -> Point:
        return (VILLAGE[0] + 360 * i + 25 * math.sin(2 * j + i), VILLAGE[1] + 340 * j + 22 * i)

    for j in (-3, -2, -1, 1, 2, 3):
        reach = 2 if abs(j) == 3 else 3
        s.add(
            s.names.village(),
            "residential",
            "village",
            [corner(i, j) for i in range(-reach, reach + 1)],
        )
    for i in (-3, -2, -1, 1, 2, 3):
        reach = 2 if abs(i) == 3 else 3
        s.add(
            s.names.village(),
            "residential",
            "village",
            [corner(i, j) for j in range(-reach, reach + 1)],
        )


def _draw_links(s: _Sketch) -> None:
    """Streets that tie the core to its neighbours."""
    north = _core_frame(_COLUMNS[4], _ROWS[15])
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
                _core_frame(_COLUMNS[2], _ROWS[13]),
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
        first = [p for p in _core_line(row - _ROW_ZERO, "row")][column]
        s.add(
            s.names.themed("addition", "Road"),
            "residential",
            "core",
            spline([first, (first[0] + 350, first[1] + 30), (first[0] + 700, first[1] + 20)]),
            tied="end",
        )


def _draw_addition(s: _Sketch) -> None:
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


def draw(seed: int) -> Drawing:
    """The whole drawing; the same seed gives the same town."""
    s = _Sketch(seed)
    _draw_main_roads(s)
    _draw_core(s)
    _draw_country_roads(s)
    _draw_links(s)
    _draw_addition(s)
    _draw_loops(
        s, "bird", (17_500, 30_000), -9, 4_500, 14, 330, [(19_900, 28_600)], [(20_800, 36_000)]
    )
    _draw_loops(
        s, "wood", (18_900, 16_500), 14, 4_300, 12, 390, [(20_700, 15_200)], [(20_300, 21_400)]
    )
    _draw_hill(s, "hill", (38_600, 29_700))
    _draw_estates(s)
    _draw_village(s)
    stream = spline(
        [
            (25_900, 40_500),
            (27_300, 39_900),
            (29_600, 39_400),
            (32_000, 40_300),
            (34_300, 39_400),
            (35_600, 39_600),
        ]
    )
    lake = _lake()
    streets = [street for street in s.streets if not any(inside(p, lake) for p in street.points)]
    return Drawing(
        tuple(street for street in streets if length_ft(street.points) > 60),
        tuple(s.river),
        tuple(stream),
        tuple(lake),
        "Gristmill Road Bridge",
    )
