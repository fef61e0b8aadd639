"""Readings and refusals of trade spellings.

Sources: the published rate strings are in data/check_values.csv. What stands here is worked by
hand or common practice; sizes of units are NIST Handbook 44, Appendix C (1 gal = 231 in3,
1 lb = 453.59237 g, 1 ft = 0.3048 m), typed from memory as integers of the definitions.
"""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.units import (
    KINDS,
    UnitError,
    base_amount,
    convert,
    parse_amount,
    parse_rate,
    parse_unit,
    practical_amount,
    rate_in,
)
from planner.units.spellings import AMOUNT_SPELLINGS, DRY_FORMULATIONS, LIQUID_FORMULATIONS
from tests.codes import UNIT_CODES

INCH_M = 0.0254
GAL_M3 = 231 * INCH_M**3
SIZES_IN_SI = {
    "gal": GAL_M3,
    "qt": GAL_M3 / 4,
    "pt": GAL_M3 / 8,
    "cup": GAL_M3 / 16,
    "fl oz": GAL_M3 / 128,
    "tbsp": GAL_M3 / 256,
    "tsp": GAL_M3 / 768,
    "mL": 1e-6,
    "L": 1e-3,
    "in3": INCH_M**3,
    "ft3": (12 * INCH_M) ** 3,
    "lb": 0.45359237,
    "oz wt": 0.45359237 / 16,
    "g": 1e-3,
    "kg": 1.0,
    "sq ft": (12 * INCH_M) ** 2,
    "1000 sq ft": 1000 * (12 * INCH_M) ** 2,
    "sq yd": (36 * INCH_M) ** 2,
    "acre": 43_560 * (12 * INCH_M) ** 2,
    "hectare": 1e4,
    "m2": 1.0,
    "sq mi": (5280 * 12 * INCH_M) ** 2,
    "in": INCH_M,
    "ft": 12 * INCH_M,
    "mi": 5280 * 12 * INCH_M,
    "nautical mi": 1852.0,
    "m": 1.0,
    "s": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "mph": 5280 * 12 * INCH_M / 3600,
    "ft/min": 12 * INCH_M / 60,
    "ft/s": 12 * INCH_M,
}
"""Every unit in SI from its definition, apart from the registry that the planner uses."""


def code_of(text: str, formulation: str | None = None) -> str:
    with pytest.raises(UnitError) as caught:
        parse_rate(text, formulation)
    assert caught.value.cure
    return caught.value.code


@pytest.mark.parametrize("unit", sorted(KINDS))
def test_every_size_follows_from_its_definition(unit: str) -> None:
    for other in KINDS:
        if KINDS[other] == KINDS[unit]:
            expected = SIZES_IN_SI[unit] / SIZES_IN_SI[other]
            assert convert(1.0, unit, other) == pytest.approx(expected, rel=1e-13)


def test_the_acre_is_43560_square_feet_exactly() -> None:
    # A general registry says 43,560.174.
    assert convert(1, "acre", "sq ft") == 43_560.0
    assert convert(1, "gal", "fl oz") == 128.0
    assert convert(1, "lb", "oz wt") == 16.0


def test_a_weight_is_not_a_volume() -> None:
    with pytest.raises(UnitError, match="mass"):
        convert(1, "oz wt", "fl oz")
    with pytest.raises(UnitError, match="known"):
        convert(1, "stone", "lb")
    with pytest.raises(UnitError, match="area"):
        base_amount(1, "acre")
    with pytest.raises(UnitError, match="known"):
        base_amount(1, "stone")


READINGS = [
    # text, formulation, least, most, unit, per, substance
    ("1.5 fl oz/1000 sq ft", None, 1.5, 1.5, "fl oz", "1000 sq ft", "product"),
    ("1.5 FL OZ / 1,000 SQ FT", None, 1.5, 1.5, "fl oz", "1000 sq ft", "product"),
    ("1½–2¾ fl oz per M", None, 1.5, 2.75, "fl oz", "1000 sq ft", "product"),
    ("1⅓ pt/A", None, 4 / 3, 4 / 3, "pt", "acre", "product"),
    ("2 fluid ounces per 1000 ft²", None, 2, 2, "fl oz", "1000 sq ft", "product"),
    ("2 fl oz/1M", None, 2, 2, "fl oz", "1000 sq ft", "product"),
    ("2 fl oz/1000", None, 2, 2, "fl oz", "1000 sq ft", "product"),
    ("4 pt/A", None, 4, 4, "pt", "acre", "product"),
    ("4 pts. per ac.", None, 4, 4, "pt", "acre", "product"),
    ("4 pt/a", None, 4, 4, "pt", "acre", "product"),
    ("3 lb per 400 sq ft", None, 3, 3, "lb", "400 sq ft", "product"),
    ("1 qt per 100 gallons of spray solution", None, 1, 1, "qt", "100 gal", "product"),
    ("2 T/gal", None, 2, 2, "tbsp", "gal", "product"),
    ("2 t/gal", None, 2, 2, "tsp", "gal", "product"),
    ("2 tsp per gallon of water", None, 2, 2, "tsp", "gal", "product"),
    ("0.75 lb N/1000 sq ft", None, 0.75, 0.75, "lb", "1000 sq ft", "N"),
    ("0.9 lb actual nitrogen per M", None, 0.9, 0.9, "lb", "1000 sq ft", "N"),
    ("1 lb a.i./A", None, 1, 1, "lb", "acre", "ai"),
    ("1.5 lb acid equivalent per acre", None, 1.5, 1.5, "lb", "acre", "ae"),
    ("0.5 lb ae/acre per year", None, 0.5, 0.5, "lb", "acre", "ae"),
    ("2 % v/v", None, 2, 2, "%", "finished mix", "product"),
    ("0.25 percent by volume", None, 0.25, 0.25, "%", "finished mix", "product"),
    ("1-2 % solution", None, 1, 2, "%", "finished mix", "product"),
    ("0.4 oz/1000 sq ft", "50 WG", 0.4, 0.4, "oz wt", "1000 sq ft", "product"),
    ("0.4 oz/1000 sq ft", "2.08 SC", 0.4, 0.4, "fl oz", "1000 sq ft", "product"),
    ("0.4 oz wt/1000 sq ft", "SC", 0.4, 0.4, "oz wt", "1000 sq ft", "product"),
    ("0.4 oz (wt)/1000 sq ft", None, 0.4, 0.4, "oz wt", "1000 sq ft", "product"),
    ("0.4 dry oz/1000 sq ft", None, 0.4, 0.4, "oz wt", "1000 sq ft", "product"),
    # ai is weighed, also that of a liquid.
    ("6.4 oz ai/A", "SC", 6.4, 6.4, "oz wt", "acre", "ai"),
    ("1 fl oz/1000 sq ft of turf", None, 1, 1, "fl oz", "1000 sq ft", "product"),
    ("0.25 % v/v (1 qt/100 gal)", None, 0.25, 0.25, "%", "finished mix", "product"),
    ("2 qt/100 gal (0.5 % v/v)", None, 2, 2, "qt", "100 gal", "product"),
    ("5# per 1000 sq ft", None, 5, 5, "lb", "1000 sq ft", "product"),
    (
        "1.5 fl oz in 2 gal of water per 1,000 sq ft",
        None,
        1.5,
        1.5,
        "fl oz",
        "1000 sq ft",
        "product",
    ),
    ("1 pt/1000 sq ft in 2 gal/1000 sq ft", None, 1, 1, "pt", "1000 sq ft", "product"),
    ("2 L/ha", None, 2, 2, "L", "hectare", "product"),
    ("20 mL/100 m2", None, 20, 20, "mL", "100 m2", "product"),
    # Both statements are printed: the crew measures by the one per 1,000 sq ft.
    ("3 pt/A (1.1 fl oz/1000 sq ft)", None, 1.1, 1.1, "fl oz", "1000 sq ft", "product"),
]


@pytest.mark.parametrize("row", READINGS, ids=lambda row: row[0])
def test_rates_that_are_read(row: tuple[str, str | None, float, float, str, str, str]) -> None:
    text, formulation, least, most, unit, per, substance = row
    rate = parse_rate(text, formulation)
    assert (rate.least, rate.most) == pytest.approx((least, most))
    assert (rate.unit, rate.per, rate.substance) == (unit, per, substance)
    assert rate.text == text


REFUSALS = [
    ("", "RATE-1"),
    ("as needed", "RATE-1"),
    ("2 pt/A " * 50, "RATE-1"),
    ("0 pt/A", "RATE-1"),
    ("1/0 pt/A", "RATE-1"),
    ("7/4 pt/A", "RATE-1"),
    ("150 % v/v", "RATE-1"),
    ("1,5 pt/A", "RATE-1"),
    ("2 4 pt/A", "RATE-1"),
    ("-2 pt/A", "RATE-1"),
    ("2 pt/A weekly", "RATE-1"),
    ("1 oz/acre", "UNIT-2"),
    ("1 ounce per 1000 sq ft", "UNIT-2"),
    ("2 scoops/A", "UNIT-1"),
    ("2 G/gal", "UNIT-1"),
    ("2 m/A", "UNIT-1"),
    ("5 gal per survey acre", "UNIT-4"),
    ("1 imperial gal/A", "UNIT-4"),
    ("1 ton/A", "UNIT-4"),
    ("2 pt", "RATE-2"),
    ("2 pt per lawn", "RATE-3"),
    ("1 1/2 Tbs. with 2 gal per mound", "RATE-3"),
    ("1 fl oz per tree", "RATE-3"),
    ("1 % w/w", "RATE-4"),
    ("1 % by weight", "RATE-4"),
    ("4-2 pt/A", "RATE-5"),
    ("1-1/2 pt/A", "RATE-5"),
    ("1 pt to 1 qt/A", "RATE-5"),
    ("0.5 lb slow N/1000 sq ft", "RATE-1"),
    ("1.5.2 pt/A", "RATE-1"),
    ("3 fl oz/gal/1000 sq ft", "RATE-1"),
    ("2 qt/acre-ft", "RATE-1"),
    ("1 lb/10 000 sq ft", "RATE-3"),
    ("1.5 fl oz/1000 sq ft (1.5 pt/A)", "RATE-6"),
    ("1 lb P2O5/1000 sq ft", "RATE-7"),
    ("1 gal ai/A", "RATE-7"),
]


@pytest.mark.parametrize(("text", "code"), REFUSALS, ids=lambda value: value[:30])
def test_rates_that_are_refused(text: str, code: str) -> None:
    assert code_of(text) == code


def test_a_formulation_that_does_not_say_leaves_oz_refused() -> None:
    assert code_of("1 oz/A", "FERT") == "UNIT-2"
    assert code_of("1 oz/A (50WP)", "SC") == "RATE-8"
    assert not DRY_FORMULATIONS & LIQUID_FORMULATIONS


def test_every_refusal_code_is_listed_and_tried() -> None:
    tried = {code for _, code in REFUSALS} | {"RATE-8", "UNIT-3", "AMOUNT-1", "AREA-1"}
    assert tried == set(UNIT_CODES)


def test_a_heading_gives_the_area_only_where_the_text_does_not() -> None:
    assert parse_rate("2 lb", per="1000 sq ft").most_base == 2.0
    assert parse_rate("43.56 lb/A", per="1000 sq ft").most_base == pytest.approx(1.0)
    with pytest.raises(UnitError):
        parse_rate("2 lb", per="lawn")


def test_base_of_a_rate() -> None:
    # By hand: 4 pt/A = 0.5 gal / 43.56; 2 lb/100 gal; 2 % = 0.02 gal per gal.
    assert parse_rate("4 pt/A").most_base == pytest.approx(0.5 / 43.56, rel=1e-14)
    assert parse_rate("2 lb/100 gal").most_base == pytest.approx(0.02, rel=1e-14)
    assert parse_rate("2 % v/v").most_base == pytest.approx(0.02, rel=1e-14)


def test_a_rate_per_area_is_not_one_per_gallon() -> None:
    with pytest.raises(UnitError) as caught:
        rate_in(parse_rate("4 pt/A"), "fl oz", "gal")
    assert caught.value.code == "RATE-3"
    with pytest.raises(UnitError) as caught:
        rate_in(parse_rate("4 pt/A"), "lb", "acre")
    assert caught.value.code == "UNIT-3"


@pytest.mark.parametrize(
    ("text", "base", "unit"),
    [
        ("24 fl oz", 0.1875, "fl oz"),
        ("2.5 gal", 2.5, "gal"),
        ("2 1/2 gal", 2.5, "gal"),
        ("2 gal 1 qt 6 fl oz", 2.296875, "gal"),
        ("1,200 lb", 1200.0, "lb"),
        ("50#", 50.0, "lb"),
        ("3 lb 4 oz", 3.25, "lb"),
    ],
)
def test_amounts_that_are_read(text: str, base: float, unit: str) -> None:
    amount = parse_amount(text)
    assert amount.base == pytest.approx(base, rel=1e-14)
    assert amount.unit == unit
    assert base_amount(amount.value, amount.unit) == pytest.approx(base, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "AMOUNT-1"),
        ("7", "AMOUNT-1"),
        ("2-3 gal", "AMOUNT-1"),
        ("0 gal", "AMOUNT-1"),
        ("1/0 gal", "AMOUNT-1"),
        ("5/2 gal", "AMOUNT-1"),
        ("2 gal of it", "AMOUNT-1"),
        ("4 oz", "UNIT-2"),
        ("1 gal 4 oz", "UNIT-2"),
        ("2 bags", "UNIT-1"),
        ("1 lb 2 pt", "UNIT-3"),
        ("1 imperial gal", "UNIT-4"),
    ],
)
def test_amounts_that_are_refused(text: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_amount(text)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("gal", ("gal", "volume")),
        ("Fl. Oz.", ("fl oz", "volume")),
        ("/lb", ("lb", "mass")),
        ("per gallon", ("gal", "volume")),
        ("T", ("tbsp", "volume")),
        ("t", ("tsp", "volume")),
    ],
)
def test_units_that_are_read(text: str, answer: tuple[str, str]) -> None:
    assert parse_unit(text) == answer


@pytest.mark.parametrize(
    ("text", "code"),
    [("oz", "UNIT-2"), ("bag", "UNIT-1"), ("G", "UNIT-1"), ("acre", "UNIT-3"), ("%", "UNIT-3"),
     ("", "UNIT-1"), ("ton", "UNIT-4")],
)  # fmt: skip
def test_units_that_are_refused(text: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_unit(text)
    assert caught.value.code == code


@pytest.mark.parametrize("unit", [unit for unit in AMOUNT_SPELLINGS if unit != "oz"])
def test_every_listed_spelling_is_read_in_every_place(unit: str) -> None:
    for spelling in AMOUNT_SPELLINGS[unit]:
        for written in (spelling, spelling.upper(), spelling + "."):
            assert parse_unit(written)[0] == unit, written
            assert parse_amount(f"3 {written}").unit == unit, written
            assert parse_rate(f"3 {written}/1000 sq ft").unit == unit, written


def test_a_practical_amount_never_passes_the_most() -> None:
    # By hand: 1.173 gal is 150.144 fl oz.
    at_most = practical_amount(1.173, "gal", most_base=1.173)
    assert at_most.text == "1 gal 22 fl oz"
    assert at_most.value_base <= 1.173
    assert practical_amount(150.5 / 128, "gal").text == "1 gal 22 fl oz"
    assert practical_amount(150.6 / 128, "gal").text == "1 gal 23 fl oz"
    assert practical_amount(150.6 / 128, "gal", 150.6 / 128).text == "1 gal 22 fl oz"
    assert practical_amount(150.0 / 128, "gal", 150.0 / 128).text == "1 gal 22 fl oz"


@pytest.mark.parametrize(
    ("base", "unit", "text", "exact"),
    [
        (2.296875, "gal", "2 gal 1 qt 6 fl oz", "2.297 gal"),
        (3.25, "lb", "3 lb 4 oz wt", "3.250 lb"),
        (0.01, "gal", "1.3 fl oz", "1.28 fl oz"),
        (0.99999, "gal", "1 gal", "128.00 fl oz"),
        (31.97 / 128, "gal", "1 qt", "31.97 fl oz"),
        (15.98 / 16, "lb", "1 lb", "15.98 oz wt"),
        (0.001, "gal", "3.8 mL", "0.128 fl oz"),
        (0.02, "lb", "9.1 g", "0.32 oz wt"),
        (52.61, "lb", "52 lb 8 oz wt", "52.610 lb"),
        (0.0, "gal", "0 fl oz", "0.00 fl oz"),
    ],
)
def test_practical_amounts(base: float, unit: str, text: str, exact: str) -> None:
    amount = practical_amount(base, unit)
    assert (amount.text, amount.exact_text) == (text, exact)


def test_a_practical_amount_wants_base_units() -> None:
    with pytest.raises(ValueError, match="neither"):
        practical_amount(1.0, "qt")
    with pytest.raises(ValueError, match="amount of"):
        practical_amount(math.nan, "gal")


amounts = st.floats(min_value=0.002, max_value=2000, allow_nan=False)


@given(amounts, st.sampled_from(["gal", "lb"]))
def test_what_is_printed_reads_back_as_what_is_measured(base: float, unit: str) -> None:
    practical = practical_amount(base, unit)
    read = parse_amount(practical.text)
    assert read.base == pytest.approx(practical.value_base, rel=1e-9)
    assert read.kind == ("volume" if unit == "gal" else "mass")
    exact = parse_amount(practical.exact_text)
    assert exact.base == pytest.approx(base, rel=0.006)


@given(amounts, st.sampled_from(["gal", "lb"]), st.floats(min_value=0.5, max_value=1.5))
def test_rounding_is_small_and_stays_under_the_most(base: float, unit: str, share: float) -> None:
    most = base * share
    free = practical_amount(base, unit)
    kept = practical_amount(base, unit, most)
    small = 4 / 128 if unit == "gal" else 4 / 16
    if base >= small:
        assert abs(free.value_base - base) <= 0.016 * base
    assert abs(free.value_base - base) <= 0.06 * base
    assert kept.value_base <= most * (1 + 1e-8)
    assert kept.value_base <= free.value_base


numbers = st.integers(min_value=1, max_value=9999).map(lambda n: n / 100)
units = st.sampled_from(["gal", "qt", "pt", "fl oz", "tbsp", "tsp", "mL", "L", "lb", "oz wt", "g"])
pers = st.sampled_from(["acre", "1000 sq ft", "400 sq ft", "gal", "100 gal", "hectare", "100 m2"])


@given(numbers, numbers, units, pers)
def test_a_rate_reads_the_same_from_its_own_parts(a: float, b: float, unit: str, per: str) -> None:
    least, most = sorted((a, b))
    rate = parse_rate(f"{least} to {most} {unit} per {per}")
    assert (rate.least, rate.most, rate.unit, rate.per) == (least, most, unit, per)
    assert rate_in(rate, unit, per) == pytest.approx((least, most), rel=1e-12)
    again = parse_rate(f"{rate.least}-{rate.most} {rate.unit}/{rate.per}")
    assert (again.least_base, again.most_base) == (rate.least_base, rate.most_base)


pieces = st.sampled_from(
    ["1", "1/2", " ", "-", "to", "fl oz", "oz", "lb", "N", "ai", "%", "/", "per", "1000", "sq ft",
     "A", "gal", "(", ")", "v/v", "M", "½", ",", ".", "WP", "of", "in", "T", "#", "²"]
)  # fmt: skip


@given(st.one_of(st.text(max_size=40), st.lists(pieces, max_size=14).map(" ".join)))
def test_no_text_breaks_the_readers(text: str) -> None:
    refusals = []
    for read in (parse_rate, parse_amount, parse_unit):
        try:
            read(text)
        except UnitError as error:
            refusals.append(error)
    assert all(refusal.code in UNIT_CODES and refusal.cure for refusal in refusals)


def test_the_units_library_is_loaded_only_when_something_is_converted() -> None:
    # Loading it takes most of a second, which every 'planner --help' would pay.
    script = "import sys, planner.units; sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
