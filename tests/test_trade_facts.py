"""Published label wordings and planning figures, run against what the planner does with them; and
facts of the trade that nobody wrote down.

Rows L, X and Z09 stand in data/check_rules.csv with source and address. Where a fact is marked
'common practice, no source', that is all there is to cite.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from statistics import median

import pytest

from planner.compliance.holds import holds, order_windows
from planner.compliance.label_checks import label_problems
from planner.compliance.weather import WIND_WHEN_LABELS_ARE_SILENT_MPH, limit_text, wind_advice
from planner.day.day import Day, Workbook, day_of
from planner.day.orders import WeatherHour
from planner.day.products import ANY_OTHER, Scope
from planner.mixing.fills import Level, fill_gallons
from planner.mixing.hydraulics import gun_supply
from planner.mixing.separation import residue_share
from planner.rules.data import truck_rules
from planner.tables.columns import columns_of
from planner.tables.read import read_workbook
from planner.units import convert
from tests import days
from tests.trade_formulas import carrier_gal_per_1000_ft2

HERE = Path(__file__).parent
DEMO = HERE.parent / "demo_data" / "spring_day"


DEFAULTS = days.settings()
"""As columns.csv has them; the next test holds the two together."""


def test_defaults_are_those_of_the_columns_table() -> None:
    table = HERE.parent / "planner" / "tables" / "columns.csv"
    with table.open(encoding="utf-8", newline="") as file:
        told = {one["column"]: one for one in csv.DictReader(file) if one["table"] == "settings"}
    for name in ("cost_per_mile", "pay_per_hour", "rinse_count", "rinse_water_percent"):
        assert float(told[name]["default"]) == getattr(DEFAULTS, name)


def row(row_id: str) -> dict[str, str]:
    with (HERE / "data" / "check_rules.csv").open(encoding="utf-8", newline="") as file:
        return {one["id"]: one for one in csv.DictReader(file)}[row_id]


@pytest.fixture(scope="module")
def demo() -> Workbook:
    book = read_workbook(DEMO).workbook
    assert book is not None
    return book


def sprayed(hour_changes: dict[str, float] | None = None, **limits: object) -> Day:
    """An order of a herbicide on a day with one hour of forecast, 8 to 9 AM."""
    home = days.home("P1", 40, -83, 4000.0, grass="St. Augustine")
    product = days.product("p", "broadleaf", "3.0 pt/A", **limits)
    fields = {
        "wind_mph": 5.0,
        "gust_mph": None,
        "temperature_f": 70.0,
        "rain_chance_percent": 0.0,
        "rain_in": 0.0,
    } | (hour_changes or {})
    book = days.workbook(
        sites=(),
        trucks=(),
        products=(product,),
        mixes=(days.mix("M", 2.0, p="3.0 pt/A"),),
        properties=(home,),
        orders=(days.order("O1", home, "M"),),
        weather=(WeatherHour(days.DAY, 8, "", **fields),),  # type: ignore[arg-type]
    )
    return day_of(book, days.DAY)


def open_at_8(day: Day) -> bool:
    return order_windows(day, day.orders["O1"]) != ()


def test_l01_not_above_90_f() -> None:
    assert "90" in row("L01")["expected"]
    assert open_at_8(sprayed({"temperature_f": 90.0}, temperature_most_f=90.0))
    assert not open_at_8(sprayed({"temperature_f": 90.1}, temperature_most_f=90.0))


def test_l02_dry_for_24_h() -> None:
    # The label bars irrigation; the planner holds the rain to it, and the office the sprinklers.
    assert "24 h" in row("L02")["expected"]
    day = sprayed(rain_free_hours=24.0)
    for hours, fits in ((24, False), (25, True)):
        moment = 8 + hours
        wet = WeatherHour(
            days.DAY + timedelta(days=moment // 24), moment % 24, "", 5.0, None, 70.0, 80.0, 0.2
        )
        book = replace(day.workbook, weather=(*day.workbook.weather, wet))
        assert open_at_8(day_of(book, days.DAY)) is fits


def test_l03_carrier_from_2_to_300_gal_per_acre() -> None:
    # The source's note gives 0.046 to 6.89 gal per 1,000 ft2.
    assert "2 to 300" in row("L03")["expected"]
    acre = convert(1, "acre", "sq ft")
    least, most = (carrier_gal_per_1000_ft2(gal, acre) for gal in (2, 300))
    assert (least, most) == pytest.approx((0.046, 6.89), abs=0.005)
    limits = {"carrier_least_gal_per_1000_ft2": least, "carrier_most_gal_per_1000_ft2": most}
    book = sprayed(**limits).workbook
    for carrier, codes in ((0.04, ["LABEL-3"]), (6.8, []), (7.0, ["LABEL-4"])):
        mixes = {"M": days.mix("M", carrier, p="3.0 pt/A")}
        assert [one.code for one in label_problems(replace(book, mixes=mixes))] == codes


def test_l04_most_single_rate() -> None:
    assert row("L04")["expected"] == "3.0 pt/A"
    book = sprayed().workbook
    for rate, codes in (("3.0 pt/A", []), ("3.1 pt/A", ["LABEL-1"])):
        mixes = {"M": days.mix("M", 2.0, p=rate)}
        assert [one.code for one in label_problems(replace(book, mixes=mixes))] == codes


def test_l05_young_lawn() -> None:
    # 'Not before the 2nd or 3rd mowing; reseed 3 to 4 weeks after': the office turns mowings into
    # days (stand_days_least); reseeding after spraying is not planned here.
    assert "mowing" in row("L05")["expected"]
    day = sprayed(stand_days_least=42)
    home = day.workbook.properties["P1"]
    for age, codes in ((41, ["STAND"]), (42, [])):
        young = replace(home, grass_since=days.DAY - timedelta(days=age))
        book = replace(day.workbook, properties={"P1": young})
        assert [one.code for one in holds(day_of(book, days.DAY))] == codes


def test_l06_sensitive_grasses() -> None:
    named = [
        name.strip()
        for name in row("L06")["expected"].split("care on ")[1].split(";")[0].split(",")
    ]
    assert "St. Augustine" in named
    assert [one.code for one in holds(sprayed(not_on_grass=tuple(named)))] == ["GRASS"]


def test_l07_wind_where_the_label_is_silent() -> None:
    assert row("L07")["expected"].startswith("3 to 8 mph")
    assert WIND_WHEN_LABELS_ARE_SILENT_MPH == (3.0, 8.0)
    assert "3 to 8 mph" in wind_advice(sprayed().workbook, "M")
    assert wind_advice(sprayed(wind_most_mph=10.0).workbook, "M") == ""


def test_l08_inversion() -> None:
    assert "below 3 mph" in row("L08")["expected"]
    assert open_at_8(sprayed({"wind_mph": 3.0}, wind_least_mph=3.0))
    day = sprayed({"wind_mph": 2.9}, wind_least_mph=3.0)
    assert not open_at_8(day)
    assert "inversion" in holds(day)[0].reason


def test_l09_no_spraying_in_rain() -> None:
    # Also where no label sets a limit; keeping off drives and drains is on the crew.
    assert "no application during rain" in row("L09")["expected"]
    day = sprayed({"rain_in": 0.05})
    windows = order_windows(day, day.orders["O1"])
    assert windows is not None
    assert not any(window.open_min <= 8 * 60 < window.close_min for window in windows)
    assert "not in rain" in limit_text(day.workbook, "M")


def test_l10_liquids_by_the_gallon_of_231_in3() -> None:
    assert "231 in3" in row("L10")["expected"]
    assert convert(1, "gal", "in3") == pytest.approx(231)


def test_z09_rinsed_sprayer() -> None:
    # At most 1 % (France) or 2 % (Denmark) of the strength: three rinses of 10 % of the tank meet
    # both with a heel of up to a quarter of the rinse water.
    assert "1% (France 2006), 2% (Denmark 2009)" in row("Z09")["expected"]
    assert residue_share(2.5, 10.0, 3) <= 0.01
    assert residue_share(3.7, 10.0, 3) <= 0.02


def test_x01_x02_demo_lawns_are_of_usual_size(demo: Workbook) -> None:
    # A full lawn of 20,000 ft2 (EPA) is large; a median new yard has 0.14 acre.
    assert "20,000" in row("X01")["expected"]
    assert "0.14 acre" in row("X02")["expected"]
    lawns = [home.lawn_ft2 for home in demo.properties.values()]
    yard = convert(0.14, "acre", "sq ft")
    assert yard == pytest.approx(6098, abs=1)
    assert 0.5 * yard < median(lawns) < 2 * yard
    assert sum(lawn > 20_000 for lawn in lawns) <= len(lawns) / 5


def test_x03_x04_default_cost_of_a_mile() -> None:
    # IRS 72.5 cents a mile (2026); heavy trucking 2.260 USD is an upper mark.
    assert row("X03")["expected"].startswith("72.5 / 70")
    assert row("X04")["expected"].startswith("2.260 per mile")
    assert 0.70 <= DEFAULTS.cost_per_mile <= 0.725 < 2.26


def test_x05_default_pay_lies_between_the_published_medians() -> None:
    assert row("X05")["expected"] == "22.67 / 27.61"
    assert 22.67 <= DEFAULTS.pay_per_hour <= 27.61


def test_x06_demo_water_points_ask_less_than_the_weakest_hydrant(demo: Workbook) -> None:
    assert "C < 500" in row("X06")["expected"]
    assert all(site.fill_gal_per_min < 500 for site in demo.sites.values())


def test_lawn_gun_and_hoses(demo: Workbook) -> None:
    """A 2 gal/min gun on 300 or 400 ft of 1/2-in hose: common practice, no source."""
    line = days.line("A")
    assert (line.hose_ft, line.hose_inside_diameter_in, line.gun_gal_per_min) == (300.0, 0.5, 2.0)
    for feet, loss_psi in ((300.0, 15.3), (400.0, 20.4)):
        supply = gun_supply(replace(line, hose_ft=feet))
        assert supply.friction_psi == pytest.approx(loss_psi, abs=0.1)
        assert supply.warnings == ()


@pytest.mark.parametrize(("gal_per_min", "psi"), [(22.0, 300.0), (10.0, 560.0)])
def test_pumps_of_the_trade_feed_a_lawn_gun(gal_per_min: float, psi: float) -> None:
    """Pumps of 22 gal/min at 300 psi and 10 gal/min at 560 psi: common practice, no source."""
    line = days.line("A", hose_ft=400.0, pump_gal_per_min=gal_per_min, pump_psi=psi)
    supply = gun_supply(line)
    assert supply.flow_ok
    assert supply.warnings == ()
    # By hand: 400 ft of 1/2-in hose at 2 gal/min lose 20.4 psi.
    assert supply.gun_psi == pytest.approx(psi - 20.4, abs=0.1)


def test_total_gallons_stay_under_1000(demo: Workbook) -> None:
    """Trucks are kept under 1,000 gal in all: common practice, no source; under it the tank vehicle
    rule cannot be met."""
    assert truck_rules()["tank vehicle"].second_figure == 1000
    for truck in demo.trucks.values():
        assert sum(tank.capacity_gal for tank in truck.compartments) < 1000


def test_non_selective_has_its_own_compartment_and_line(demo: Workbook) -> None:
    """A non-selective herbicide is always in its own compartment on its own line: common practice,
    no source."""
    (rule,) = [rule for rule in demo.keep_apart if "non-selective" in rule.a]
    assert (rule.b, rule.scope) in ((ANY_OTHER, Scope.LINE), (ANY_OTHER, Scope.TRUCK))
    for truck in demo.trucks.values():
        for tank in truck.compartments:
            if tank.reserved_for == rule.a:
                on_line = [one for one in truck.compartments if one.line_id == tank.line_id]
                assert on_line == [tank]


def test_the_three_valves_of_a_shared_line_are_set_alike() -> None:
    """Suction, bypass and agitation point at one number, that of the compartment: common practice,
    no source. One position per compartment is all the tables can say."""
    meaning = columns_of("compartments")["position"].meaning
    assert all(word in meaning for word in ("suction", "bypass", "agitation"))
    levels = [Level(str(n), "M", 50.0, 1.0, 0.0, 8.34) for n in (1, 2)]
    # And of two compartments of one mix the pump draws from one number at a time.
    assert fill_gallons(levels, {"M": 40.0}, {}, 0.0, 1e6) == (41.0, 0.0)


def test_every_rule_row_has_a_test_here() -> None:
    text = Path(__file__).read_text(encoding="utf-8").casefold()
    with (HERE / "data" / "check_rules.csv").open(encoding="utf-8", newline="") as file:
        for one in csv.DictReader(file):
            if one["topic"] in ("label limit", "crew fact", "rinsing"):
                assert f'row("{one["id"]}")'.casefold() in text, one["id"]
