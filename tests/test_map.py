"""The map page: what it shows, that it asks nothing of the network, that text stays text."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from planner.maps.background import background, simplify
from planner.maps.day_map import DONE_OPACITY, leaflet_css, leaflet_js, map_page
from planner.maps.look import COLORS, arrows, html_text, look, script_json
from planner.papers.direction import plain_direction
from planner.roads.travel import Leg, RoadStretch
from tests.chromium import needs_chromium, open_page
from tests.sample_plan import HOSTILE, sample_day, sample_legs, sample_plan, sample_streets


@pytest.fixture(scope="module")
def page() -> str:
    day = sample_day()
    plan = sample_plan(day)
    return map_page(plan, day, sample_legs(plan), sample_streets())


def test_no_link_to_the_outside(page: str) -> None:
    # Leaflet's program carries a link to its home page, shown only by a credit that we replace.
    page = page.replace(leaflet_js(), "")
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?\s*(?:https?:)?//", page)
    assert not re.search(r"url\(\s*[\"']?\s*(?:https?:)?//", page)
    for gone in ("jsdelivr", "cdnjs", "jquery", "bootstrap", "awesome", "tile.openstreetmap"):
        assert gone not in page.lower(), gone


def test_same_plan_same_bytes(page: str) -> None:
    day = sample_day()
    plan = sample_plan(day)
    assert map_page(plan, day, sample_legs(plan), sample_streets()) == page
    assert not re.search(r"_[0-9a-f]{32}\b", page)


def test_key_facts(page: str) -> None:
    plan = sample_plan()
    for truck in plan.trucks:
        letter = "A" if truck.truck_id == "T1" else "B"
        for stop in truck.stops:
            if stop.kind == "visit":
                assert f"\\u003e{letter}{stop.seq}\\u003c/div" in page
            if stop.kind == "refill":
                gal = sum(fill.gal for fill in stop.fills)
                assert f"\\u003e{letter}{stop.seq} +{gal:.0f} gal\\u003c/div" in page
    assert '<html lang="en">' in page
    assert "user-scalable=no" not in page
    assert "Straight-line roads" in page
    assert "Held orders (1)" in page
    assert "Unserved orders (1)" in page


def test_no_roads_no_warning_no_streets() -> None:
    day = sample_day()
    plan = replace(sample_plan(day), roads_warning="", held=(), unserved=())
    bare = map_page(plan, day, {}, ())
    assert "Straight-line roads:" not in bare
    assert "Held orders" not in bare


def test_empty_plan_still_draws() -> None:
    day = sample_day()
    plan = replace(sample_plan(day), trucks=())
    assert "leaflet" in map_page(plan, day, {}, sample_streets())


def test_html_text_shows_as_written() -> None:
    from html import unescape

    safe = html_text(HOSTILE)
    assert unescape(safe) == plain_direction(HOSTILE)
    for sign in ("<", ">", '"', "'", "`", "${", "{{", "{%", "\\"):
        assert sign not in safe
    # Three braces in a row must not leave two of them together.
    assert "{{" not in html_text("{{{7*7}}}")


def test_script_json_cannot_close_its_element() -> None:
    text = script_json({"x": "</script><!-- &"})
    assert "<" not in text
    assert "&" not in text


def test_leaflet_comes_from_the_package() -> None:
    assert "images/" not in leaflet_css()
    assert leaflet_css().count("data:image/png;base64,") == 3
    assert "sourceMappingURL" not in leaflet_js()
    assert "</script" not in leaflet_js()


def test_arrows_point_the_way_that_is_driven() -> None:
    # Worked by hand: due east, then due north; one arrow in the middle of each mile or so.
    east = arrows(((40.0, -83.0), (40.0, -82.98)), 0.5)
    assert [round(arrow.bearing_deg) for arrow in east] == [90, 90]
    north = arrows(((40.0, -83.0), (40.01, -83.0)), 1.0)
    assert [(round(arrow.lat, 4), round(arrow.bearing_deg)) for arrow in north] == [(40.005, 0)]
    assert arrows(((40.0, -83.0), (40.0, -83.0)), 0.5) == ()


def test_colors_carry_white_text() -> None:
    """Contrast of white on each color, by the formula of WCAG 2.1
    (https://www.w3.org/TR/WCAG21/#dfn-contrast-ratio): at least 4.5 to 1."""

    def part(value: int) -> float:
        share = value / 255
        return share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4

    for color in COLORS:
        red, green, blue = (part(int(color[at : at + 2], 16)) for at in (1, 3, 5))
        luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        assert 1.05 / (luminance + 0.05) >= 4.5, color


def test_every_truck_looks_different() -> None:
    looks = [look(number) for number in range(40)]
    assert len({row.letter for row in looks}) == 40
    assert len({(row.color, row.dash) for row in looks}) == 40


def test_background_keeps_bends_and_drops_straight_points() -> None:
    # Worked by hand: (60,100) is 60 units off the line; (0,50) is off the piece that leads to
    # it, (30,50) is on it.
    assert simplify([(0, 0), (0, 50), (60, 100), (0, 200)]) == [
        (0, 0),
        (0, 50),
        (60, 100),
        (0, 200),
    ]
    assert simplify([(0, 0), (1, 50), (0, 100)]) == [(0, 0), (0, 100)]
    packed = background(
        [RoadStretch("Oak", "minor", ((40.0, -83.0), (40.0005, -83.0), (40.001, -83.0)))]
    )
    assert packed.names == ("", "Oak")
    assert packed.lines["minor"] == [[1, 4_000_000, -8_300_000, 100, 0]]


def test_large_county_stays_small() -> None:
    """300 stops on 30,000 pieces of road: under 2.5 MB."""
    rows = []
    for number in range(30_000):
        lat, lon = 40.0 + 0.001 * (number // 170), -83.0 + 0.001 * (number % 170)
        bend = 0.0002 * math.sin(number)
        points = ((lat, lon), (lat + bend, lon + 0.0005), (lat, lon + 0.001))
        rows.append(RoadStretch(f"Street {number % 900}", "minor", points))
    day = sample_day()
    plan = sample_plan(day)
    stop = next(stop for stop in plan.trucks[0].stops if stop.kind == "visit")
    many = tuple(
        replace(stop, seq=seq, lat=stop.lat + 0.0003 * seq, lon=stop.lon) for seq in range(1, 301)
    )
    truck = replace(plan.trucks[0], stops=(plan.trucks[0].stops[0], *many))
    way = tuple((stop.lat + 0.0001 * step, stop.lon + 0.0001 * (step % 3)) for step in range(40))
    legs = {("T1", seq): Leg(way, ("Oak", "Elm")) for seq in range(1, 301)}
    text = map_page(replace(plan, trucks=(truck,)), day, legs, rows)
    assert len(text.encode()) < 2_500_000


@needs_chromium
@pytest.mark.parametrize("hostile", [False, True])
def test_opens_without_network_or_complaint(tmp_path: Path, hostile: bool) -> None:
    day = sample_day(hostile)
    plan = sample_plan(day)
    file = tmp_path / "map.html"
    file.write_text(map_page(plan, day, sample_legs(plan), sample_streets()), encoding="utf-8")
    seen = open_page(file, tmp_path)
    assert seen.requests == ()
    assert seen.console == ()
    stops = sum(stop.kind == "visit" for truck in plan.trucks for stop in truck.stops)
    assert (
        len(
            re.findall(
                r'class="stop[^"]*" data-letter="[AB]" data-short[^>]*'
                r' style="background:[^"]*">[AB]\d+<',
                seen.dom,
            )
        )
        == stops
    )
    assert 'class="leaflet-control-layers' in seen.dom or "leaflet-control-layers" in seen.dom
    assert seen.dom.count('class="arrow') + seen.dom.count("holder arrow") > 10


def test_what_was_driven_before_the_day_was_planned_again_is_faint() -> None:
    day = sample_day()
    plan = sample_plan(day)
    first = plan.trucks[0]
    stops = tuple(replace(stop, done=row < 3) for row, stop in enumerate(first.stops))
    later = replace(plan, trucks=(replace(first, stops=stops), *plan.trucks[1:]))
    page = map_page(later, day, sample_legs(later), ())
    assert f'"opacity": {DONE_OPACITY}' in page
    assert "driven before the day was planned again" in page
    ordinary = map_page(plan, day, sample_legs(plan), ())
    assert f'"opacity": {DONE_OPACITY}' not in ordinary
    assert "planned again" not in ordinary
