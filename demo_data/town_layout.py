"""The drawing of the demo town: water, main roads, core, subdivisions, village, country roads.

Everything is invented. A newcomer who wants another town changes the control points in
town_core.py, town_suburbs.py and town_country.py.
"""

from __future__ import annotations

from town_core import draw_addition, draw_core, draw_links
from town_country import draw_country_roads, draw_main_roads
from town_geometry import inside, length_ft, points, spline
from town_sketch import Drawing, Sketch, lake_ring
from town_suburbs import draw_estates, draw_hill, draw_loops, draw_village


def draw(seed: int) -> Drawing:
    """The whole drawing; the same seed gives the same town."""
    s = Sketch(seed)
    draw_main_roads(s)
    draw_core(s)
    draw_country_roads(s)
    draw_links(s)
    draw_addition(s)
    draw_loops(
        s, "bird", (17_500, 30_000), -9, 4_500, 14, 330, [(19_900, 28_600)], [(20_800, 36_000)]
    )
    draw_loops(
        s, "wood", (18_900, 16_500), 14, 4_300, 12, 390, [(20_700, 15_200)], [(20_300, 21_400)]
    )
    draw_hill(s, "hill", (38_600, 29_700))
    draw_estates(s)
    draw_village(s)
    stream = spline(
        points("25900,40500 27300,39900 29600,39400 32000,40300 34300,39400 35600,39600")
    )
    lake = lake_ring()
    streets = [street for street in s.streets if not any(inside(p, lake) for p in street.points)]
    return Drawing(
        tuple(street for street in streets if length_ft(street.points) > 60),
        tuple(s.river),
        tuple(stream),
        tuple(lake),
        "Gristmill Road Bridge",
    )
