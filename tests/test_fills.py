"""Fill arithmetic: worked by hand, and properties that must hold for any truck."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.mixing.fills import Level, draw, fill_gallons, weight_lb

PLENTY_LB = 1e9


def level(name: str, mix: str | None, capacity: float, heel: float, gal: float) -> Level:
    return Level(name, mix, capacity, heel, gal, 8.5)


def test_a_fill_covers_need_heel_hose_and_margin_rounded_up() -> None:
    # Worked by hand: 40 gal sprayed x 1.05 + 3.06 gal hose + 2 gal heel = 47.06 -> 48 gal.
    levels = [level("1", "WEED", 100, 2, 0)]
    assert fill_gallons(levels, {"WEED": 40.0}, {"WEED": 3.06}, 5.0, PLENTY_LB) == (48.0,)


def test_a_top_up_counts_what_is_on_board() -> None:
    # 12 gal on board, 10 of them over the 2-gal heel: 42 - 10 = 32 gal are added.
    levels = [level("1", "WEED", 100, 2, 12)]
    assert fill_gallons(levels, {"WEED": 40.0}, {}, 5.0, PLENTY_LB) == (32.0,)


def test_no_fill_when_the_bare_need_is_on_board() -> None:
    levels = [level("1", "WEED", 100, 2, 42.0)]
    assert fill_gallons(levels, {"WEED": 40.0}, {}, 5.0, PLENTY_LB) == (0.0,)


def test_two_compartments_fill_in_drawing_order_heel_first() -> None:
    # 75 gal wanted (no margin): 50-gal tank gives 49 over its heel, the next 26 + 1 heel = 27.
    levels = [level("1", "WEED", 50, 1, 0), level("2", "WEED", 50, 1, 0)]
    assert fill_gallons(levels, {"WEED": 75.0}, {}, 0.0, PLENTY_LB) == (50.0, 27.0)


def test_the_margin_gives_way_to_the_rating_before_the_need_does() -> None:
    # Bare 40 gal weigh 340 lb; 355 lb leave 15 lb = 1 whole gallon of the 2-gal margin.
    levels = [level("1", "WEED", 100, 0, 0)]
    assert fill_gallons(levels, {"WEED": 40.0}, {}, 5.0, 355.0) == (41.0,)


def test_a_mix_that_may_not_be_made_here_is_left_alone() -> None:
    levels = [level("1", "WEED", 100, 0, 0), level("2", "KILL", 10, 0, 0)]
    assert fill_gallons(levels, {"KILL": 4.0}, {}, 0.0, PLENTY_LB) == (0.0, 4.0)


def test_a_capacity_that_is_no_whole_gallon_may_be_filled_to_the_brim() -> None:
    levels = [level("1", "WEED", 12.5, 0, 0)]
    assert fill_gallons(levels, {"WEED": 12.2}, {}, 5.0, PLENTY_LB) == (12.5,)


def test_drawing_empties_compartments_in_turn_down_to_the_heel() -> None:
    levels = (level("1", "WEED", 50, 1, 20), level("2", "WEED", 50, 1, 30))
    after, taken = draw(levels, "WEED", 25.0)
    assert taken == (("1", 19.0), ("2", 6.0))
    assert [row.gal for row in after] == [1.0, 24.0]


def test_running_dry_shows_below_the_heel() -> None:
    after, taken = draw((level("1", "WEED", 50, 1, 20),), "WEED", 25.0)
    assert taken == (("1", 25.0),)
    assert after[0].gal == -5.0


trucks = st.lists(
    st.tuples(
        st.sampled_from(["WEED", "FEED", None]),
        st.floats(1, 300),
        st.floats(0, 0.2),
        st.floats(0, 1),
    ),
    min_size=1,
    max_size=5,
).map(
    lambda rows: [
        level(str(number), mix, capacity, heel * capacity, share * capacity)
        for number, (mix, capacity, heel, share) in enumerate(rows)
    ]
)
needs = st.dictionaries(st.sampled_from(["WEED", "FEED"]), st.floats(0, 400))


@given(trucks, needs, st.floats(0, 50), st.floats(0, 5000))
def test_fills_never_overflow_and_cover_a_need_that_fits(
    levels: list[Level], spray: dict[str, float], margin: float, payload_lb: float
) -> None:
    added = fill_gallons(levels, spray, {}, margin, payload_lb)
    for row, gal in zip(levels, added, strict=True):
        assert gal >= 0
        assert row.gal + gal <= row.capacity_gal + 1e-9
        assert math.isclose(gal, round(gal), abs_tol=1e-6) or row.gal + gal == pytest.approx(
            row.capacity_gal
        )
    for mix, gal in spray.items():
        rows = [n for n, row in enumerate(levels) if row.mix_id == mix]
        room = sum(max(0.0, levels[n].capacity_gal - levels[n].heel_gal) for n in rows)
        if gal <= room:
            reach = sum(max(0.0, levels[n].gal + added[n] - levels[n].heel_gal) for n in rows)
            assert reach >= gal - 1e-5


@given(trucks, needs, st.floats(0, 50))
def test_the_margin_alone_never_breaks_the_rating(
    levels: list[Level], spray: dict[str, float], margin: float
) -> None:
    bare = fill_gallons(levels, spray, {}, 0.0, PLENTY_LB)
    bare_lb = weight_lb(levels) + sum(8.5 * gal for gal in bare)
    added = fill_gallons(levels, spray, {}, margin, bare_lb + 30.0)
    assert weight_lb(levels) + sum(8.5 * gal for gal in added) <= bare_lb + 30.0 + 1e-6


@given(trucks, st.floats(0, 600))
def test_what_is_drawn_left_the_compartments(levels: list[Level], gal: float) -> None:
    after, taken = draw(levels, "WEED", gal)
    if any(row.mix_id == "WEED" for row in levels):
        assert sum(amount for _, amount in taken) == pytest.approx(gal)
    before_gal, after_gal = sum(row.gal for row in levels), sum(row.gal for row in after)
    assert before_gal - after_gal == pytest.approx(sum(amount for _, amount in taken), abs=1e-6)
