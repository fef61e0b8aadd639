"""Main roads through the map, farm roads and dead-end lanes of the demo town."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from town_core import core_line
from town_geometry import Point, crossings, distance_ft, points, spline, split_line
from town_sketch import CORE, Sketch, around


def draw_main_roads(s: Sketch) -> None:
    """The state route with its bridge, and the two county roads out of Court Street."""
    main = core_line(0, axis="row")
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
    before, after = around(over, bridge[1], 190)
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
            points(
                "36600,26500 39800,26900 43800,26200 47600,27400 51300,27300 55200,27100 "
                "59000,28300 63360,28000"
            )
        ),
        tags={"ref": "SR 918", "maxspeed": "55 mph"},
    )
    court = core_line(0, axis="column")
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
                (29_600, 47_520),
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


def draw_country_roads(s: Sketch) -> None:
    """Farm roads about a mile and a half apart with doglegs; those that meet the river stop at
    the bank roads, except the one with the weak bridge."""
    s.add("Old Ferry Road", "tertiary", "rural", s.west_bank, tags={"maxspeed": "40 mph"})
    s.add("East Bank Road", "tertiary", "rural", s.east_bank, tags={"maxspeed": "40 mph"})
    down = [
        points("5400,0 5700,9000 5000,15600 5600,23000 6100,30800 5500,38000 5900,47520"),
        points(
            "11900,0 11500,4700 11900,10400 11700,14700 12700,16300 12500,22700 "
            "12000,28500 12500,35600 12200,41500 12600,47520"
        ),
        points(
            "17700,0 17200,6000 17600,11000 16500,15400 16300,19500 16400,23700 "
            "15900,28800 16500,35300 18200,38000 18600,42600 18300,47520"
        ),
        points(
            "41800,0 41300,5200 42100,11000 41600,15800 42600,21000 43000,26300 "
            "42500,31500 41600,36000 42300,42000 41700,47520"
        ),
        points(
            "48000,0 47500,4900 46500,5900 46800,11300 47500,15700 47000,21200 47600,27400 "
            "47100,33000 48100,36800 48400,42700"
        ),
        points(
            "51300,13500 51800,20000 51200,24200 51300,27300 51500,30600 52600,35000 "
            "52300,42900 53100,47520"
        ),
        points(
            "57900,3900 57300,10800 58200,15600 57600,22000 58000,28000 57500,35100 58300,43000"
        ),
    ]
    across = [
        points(
            "0,4300 5500,4600 11700,4500 17500,5300 22500,4700 27800,5200 34000,4900 "
            "41400,4300 47600,4800 52500,4000 58000,3900 63360,4500"
        ),
        points(
            "0,10700 5500,10300 11900,10600 17600,11200 23000,10600 28200,11100 "
            "34500,10900 42100,11000 46800,11300 52000,10700 57300,10900 63360,10200"
        ),
        points(
            "0,16700 5100,16100 12600,15700 16500,15400 22500,14300 27700,14900 "
            "33500,15200 41600,15800 47500,15900 51500,15200 58200,15600 63360,16300"
        ),
        points(
            "0,35900 5600,35300 12500,35800 16600,35500 22000,36700 28200,36100 "
            "35000,36500 41600,36000 48000,36600 52600,35200 57500,35100 63360,34600"
        ),
        points(
            "0,44200 5700,43600 12300,44300 18500,43900 23600,44500 29000,44200 35000,43300 "
            "42200,43000 48400,42700 52300,43200 58300,43000"
        ),
        points("33500,20700 42600,21100 47000,21300 51800,20600 57700,21700"),
        points("0,29400 6000,30200 12100,29300 15900,28900"),
        points("42500,31500 47200,32300 51700,31700 57700,32200"),
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
        spline(points("16400,23700 18900,21900 22200,22100 23600,22500")),
        tags={"maxspeed": "40 mph"},
        tied="end",
    )
    _draw_lanes(s)


def _shake(s: Sketch, controls: Sequence[Point]) -> list[Point]:
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


def _country_speed(s: Sketch) -> dict[str, str]:
    return {"maxspeed": "45 mph"} if s.random.random() < 0.4 else {}


def _add_across(s: Sketch, name: str, line: list[Point], bridge: bool) -> None:
    tags = _country_speed(s)
    cuts = [*crossings(line, s.west_bank)[:1], *crossings(line, s.east_bank)[-1:]]
    over = crossings(line, s.river)
    if bridge:
        before, after = around(line, over[0][1], 150)
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


def _draw_lanes(s: Sketch) -> None:
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
