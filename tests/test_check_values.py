"""Published and worked figures against the planner's own functions.

Each row of data/check_values.csv carries its source (title, URL where there is one) and whether
it was read there or comes from memory or a derivation. `expected` is the exact value; `printed`
is what the source prints, which a rounding may part from the exact one (`printed_within`). Where
`printed_is_wrong`, the source errs and we must not agree with it.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from planner.day.orders import PastApplication
from planner.day.products import Form, Product
from planner.mixing import hydraulics, recipes
from planner.mixing.fills import Level, draw, fill_gallons
from planner.mixing.recipes import (
    Recipe,
    order_gal,
    product_base,
    product_density_lb_per_gal,
    recipe,
)
from planner.mixing.separation import Separation, cleaning_for, residue_share
from planner.units import UnitError, base_amount, convert, parse_amount, parse_rate, rate_in
from tests import days
from tests import trade_formulas as trade

HERE = Path(__file__).parent
SHARED = HERE.parents[1] / "shared" / "check-values" / "check-values.csv"

Row = dict[str, str]
Figures = tuple[float, ...]


def rows() -> list[Row]:
    with (HERE / "data" / "check_values.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def figures(text: str) -> list[float]:
    """The numbers in a text, '1,200' as one."""
    plain = re.sub(r"(?<=\d),(?=\d{3})", "", text)
    return [float(number) for number in re.findall(r"\d+\.\d+|\.\d+|\d+", plain)]


# ---------------------------------------------------------------- the planner's ways to a figure


def liquid(**changes: object) -> Product:
    product = days.product("x", "any", "100 % v/v", density_lb_per_gal=None)
    return replace(product, **changes)  # type: ignore[arg-type]


def dry(**changes: object) -> Product:
    product = days.product("x", "any", "1 lb/A", form=Form.DRY, density_lb_per_gal=None)
    return replace(product, **changes)  # type: ignore[arg-type]


def uan(nitrogen_percent: float, density_lb_per_gal: float) -> Product:
    """Liquid nitrogen fertilizer."""
    product = liquid(nitrogen_percent=nitrogen_percent)
    return replace(product, density_lb_per_gal=density_lb_per_gal)


POTASSIUM_PER_POTASH = 2 * 39.0983 / (2 * 39.0983 + 15.999)
"""lb of K in a lb of K2O; IUPAC standard atomic weights."""

UAN_28 = uan(28, 10.65)


def product_of(product: Product, rate_text: str) -> float:
    """gal or lb of product per 1,000 ft2, or per gallon of mix."""
    rate = parse_rate(rate_text)
    return product_base(product, rate, rate.most_base)


def mixed(product: Product | None, rate_text: str, carrier: float, water: float = 8.34) -> Recipe:
    """The recipe of a mix of one product, or of water alone."""
    rates = {} if product is None else {"x": rate_text}
    book = days.workbook(
        sites=(),
        trucks=(),
        products=() if product is None else (product,),
        mixes=(days.mix("M", carrier, **rates),),
        properties=(),
        orders=(),
        settings=days.settings(water_lb_per_gal=water),
    )
    return recipe(book, "M")


def in_unit(rate_text: str, unit: str, per: str = "1000 sq ft") -> float:
    least, most = rate_in(parse_rate(rate_text), unit, per)
    assert least == most
    return most


def ai_per_acre(rate_text: str, product: Product) -> float:
    """lb of active ingredient per acre of a rate in product."""
    rate = parse_rate(rate_text)
    if product.form is Form.LIQUID:
        assert product.ai_lb_per_gal is not None
        return trade.ai_lb_of_liquid(rate_in(rate, "gal", "acre")[1], product.ai_lb_per_gal)
    assert product.ai_percent is not None
    return trade.ai_lb_of_dry(rate_in(rate, "lb", "acre")[1], product.ai_percent)


def lawns_gal(row: Row) -> float:
    carrier = 2.0
    areas = figures(row["inputs"].split(" ft2")[0])
    homes = [days.home(f"P{n}", 40, -83, area) for n, area in enumerate(areas)]
    orders = [days.order(f"O{n}", home, "M") for n, home in enumerate(homes)]
    book = days.workbook(
        sites=(),
        trucks=(),
        products=(),
        mixes=(days.mix("M", carrier),),
        properties=tuple(homes),
        orders=tuple(orders),
    )
    return sum(order_gal(book, order) for order in orders)


def fills_needed(need_gal: float, capacity_gal: float) -> int:
    """How often a compartment without heel, hose and margin is filled for a need."""
    level = Level("1", "M", capacity_gal, 0.0, 0.0, 8.34)
    fills = 0
    while need_gal > 1e-9:
        (added,) = fill_gallons([level], {"M": need_gal}, {}, 0.0, 1e6)
        level = replace(level, gal=level.gal + added)
        take = min(level.gal, need_gal)
        ((level,), _) = draw([level], "M", take)
        need_gal -= take
        fills += 1
    return fills


def heel_and_hose(row: Row) -> float:
    need, heel = figures(row["inputs"])[:2]
    hose = days.line("A", hose_ft=300.0, hose_inside_diameter_in=0.5).hose_gal
    level = Level("1", "M", 200.0, heel, 0.0, 8.34)
    (fill,) = fill_gallons([level], {"M": need}, {"M": hose}, 0.0, 1e6)
    total = need + heel + hose
    assert total <= fill < total + 1, "the fill is that, up to the next whole gallon"
    return total


def two_carriers() -> str:
    thin, thick = (mixed(liquid(), "1 fl oz/1000 sq ft", carrier) for carrier in (2.0, 3.0))
    same = thin.parts[0].amount_per_gal == pytest.approx(thick.parts[0].amount_per_gal)
    return "the same tank fill" if same else "not the same tank fill"


def annual_tally(row: Row) -> float:
    """The sum that the hold states; an order that would pass the year's most is held."""
    from planner.compliance.holds import holds

    used, most, following = figures(row["inputs"])
    product = liquid(
        ai_lb_per_gal=4.0,
        rate_most=parse_rate("1 lb ai/A"),
        annual_most=parse_rate(f"{most} lb ai/A"),
    )
    lawn = days.home("P1", 40, -83, 43_560.0)
    gal = used / 4.0
    day = days.day_of(
        days.workbook(
            sites=(),
            trucks=(),
            products=(product,),
            mixes=(days.mix("M", 2.0, x=f"{following} lb ai/A"),),
            properties=(lawn,),
            orders=(days.order("O1", lawn, "M"),),
            history=(
                PastApplication(
                    "P1", "x", days.DAY.replace(month=1), 43_560.0, parse_amount(f"{gal} gal")
                ),
            ),
        ),
        days.DAY,
    )
    (hold,) = holds(day)
    stated = [figure for figure in figures(hold.reason) if abs(figure - used - following) < 0.01]
    assert stated, hold.reason
    return stated[0]


def weight_percent(row: Row) -> float:
    with pytest.raises(UnitError, match="by weight"):
        parse_rate("1 % w/w")
    settings = days.settings()
    return convert(settings.water_lb_per_gal * 0.01, "lb", "oz wt")


def hose(row: Row, feet: float, inches: float) -> float:
    return days.line("A", hose_ft=feet, hose_inside_diameter_in=inches).hose_gal


HOSE_IN = {"3/8": 0.375, "1/2": 0.5, "5/8": 0.625, "3/4": 0.75, "1": 1.0, "1-1/2": 1.5}


def hose_of(row: Row) -> float:
    """'ID 5/8 in', or '5/8 in x 50 ft' in the text of the row."""
    size, feet = row["inputs"].removeprefix("ID ").split(" in")[0], 100.0
    if " x " in row["inputs"]:
        feet = figures(row["inputs"].split(" x ")[1])[0]
    return hose(row, feet, HOSE_IN[size])


def rate_string(row: Row) -> float:
    """A rate as printed. The remarks on which end is meant belong to the row, not to the rate."""
    text = row["inputs"]
    formulation, heading = (None, None)
    if row["id"] == "Q08":
        # The source's table gives the area in its heading and the form in the product's name.
        formulation, heading = "WP", "1000 sq ft"
    unit, _, per = row["unit"].partition("/")
    per = "1000 sq ft" if per == "1000 ft2" else per
    least, most = rate_in(parse_rate(text, formulation, per=heading), unit, per)
    return least if "low" in text else most


def crossing(rises: Callable[[float], float], wanted: float, most: float) -> float:
    """Where a rising function reaches a value, by halving."""
    low, high = 0.0, most
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rises(middle) < wanted else (low, middle)
    return low


def heel_percent_for(share: float, rinses: int, rinse_percent: float) -> float:
    """The heel, in percent of the tank, that so many rinses bring down to a share."""
    return crossing(lambda heel: residue_share(heel, rinse_percent, rinses), share, 50.0)


def film_percent_after_drain(row: Row) -> float:
    """Film left by the first drain that still meets the removal standard after three rinses with a
    quarter of the container."""
    return 100 * crossing(lambda film: film * residue_share(film, 0.25, 3), 1e-4, 0.5)


def three_rinses_gal(row: Row) -> float:
    entry = cleaning_for(
        days.settings(), Separation({}, ()), days.compartment("1", 200.0, "A", 1), "A", "B"
    )
    return 3 * entry.water_gal_per_rinse


COMPUTE: dict[str, Callable[[Row], object]] = {
    # units
    "U01": lambda r: convert(1, "gal", "in3"),
    "U02": lambda r: convert(1, "gal", "L"),
    "U04": lambda r: convert(1, "pt", "mL"),
    "U05": lambda r: convert(1, "qt", "L"),
    "U06": lambda r: convert(1, "lb", "g"),
    "U07": lambda r: convert(1, "oz wt", "g"),
    "U08": lambda r: convert(1, "acre", "sq ft"),
    "U09": lambda r: convert(1, "acre", "1000 sq ft"),
    "U12": lambda r: convert(1, "mph", "ft/min"),
    "U13": lambda r: convert(1, "mph", "ft/s"),
    "U14": lambda r: 8.25 * convert(1, "mi", "ft"),
    "U15": lambda r: convert(convert(1, "acre", "sq ft") * convert(1, "in", "ft"), "ft3", "gal"),
    "U16": lambda r: convert(1, "ft3", "gal"),
    "U17": lambda r: convert(1 / recipes.water_lb_per_gal(68), "gal", "fl oz"),
    "U18": lambda r: convert(1, "sq mi", "acre"),
    "U19": lambda r: convert(1, "hectare", "acre"),
    # water
    "W01": lambda r: recipes.water_lb_per_gal(60),
    "W03": lambda r: recipes.water_lb_per_gal(62),
    "W04": lambda r: recipes.water_lb_per_gal(68),
    "W05": lambda r: 300 * mixed(None, "", 2.0).density_lb_per_gal,
    "W06": lambda r: 200 * mixed(UAN_28, "100 % v/v", 2.0).density_lb_per_gal,
    "W07": lambda r: recipes.water_lb_per_gal(68) * convert(1, "ft3", "gal") / 144,
    # rate conversion
    "R01": lambda r: in_unit("3.6 pt/A", "fl oz"),
    "R02": lambda r: parse_rate("3.6 pt/A").most_base * convert(25, "acre", "1000 sq ft"),
    "R03": lambda r: convert(
        product_of(liquid(ai_lb_per_gal=figures(r["inputs"])[0]), "1 lb ai/A"), "gal", "mL"
    ),
    "R04": lambda r: convert(
        product_of(dry(ai_percent=figures(r["inputs"])[0]), "1 lb ai/A"), "lb", "g"
    ),
    "R05": lambda r: (
        convert(
            product_of(
                liquid(ai_lb_per_gal=figures(r["inputs"])[1]),
                f"{figures(r['inputs'])[0]} lb ai/A",
            ),
            "gal",
            "pt",
        )
        * 43.56
    ),
    "R06": lambda r: in_unit("6.25 gal/A", "fl oz"),
    "R07": lambda r: in_unit("80 lb/A", "lb"),
    "R10": lambda r: in_unit("5.2 lb/1000 sq ft", "lb", "acre"),
    "R11": lambda r: in_unit("250 lb/A", "lb"),
    "R13": lambda r: trade.area_ft2_of(50, parse_rate("5.7 lb/1000 sq ft").most_base),
    "R14": lambda r: in_unit("1 gal/A", "fl oz"),
    "R15": lambda r: in_unit("1 lb/A", "oz wt"),
    "R16": lambda r: in_unit("100 lb/A", "lb"),
    # active ingredient
    "A01": lambda r: tuple(
        trade.ai_lb_of_liquid(gal, 4) for gal in rate_in(parse_rate("2-4 pt/A"), "gal", "acre")
    ),
    "A04": lambda r: ai_per_acre("21 fl oz/A", liquid(ai_lb_per_gal=6.0)),
    "A05": lambda r: ai_per_acre("32 fl oz/A", liquid(ai_lb_per_gal=6.0)),
    "A08": lambda r: ai_per_acre("2.1 pt/A", liquid(ai_lb_per_gal=3.8)),
    "A09": lambda r: ai_per_acre("4 T/1000 sq ft", liquid(ai_lb_per_gal=4.0)),
    "A10": lambda r: ai_per_acre("6 T/1000 sq ft", liquid(ai_lb_per_gal=4.0)),
    "A11": lambda r: ai_per_acre("250 lb/A", dry(ai_percent=0.1)),
    "A30": lambda r: (
        ai_per_acre("0.4 oz wt/1000 sq ft", dry(ai_percent=50.0)),
        ai_per_acre("0.77 fl oz/1000 sq ft", liquid(ai_lb_per_gal=2.08)),
    ),
    "A32": lambda r: ai_per_acre("64 fl oz/A", liquid(ai_lb_per_gal=1.5)),
    "A33": lambda r: ai_per_acre("1 fl oz/1000 sq ft", liquid(ai_lb_per_gal=2 / 3)),
    "A34": annual_tally,
    # label density
    "A20": lambda r: product_density_lb_per_gal(liquid(ai_percent=38.6, ai_lb_per_gal=3.74)),
    "A22": lambda r: product_density_lb_per_gal(liquid(ai_percent=22.6, ai_lb_per_gal=2.0)),
    "A24": lambda r: product_density_lb_per_gal(liquid(ai_percent=22.8, ai_lb_per_gal=2.08)),
    "A26": lambda r: product_density_lb_per_gal(liquid(ai_percent=40.0, ai_lb_per_gal=3.8)),
    # tank fill
    "T01": lambda r: convert(
        mixed(liquid(), "1.5 fl oz/1000 sq ft", 2.0).amounts(200)["x"], "gal", "fl oz"
    ),
    "T02": lambda r: mixed(liquid(), "1.5 fl oz/1000 sq ft", 2.0).water_gal(200),
    "T03": lambda r: trade.area_ft2_of(200, 2.0),
    "T04": lawns_gal,
    "T05": lambda r: convert(
        mixed(liquid(), "1.5 fl oz/1000 sq ft", 2.0).amounts(126.8)["x"], "gal", "fl oz"
    ),
    "T06": lambda r: fills_needed(126.8, 100.0),
    "T08": lambda r: mixed(dry(), "2 lb/100 gal", 2.0).amounts(500)["x"],
    "T09": lambda r: in_unit("1 lb/100 gal", "oz wt", "gal"),
    "T14": lambda r: mixed(UAN_28, "0.5 lb N/1000 sq ft", 2.0).amounts(100)["x"],
    "T15": heel_and_hose,
    "T16": lambda r: two_carriers(),
    "T17": lambda r: convert(
        mixed(liquid(), "1.1 fl oz/1000 sq ft", 1.5).parts[0].amount_per_gal, "gal", "fl oz"
    ),
    # percent mix
    "V01": lambda r: convert(mixed(liquid(), "0.5 % v/v", 2.0).amounts(2)["x"], "gal", "fl oz"),
    "V02": lambda r: in_unit("2 % v/v", "fl oz", "gal"),
    "V03": weight_percent,
    "V05": lambda r: (
        mixed(liquid(), "2 % v/v", 2.0).amounts(100)["x"],
        trade.percent_by_volume(2, 102),
    ),
    "V06": lambda r: (
        convert(mixed(liquid(), "2 % v/v", 40 / 43.56).parts[0].amount_per_1000_ft2, "gal", "fl oz")
        * 43.56
    ),
    "V07": lambda r: trade.percent_by_volume(base_amount(0.25, "cup"), 1.0),
    # fertilizer
    "F01": lambda r: product_of(dry(nitrogen_percent=28), "1 lb N/1000 sq ft"),
    "F02": lambda r: 6 * product_of(dry(nitrogen_percent=28), "1 lb N/1000 sq ft"),
    "F03": lambda r: product_of(dry(nitrogen_percent=16), "0.75 lb N/1000 sq ft"),
    "F04": lambda r: 8 * product_of(dry(nitrogen_percent=16), "0.75 lb N/1000 sq ft"),
    "F05": lambda r: product_of(dry(nitrogen_percent=25), "0.9 lb N/1000 sq ft"),
    "F09": lambda r: 125 * recipes.PHOSPHORUS_PER_PHOSPHATE,
    "F10": lambda r: 250 * POTASSIUM_PER_POTASH,
    "F11": lambda r: recipes.PHOSPHORUS_PER_PHOSPHATE,
    "F13": lambda r: POTASSIUM_PER_POTASH,
    "F15": lambda r: trade.nutrient_lb_per_gal(10.65, 28),
    "F16": lambda r: product_of(UAN_28, "75 lb N/1000 sq ft"),
    "F19": lambda r: trade.nutrient_lb_per_gal(11.06, 32),
    "F20": lambda r: product_of(UAN_28, "0.5 lb N/1000 sq ft"),
    "F21": lambda r: convert(product_of(UAN_28, "0.5 lb N/1000 sq ft"), "gal", "fl oz"),
    "F24": lambda r: trade.nutrient_lb_per_gal(11.4, 34),
    "F26": lambda r: product_of(dry(nitrogen_percent=16), "1 lb N/1000 sq ft"),
    "F28": lambda r: recipes.soluble_nitrogen_lb(1.0, 50),
    # hose volume
    "H01": hose_of,
    "H02": lambda r: hose(r, 100, 1.0),
    "H03": lambda r: hose(r, 100, 1.5),
    "H04": lambda r: hose(r, 50, 0.625),
    "H05": lambda r: hose(r, 50, 0.75),
    "H06": lambda r: trade.area_ft2_of(hose(r, 300, 0.5), 2.0),
    # calibration
    "C02": lambda r: sum(figures(r["inputs"])) / 3,
    "C03": lambda r: trade.gal_per_acre(5.25),
    "C04": lambda r: trade.gun_gal_per_min(5.25, 78),
    "C05": lambda r: trade.walking_mph(200, 78),
    "C06": lambda r: trade.accepted_carrier(5.25),
    "C07": lambda r: trade.carrier_gal_per_1000_ft2(1.25, 250),
    "C08": lambda r: convert(1, "acre", "sq ft") / trade.PLOT_SHARE_OF_ACRE,
    "C09": lambda r: trade.course_ft(figures(r["inputs"])[1], figures(r["inputs"])[0]),
    "C10": lambda r: trade.trapezoid_ft2(18.5, 18.5, 18.5),
    "C11": lambda r: trade.gal_per_acre(
        trade.carrier_gal_per_1000_ft2(
            convert(40, "fl oz", "gal"),
            convert(1, "acre", "sq ft") / trade.PLOT_SHARE_OF_ACRE,
        )
    ),
    "C12": lambda r: convert(
        mixed(liquid(), "1 qt/A", 40 / 43.56).parts[0].amount_per_gal, "gal", "fl oz"
    ),
    "C13": lambda r: trade.area_ft2_of(1, 40 / 43.56),
    "C14": lambda r: convert(trade.area_ft2_of(25, 150 / 43.56), "sq ft", "acre"),
    "C16": lambda r: trade.gal_per_acre(trade.carrier_walked(3.75, 5, 222 / 12)),
    "C17": lambda r: trade.gal_per_acre(
        trade.carrier_walked(convert(480, "fl oz", "gal"), 5, 222 / 12)
    ),
    "C19": lambda r: trade.carrier_walked(1, 1, 1 / 12),
    "C20": lambda r: trade.carrier_walked(1, 1, 1),
    "C21": lambda r: trade.carrier_walked(2, 3, 4),
    "C22": lambda r: trade.seconds_per_1000_ft2(2, trade.carrier_walked(2, 3, 4)),
    "C23": lambda r: trade.carrier_gal_per_1000_ft2(2.0 * 4.5, 4500),
    "C24": lambda r: trade.flow_at_pressure(0.40, 40, 60),
    "C25": lambda r: trade.pressure_factor_for_flow(2),
    "C26": lambda r: trade.gal_per_acre(1.5),
    "C28": lambda r: trade.carrier_gal_per_1000_ft2(40, convert(1, "acre", "sq ft")),
    "C29": lambda r: trade.gal_per_acre(trade.carrier_gal_per_1000_ft2(12, 660 * 10)),
    "C30": lambda r: trade.gal_per_acre(trade.carrier_walked(0.15, 5, 48 / 12)),
    "C31": lambda r: trade.gun_gal_per_min(convert(20, "fl oz", "gal"), 60),
    # area
    "G05": lambda r: trade.trapezoid_ft2(60, 60, 25),
    "G06": lambda r: (0.8 / trade.oval_ft2(1, 1) - 1) * 100,
    "G07": lambda r: trade.trapezoid_ft2(40, 60, 25),
    "G08": lambda r: trade.offsets_ft2(10, figures(r["inputs"])[2:]),
    # hose friction
    "H08": lambda r: hydraulics.friction_psi(2.0, 0.5, 80),
    "H09": lambda r: hydraulics.friction_psi(3.0, 0.5, 100),
    "H10": lambda r: hydraulics.friction_psi(2.0, 0.5, 300),
    "H11": lambda r: hydraulics.friction_psi(3.0, 0.5, 400),
    "H12": lambda r: trade.open_end_gal_per_min(*figures(r["inputs"]), 100.0),
    # rinsing
    "Z01": lambda r: residue_share(1, 10, 3),
    "Z02": lambda r: residue_share(1, 30, 1),
    "Z05": lambda r: heel_percent_for(1 / 1000, 3, 10 / 3),
    "Z06": three_rinses_gal,
    "Z07": lambda r: 0.039463 * residue_share(0.039463, 0.25, 3),
    "Z08": film_percent_after_drain,
    "Z10": lambda r: 60 * trade.hose_flush_min(days.line("A")),
    "Z11": lambda r: trade.hose_lawn_ft2(days.line("A"), 2.0),
    # crew facts that are worked out
    "X07": lambda r: 200 / days.site("Y1", 40, -83, fill_gal_per_min=11.0).fill_gal_per_min,
    "X08": lambda r: recipes.mix_gal_for(10_000, 2.0) / days.line("A").gun_gal_per_min,
    # nozzle density
    "N": lambda r: trade.flow_factor_for_density(figures(r["inputs"])[0]),
    "N16": lambda r: 20 * trade.flow_factor_for_density(10.65),
    "N17": lambda r: trade.flow_factor_for_density(12.0),
    "N19": lambda r: trade.flow_factor_for_density(
        mixed(UAN_28, "0.5 lb N/1000 sq ft", 2.0, water=8.33044).density_lb_per_gal, 8.33044
    ),
}
"""Row id, or the part before its first dash -> the figure, by the planner's own functions."""


def compute(row: Row) -> object:
    if row["topic"] == "rate string":
        return rate_string(row)
    way = COMPUTE.get(row["id"]) or COMPUTE[row["id"].split("-")[0]]
    return way(row)


def name(row: Row) -> str:
    return f"{row['id']}: {row['what']} [{row['url'] or row['source']}]"


@pytest.mark.parametrize("row", rows(), ids=name)
def test_figure(row: Row) -> None:
    ours = compute(row)
    if isinstance(ours, str):
        assert ours == row["expected"]
        return
    values = ours if isinstance(ours, tuple) else (ours,)
    expected = figures(row["expected"])
    assert len(values) == len(expected)
    for value, wanted in zip(values, expected, strict=True):
        assert value == pytest.approx(wanted, rel=0, abs=float(row["tolerance"])), row["source"]


@pytest.mark.parametrize("row", [row for row in rows() if row["printed"]], ids=name)
def test_what_the_source_prints(row: Row) -> None:
    ours = compute(row)
    assert isinstance(ours, float | int)
    off = abs(ours - float(row["printed"]))
    if row["printed_is_wrong"]:
        assert off > float(row["printed_within"]), "the source is known to err here"
    else:
        assert off <= float(row["printed_within"]) * (1 + 1e-9)


def disagreements() -> list[Row]:
    with (HERE / "data" / "disagreements.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_disagreement_with_a_source_is_listed_with_its_reason() -> None:
    listed = {row["id"]: row for row in disagreements()}
    assert all(row["reason"] for row in listed.values())
    wrong = {row["id"] for row in rows() if row["printed_is_wrong"]}
    not_run = {row["id"] for row in listed.values() if row["kind"] == "cannot be run"}
    assert {name for name, row in listed.items() if row["kind"] == "source errs"} == wrong
    assert not not_run & {row["id"] for row in rows()}


def test_our_copy_says_what_the_shared_one_says() -> None:
    if not SHARED.exists():
        pytest.skip("../shared/check-values is not beside this checkout")
    with SHARED.open(encoding="utf-8", newline="") as file:
        theirs = {row["id"]: row for row in csv.DictReader(file)}
    with (HERE / "data" / "check_rules.csv").open(encoding="utf-8", newline="") as file:
        ours = {row["id"]: row for row in csv.DictReader(file)} | {row["id"]: row for row in rows()}
    # One cell that the notes name beside the table: PNW Handbooks at 7.00 lb/gal and 0.75 lb/A.
    assert ours.keys() - theirs.keys() == {"R05-7.0-0.75"}
    not_run = {row["id"] for row in disagreements() if row["kind"] == "cannot be run"}
    assert theirs.keys() - ours.keys() == not_run
    for row_id in theirs.keys() & ours.keys():
        for column in ("topic", "inputs", "expected", "unit", "source", "url", "provenance"):
            said = theirs[row_id][column]
            for theirs_spelled, ours_spelled in (
                ("fertiliser", "fertilizer"),
                ("neighbour", "neighbor"),
            ):
                said = said.replace(theirs_spelled, ours_spelled)
            assert ours[row_id][column] == said, (row_id, column)
