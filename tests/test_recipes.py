"""What a gallon of mix is made of; worked by hand unless a source stands beside a figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.day.day import Source, Workbook
from planner.day.products import Form, Mix, MixPart, Product
from planner.mixing.fills import Level, draw, fill_gallons
from planner.mixing.recipes import (
    MixingError,
    order_gal,
    product_base,
    product_density_lb_per_gal,
    recipe,
    recipe_problems,
    recipes,
)
from planner.units import convert, parse_rate
from tests import days
from tests.codes import RECIPE_CODES


def made(product_id: str, form: Form, **changes: Any) -> Product:
    product = days.product(product_id, "any", "9 lb/A", density_lb_per_gal=None)
    return replace(product, form=form, **changes)


def book(products: tuple[Product, ...], *mixes: Mix) -> Workbook:
    rows: dict[str, dict[str | None, int]] = {
        "mix_products": {f"{m.mix_id}/{p.product_id}": 7 for m in mixes for p in m.parts},
        "mixes": {m.mix_id: 3 for m in mixes},
    }
    return days.workbook(
        sites=(),
        trucks=(),
        products=products,
        mixes=mixes,
        properties=(),
        orders=(),
        source=Source({"mixes": "mixes.csv", "mix_products": "mix_products.csv"}, rows),
    )


UAN = made("uan", Form.LIQUID, nitrogen_percent=28.0, density_lb_per_gal=10.65)
UREA = made("urea", Form.DRY, nitrogen_percent=46.0)
AMINE = made("amine", Form.LIQUID, ai_lb_per_gal=3.74, ai_percent=38.6, ai_basis="ae")
DRY_FLOWABLE = made("df", Form.DRY, ai_percent=75.0)
PLAIN = made("plain", Form.LIQUID)


def amount(product: Product, rate_text: str) -> float:
    rate = parse_rate(rate_text)
    return product_base(product, rate, rate.most_base)


@pytest.mark.parametrize(
    ("product", "rate", "expected"),
    [
        # 0.5 lb N / 28 % = 1.7857 lb; / 10.65 lb/gal = 0.16767 gal
        (UAN, "0.5 lb N/1000 sq ft", 0.5 / 0.28 / 10.65),
        # 0.46 lb N from 46 % urea is 1 lb
        (UREA, "0.46 lb N/1000 sq ft", 1.0),
        # 1.5 lb ae/A / 3.74 lb ae/gal / 43.56
        (AMINE, "1.5 lb ae/A", 1.5 / 3.74 / 43.56),
        # 0.75 lb ai/A from 75 % is 1 lb/A
        (DRY_FLOWABLE, "0.75 lb ai/A", 1 / 43.56),
        # 10 lb of product an acre at 9.689 lb/gal (the density that the label implies)
        (AMINE, "10 lb/A", 10 / (3.74 / 0.386) / 43.56),
        # ai of a liquid that states percent and density only: 1 lb / 20 % = 5 lb; / 10 = 0.5 gal
        (
            made("pct", Form.LIQUID, ai_percent=20.0, density_lb_per_gal=10.0),
            "1 lb ai/1000 sq ft",
            0.5,
        ),
        (PLAIN, "1 qt/A", 0.25 / 43.56),
        (PLAIN, "2 % v/v", 0.02),
        (UREA, "8 oz wt/1000 sq ft", 0.5),
        (UREA, "2 lb/100 gal", 0.02),
    ],
)
def test_product_from_a_rate(product: Product, rate: str, expected: float) -> None:
    assert amount(product, rate) == pytest.approx(expected, rel=1e-12)


REFUSED = [
    (PLAIN, "1 lb/A", "RECIPE-1"),
    (UREA, "1 pt/A", "RECIPE-2"),
    (UREA, "2 % v/v", "RECIPE-2"),
    (PLAIN, "0.5 lb N/1000 sq ft", "RECIPE-3"),
    (PLAIN, "0.5 lb ai/A", "RECIPE-4"),
    (UREA, "0.5 lb ai/A", "RECIPE-4"),
    (AMINE, "0.5 lb ai/A", "RECIPE-5"),
    (DRY_FLOWABLE, "0.5 lb ae/A", "RECIPE-5"),
]


@pytest.mark.parametrize(("product", "rate", "code"), REFUSED)
def test_rates_that_cannot_be_crossed(product: Product, rate: str, code: str) -> None:
    with pytest.raises(MixingError) as caught:
        amount(product, rate)
    assert caught.value.code == code
    assert caught.value.cure
    workbook = book((product,), days.mix("M", 2.0, **{product.product_id: rate}))
    places = [(p.file, p.row, p.column, p.code, p.found) for p in recipe_problems(workbook)]
    assert places == [("mix_products.csv", 7, "rate", code, rate)]


def test_density_given_goes_before_density_implied() -> None:
    assert product_density_lb_per_gal(AMINE) == pytest.approx(9.689, abs=0.0005)  # label, row A20
    assert product_density_lb_per_gal(replace(AMINE, density_lb_per_gal=9.7)) == 9.7
    assert product_density_lb_per_gal(PLAIN) is None
    assert product_density_lb_per_gal(replace(UREA, density_lb_per_gal=9.7)) is None


def test_a_mix_of_four_products() -> None:
    # 2 gal/1000: amine 1.5 fl oz/1000 -> 0.75 fl oz/gal; uan 0.5 lb N/1000 -> 0.083836 gal/gal;
    # df 0.367 oz wt/1000 -> 0.1835 oz/gal; spreader 0.25 % -> 0.0025 gal/gal.
    workbook = book(
        (AMINE, UAN, DRY_FLOWABLE, PLAIN),
        days.mix(
            "M",
            2.0,
            amine="1.5 fl oz/1000 sq ft",
            uan="0.5 lb N/1000 sq ft",
            df="0.367 oz wt/1000 sq ft",
            plain="0.25 % v/v",
        ),
    )
    found = recipe(workbook, "M")
    parts = {part.product_id: part for part in found.parts}
    assert parts["amine"].amount_per_gal == pytest.approx(0.75 / 128)
    assert parts["amine"].amount_per_1000_ft2 == pytest.approx(1.5 / 128)
    assert parts["uan"].amount_per_gal == pytest.approx(0.5 / 2.982 / 2)
    assert (parts["df"].unit, parts["df"].liquid_gal_per_gal) == ("lb", 0.0)
    assert parts["df"].amount_per_gal == pytest.approx(0.367 / 16 / 2)
    assert parts["plain"].amount_per_1000_ft2 == pytest.approx(0.005)
    liquids = 0.75 / 128 + 0.5 / 2.982 / 2 + 0.0025
    assert found.water_gal_per_gal == pytest.approx(1 - liquids)
    # The spreader's density is not known and counts as water.
    pounds = (1 - liquids + 0.0025) * 8.34 + 0.75 / 128 * 3.74 / 0.386 + 0.5 / 0.28 / 2
    assert found.density_lb_per_gal == pytest.approx(pounds + 0.367 / 16 / 2)
    assert recipe_problems(workbook) == []


def test_straight_fertilizer_has_no_water() -> None:
    workbook = book((UAN,), days.mix("M", 0.2, uan="0.2 gal/1000 sq ft"))
    found = recipe(workbook, "M")
    assert found.water_gal_per_gal == 0.0
    assert found.density_lb_per_gal == pytest.approx(10.65)


def test_liquids_that_fill_more_than_the_mix() -> None:
    workbook = book(
        (UAN, PLAIN), days.mix("M", 0.5, uan="1 lb N/1000 sq ft", plain="2 qt/1000 sq ft")
    )
    with pytest.raises(MixingError) as caught:
        recipe(workbook, "M")
    assert caught.value.code == "RECIPE-6"
    places = [(p.file, p.row, p.column, p.code) for p in recipe_problems(workbook)]
    assert places == [("mixes.csv", 3, "carrier_gal_per_1000_ft2", "RECIPE-6")]


def test_a_range_is_not_a_recipe_and_is_reported_by_the_tables_only() -> None:
    workbook = book((PLAIN,), days.mix("M", 2.0, plain="1-2 pt/A"))
    with pytest.raises(MixingError) as caught:
        recipe(workbook, "M")
    assert caught.value.code == "RECIPE-7"
    assert recipe_problems(workbook) == []


def test_one_problem_does_not_hide_the_others_nor_a_missing_product_break_them() -> None:
    mix = days.mix("M", 2.0, plain="1 lb/A", urea="1 pt/A", gone="1 pt/A")
    workbook = book((PLAIN, UREA), mix, days.mix("N", 2.0))
    assert [p.code for p in recipe_problems(workbook)] == ["RECIPE-1", "RECIPE-2"]
    with pytest.raises(KeyError):
        recipe(book((PLAIN,), days.mix("M", 2.0, gone="1 pt/A")), "M")


def test_every_code_is_tried() -> None:
    assert {code for *_, code in REFUSED} | {"RECIPE-6", "RECIPE-7"} == set(RECIPE_CODES)


def test_gallons_of_an_order() -> None:
    day = days.small_day()
    # P1: 5,000 ft2 at 2 gal/1000.
    assert order_gal(day.workbook, day.orders["O1"]) == pytest.approx(10.0)
    assert list(recipes(day.workbook)) == ["WEED", "FEED", "KILL"]


rates = st.tuples(
    st.sampled_from(
        [
            (AMINE, "{} fl oz/1000 sq ft"),
            (AMINE, "{} lb ae/A"),
            (UAN, "0.{} lb N/1000 sq ft"),
            (UREA, "{} oz wt/1000 sq ft"),
            (DRY_FLOWABLE, "{} lb/100 gal"),
            (PLAIN, "{} % v/v"),
        ]
    ),
    st.integers(min_value=1, max_value=9),
)


@st.composite
def workbooks(choose: st.DrawFn) -> Workbook:
    chosen = choose(
        st.lists(rates, min_size=1, max_size=4, unique_by=lambda row: row[0][0].product_id)
    )
    parts = tuple(
        MixPart(product.product_id, parse_rate(text.format(number)), "")
        for (product, text), number in chosen
    )
    mix = Mix("M", "M", choose(st.sampled_from([1.5, 2.0, 3.0, 4.0])), False, "", parts)
    return book(tuple(product for (product, _), _ in chosen), mix)


@given(workbooks(), st.lists(st.floats(min_value=50, max_value=60_000), min_size=1, max_size=8))
def test_product_in_is_product_applied_and_left(workbook: Workbook, areas_ft2: list[float]) -> None:
    """Filling and spraying neither makes nor loses product, water or weight."""
    found = recipe(workbook, "M")
    levels = (
        Level("1", "M", 80.0, 2.0, 0.0, found.density_lb_per_gal),
        Level("2", "M", 50.0, 0.5, 5.0, found.density_lb_per_gal),
    )
    before = sum(level.gal for level in levels)
    filled = sprayed = 0.0
    for area_ft2 in areas_ft2:
        # No more than what both hold above their heels.
        need = min(127.5, area_ft2 / 1000 * found.carrier_gal_per_1000_ft2)
        added = fill_gallons(levels, {"M": need}, {}, 5.0, 1e6)
        levels = tuple(
            replace(level, gal=level.gal + gal) for level, gal in zip(levels, added, strict=True)
        )
        levels, taken = draw(levels, "M", need)
        filled += sum(added)
        sprayed += sum(gal for _, gal in taken)
    left = sum(level.gal for level in levels)
    assert before + filled == pytest.approx(sprayed + left, abs=1e-6)
    for product_id, per_fill in found.amounts(before + filled).items():
        out = found.amounts(sprayed)[product_id] + found.amounts(left)[product_id]
        assert per_fill == pytest.approx(out, rel=1e-9)
    # A gallon is its water and its liquids; its weight is that of all that is in it.
    assert found.water_gal_per_gal + sum(
        p.liquid_gal_per_gal for p in found.parts
    ) == pytest.approx(1)
    pounds = found.water_gal_per_gal * 8.34 + sum(p.weight_lb_per_gal for p in found.parts)
    assert found.density_lb_per_gal == pytest.approx(pounds)


@given(workbooks(), st.floats(min_value=100, max_value=1e5))
def test_the_lawn_gets_the_rate_that_the_label_writes(workbook: Workbook, area_ft2: float) -> None:
    """Gallons of the order times strength = area times rate, whatever the carrier."""
    found = recipe(workbook, "M")
    gal = area_ft2 / 1000 * found.carrier_gal_per_1000_ft2
    for part, mix_part in zip(found.parts, workbook.mixes["M"].parts, strict=True):
        product = workbook.products[part.product_id]
        rate = mix_part.rate
        base = rate.most_base * (area_ft2 / 1000 if rate.basis == "area" else gal)
        expected = product_base(product, rate, base)
        assert part.amount_per_gal * gal == pytest.approx(expected, rel=1e-9)


def test_ounces_of_the_first_published_tank() -> None:
    # 150 fl oz in 200 gal at 2 gal/1000 and 1.5 fl oz/1000: row T01 of the check values.
    found = recipe(book((PLAIN,), days.mix("M", 2.0, plain="1.5 fl oz/1000 sq ft")), "M")
    assert convert(found.amounts(200)["plain"], "gal", "fl oz") == pytest.approx(150)
    assert found.water_gal(200) == pytest.approx(200 - 150 / 128)
