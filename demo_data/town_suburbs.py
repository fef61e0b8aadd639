"""Subdivisions, estates and the village of the demo town."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from town_geometry import Point, distance_ft, points, spline
from town_sketch import VILLAGE, Sketch, steps


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


def draw_loops(
    s: Sketch,
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
    spine = [*lead_in, *(place(middle, v) for v in steps(0, high, 220)), *lead_out]
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
                spline([place(u, low + gap) for u in steps(middle, reach - 500)], 80),
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
                *(place(u, 0) for u in steps(260, middle - 260)[::-1]),
                *(place(20, v) for v in steps(250, high - 620, 220)),
                *(place(u, high - gap) for u in steps(260, middle - 250)),
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
            spline([place(u, row * gap) for u in [middle, *steps(short, middle - 200)[::-1]]], 80),
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
                    for v in steps(first * gap, last * gap, 110)
                ],
                80,
            ),
        )


def _draw_loop(
    s: Sketch,
    theme: str,
    place: Callable[[float, float], Point],
    middle: float,
    low: float,
    top: float,
    reach: float,
) -> None:
    """A street that leaves the spine and comes back to it, at times with a court at its end."""
    out = steps(middle + 250, reach)
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


def draw_hill(s: Sketch, theme: str, middle: Point) -> None:
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
        turns = steps(math.radians(first), math.radians(last), 0.12)
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
            spline([place(r, angle + 0.16 * math.sin(r / 500)) for r in steps(low, high, 180)], 90),
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


def draw_estates(s: Sketch) -> None:
    """Large lots by the lake: a winding drive with long courts."""
    drive = spline(
        points(
            "28900,38900 27900,38600 26900,38900 25700,38300 24500,38600 23200,38100 "
            "22300,38900 21700,40200 21900,41600 21200,42700 21500,44200"
        )
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


def draw_village(s: Sketch) -> None:
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
