"""Strips along water and other borders: what stays unsprayed, what is left, and what is held."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from planner.compliance.edges import leave_edges, strips
from planner.compliance.holds import holds
from planner.day.day import Day, day_of
from planner.day.places import Edge
from planner.mixing.recipes import order_gal
from planner.papers.route_sheet import leave_text
from planner.plan.audit.edges import day_without_edges
from planner.prepare import prepare_day
from tests import days
from tests.audit_holds import audited_codes
from tests.codes import HOLD_CODES


def lawn_day(
    *,
    state: str = "",
    lawn_ft2: float = 18_300.0,
    area_ft2: float | None = None,
    nitrogen: float = 0.0,
    label_ft: float | None = None,
    targeted: bool = False,
    **place: object,
) -> Day:
    """One order of a mix with one product on a lawn."""
    home = days.home("P1", 40.0, -83.0, lawn_ft2, state=state, **place)
    product = days.product(
        "p", "g", "3 fl oz/1000 sq ft", nitrogen_percent=nitrogen, water_distance_ft=label_ft
    )
    mix = replace(days.mix("MIX", 2.0, p="1.5 fl oz/1000 sq ft"), targeted_liquid=targeted)
    order = days.order("O1", home, "MIX")
    if area_ft2 is not None:
        order = replace(order, area_ft2=area_ft2)
    book = days.workbook(products=(product,), mixes=(mix,), properties=(home,), orders=(order,))
    return day_of(book, days.DAY)


def codes(day: Day) -> list[str]:
    """What holds the order; the audit must say the same."""
    found = holds(day)
    assert audited_codes(day, found) == []
    return [hold.code for hold in found]


def area(day: Day) -> float:
    """What may be sprayed, by the planner; the audit must say the same."""
    left = prepare_day(day).day.orders["O1"].area_ft2
    assert day_without_edges(day).orders["O1"].area_ft2 == pytest.approx(left)
    return left


def test_a_lawn_by_a_pond_is_served_without_its_strip() -> None:
    """Worked by hand, AG 8-803.5(d): 15 ft less the 8 ft that lie between are 7 ft x 120 ft = 840
    sq ft; as a targeted liquid 10 ft, 2 x 120 = 240 (text read 2026-11-26)."""
    by_pond = {"state": "MD", "nitrogen": 28.0, "water_distance_ft": 8.0}
    assert codes(lawn_day(**by_pond)) == [
        "LAW-WATER"
    ]  # No shore length: nothing can be subtracted.
    day = lawn_day(**by_pond, shore_ft=120.0)
    assert codes(day) == []
    assert area(day) == pytest.approx(18_300 - 840)
    targeted = lawn_day(**by_pond, shore_ft=120.0, targeted=True)
    assert area(targeted) == pytest.approx(18_300 - 240)
    assert codes(lawn_day(**by_pond | {"water_distance_ft": 12.0}, targeted=True)) == []
    # 2 gal per 1,000 sq ft of what is left, and not of the lawn.
    ready = prepare_day(day).day
    assert order_gal(ready.workbook, ready.orders["O1"]) == pytest.approx(2 * 17.46)
    assert leave_text(day, day.orders["O1"]).startswith(
        "Leave 7 ft along the water (120 ft of border, 840 sq ft: Maryland, AG 8-803.5(d)(1)"
    )


def test_the_widest_distance_counts() -> None:
    """A label's 25 ft beside the state's 15 ft; the label's counts for targeted liquids, too."""
    day = lawn_day(
        state="MD",
        nitrogen=28.0,
        label_ft=25.0,
        targeted=True,
        water_distance_ft=5.0,
        shore_ft=100.0,
    )
    assert area(day) == pytest.approx(18_300 - 20 * 100)
    assert "label of p" in leave_text(day, day.orders["O1"])
    assert area(lawn_day(state="MD", water_distance_ft=5.0, shore_ft=100.0)) == 18_300


def test_part_of_a_lawn_is_cut_only_where_the_strips_leave_less() -> None:
    """The order that was held: 12,000 of 18,300 sq ft, 8 ft from water."""
    near = {"state": "NJ", "nitrogen": 28.0, "water_distance_ft": 8.0, "shore_ft": 150.0}
    # NJ: 25 ft (summary, read 2026-11-25): 17 x 150 = 2,550 sq ft, 15,750 are left.
    assert area(lawn_day(area_ft2=12_000.0, **near)) == 12_000
    assert area(lawn_day(area_ft2=17_000.0, **near)) == pytest.approx(15_750)


def test_other_borders_and_a_lawn_of_which_nothing_is_left() -> None:
    well = Edge("well", 40.0, 50.0, 20.0)
    drain = Edge("storm drain", 10.0, 10.0, 0.0)
    day = lawn_day(edges=(well, drain))
    assert area(day) == pytest.approx(18_300 - 30 * 40 - 10 * 10)
    assert "Leave 30 ft along the well" in leave_text(day, day.orders["O1"])
    small = lawn_day(lawn_ft2=1_250.0, edges=(well, Edge("play area", 30.0, 10.0, 0.0)))
    assert codes(small) == ["EDGE"]
    assert area(small) == 1_250
    # A border that lies farther off than must be kept takes nothing.
    assert area(lawn_day(edges=(Edge("well", 40.0, 50.0, 60.0),))) == 18_300


def test_once_is_as_good_as_twice() -> None:
    day = lawn_day(edges=(Edge("well", 40.0, 50.0, 20.0),))
    once = leave_edges(day.workbook, day.date)
    assert leave_edges(once, day.date) == once
    assert strips(once, once.orders["O1"], day.date) == strips(
        day.workbook, day.orders["O1"], day.date
    )


PLAIN_FT = {"NY": (20, 20), "NJ": (25, 10), "MD": (15, 10), "PA": (15, 15), "OH": (0, 0)}
"""Feet to water for fertilizer, and as a targeted liquid, written down here once more from the
sources that the rule table names."""


def test_400_random_lawns_against_a_plain_reckoning() -> None:
    rng = random.Random(3)
    held = cut = 0
    for _ in range(400):
        state = rng.choice(list(PLAIN_FT))
        nitrogen = rng.choice((0.0, 28.0))
        label_ft = rng.choice((None, 10.0, 25.0))
        targeted = rng.random() < 0.5
        near_ft = rng.choice((0.0, 4.0, 9.0, 12.0, 30.0))
        shore_ft = rng.choice((None, 40.0, 150.0))
        edges = tuple(
            Edge(
                f"edge {n}",
                rng.choice((10.0, 60.0)),
                rng.choice((5.0, 30.0)),
                rng.choice((0.0, 8.0)),
            )
            for n in range(rng.randint(0, 2))
        )
        lawn_ft2 = rng.choice((900.0, 3_000.0, 20_000.0))
        day = lawn_day(
            state=state,
            lawn_ft2=lawn_ft2,
            area_ft2=lawn_ft2 * rng.choice((0.3, 0.9, 1.0)),
            nitrogen=nitrogen,
            label_ft=label_ft,
            targeted=targeted,
            water_distance_ft=near_ft,
            shore_ft=shore_ft,
            edges=edges,
        )
        state_ft = PLAIN_FT[state][targeted] if nitrogen else 0
        left = lawn_ft2 - sum(one.length_ft * max(0, one.keep_ft - one.away_ft) for one in edges)
        too_near = set()
        if shore_ft is None:
            too_near |= {"WATER"} if (label_ft or 0) > near_ft else set()
            too_near |= {"LAW-WATER"} if state_ft > near_ft else set()
        else:
            left -= shore_ft * max(0, max(state_ft, label_ft or 0) - near_ft)
        if left < 10 and (edges or shore_ft):
            too_near.add("EDGE")
        assert codes(day)[:1] == sorted(too_near, key=list(HOLD_CODES).index)[:1]
        if not too_near:
            assert area(day) == pytest.approx(min(day.orders["O1"].area_ft2, left))
        held += bool(too_near)
        cut += area(day) < day.orders["O1"].area_ft2
    assert held > 50
    assert cut > 50
