"""Truck thresholds against published cases; sources in planner/rules/trucks.csv and beside them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.compliance.thresholds import (
    ADVISER_TEXT,
    is_commercial_motor_vehicle,
    is_tank_vehicle,
    needs_license_group_b,
    thresholds,
    weight_class,
)
from planner.rules.data import truck_rules
from planner.units import convert
from tests import days
from tests.trade_formulas import percent_by_volume


def test_tank_vehicle_cases() -> None:
    # D01 to D03, 49 CFR 383.5 as published in 76 FR 26854 (9 May 2011):
    # http://www.weldingandgasestoday.org/index.php/2012/03/tank-vehicle-definition-under-scrutiny/
    assert is_tank_vehicle([400, 400, 400], 26_001)
    assert not is_tank_vehicle([100] * 12, 26_001)
    assert not is_tank_vehicle([400, 400, 400], 19_500)
    # Our own edges: a tank of 119 gal does not count, 999 gal are too few.
    assert not is_tank_vehicle([119] * 10, 30_000)
    assert not is_tank_vehicle([499, 500], 30_000)
    assert is_tank_vehicle([500, 500, 60], 30_000)


def test_license_and_commercial_vehicle_by_weight() -> None:
    # D04, https://ecfr.io/Title-49/Section-383.91
    assert needs_license_group_b(26_001)
    assert not needs_license_group_b(26_000)
    # D05 stands in the table: a sprayer truck with a trailer is not planned here.
    group_a = truck_rules()["license group A"]
    assert (group_a.figure, group_a.second_figure) == (26_001, 10_000)
    # D06 and D07, 49 CFR 390.5: rating 9,000 lb, weighing 10,001 lb.
    assert is_commercial_motor_vehicle(max(9_000, 10_001))
    assert not is_commercial_motor_vehicle(10_000)


@pytest.mark.parametrize(
    ("gvwr_lb", "number"),
    [
        (6000, 1),
        (6001, 2),
        (10_001, 3),
        (14_000, 3),
        (16_000, 4),
        (19_500, 5),
        (26_000, 6),
        (26_001, 7),
        (33_000, 7),
        (33_001, 8),
    ],
)
def test_weight_classes(gvwr_lb: float, number: int) -> None:
    # D08, FHWA classes.
    assert weight_class(gvwr_lb) == number


def test_short_haul_radius() -> None:
    # D12, guide to 49 CFR 395.1(e): 172.6 statute miles.
    radius = truck_rules()["short haul"].figure
    assert radius is not None
    # 1,852 m exactly (the international nautical mile) over the international mile.
    assert radius * 1852 / 1609.344 == pytest.approx(172.617, abs=0.05)


def test_mix_strength_against_two_percent() -> None:
    # D17 and D18, worked by hand: 1.5 fl oz and 3.0 fl oz in a gallon.
    thin, rich = (percent_by_volume(convert(oz, "fl oz", "gal"), 1) for oz in (1.5, 3.0))
    assert (thin, rich) == pytest.approx((1.1719, 2.3438), abs=1e-3)
    most = truck_rules()["materials of trade, packages"].second_figure
    assert most is not None
    assert thin <= most < rich


def test_water_room() -> None:
    # D19, worked by hand: (19,500 - 11,200 - 400 - 500) / 8.34.
    truck = days.truck("T", (days.line("A"),), (), gvwr_lb=19_500.0, empty_weight_lb=12_100.0)
    assert truck.payload_lb / 8.34 == pytest.approx(887.3, abs=1)


def test_air_gap() -> None:
    # D20, Ohio Adm. Code 901:5-11-01(A), http://codes.ohio.gov/oac/901:5-11
    assert truck_rules()["backflow air gap"].figure == 2


def test_what_an_owner_reads() -> None:
    truck = days.truck(
        "T",
        (days.line("A"),),
        tuple(days.compartment(str(n), gal, "A", n) for n, gal in enumerate((400.0, 420.0, 300.0))),
        gvwr_lb=19_500.0,
        empty_weight_lb=9_000.0,
    )
    found = {row.rule_id: row for row in thresholds(truck)}
    assert found["weight class"].text == "Rated 19,500 lb: class 5"
    assert found["commercial motor vehicle"].reached
    assert not found["license group B"].reached
    assert found["tank vehicle"].line == (
        "3 tanks over 119 gal hold 1,120 gal together, against 1,000, but under 26,001 lb: "
        "no tank endorsement (49 CFR 383.5 and 383.91)"
    )
    assert found["materials of trade, packages"].reached
    heavy = {row.rule_id: row for row in thresholds(replace(truck, gvwr_lb=26_001.0))}
    assert heavy["license group B"].text == (
        "26,001 lb (rating or actual, the greater) against 26,001 lb: commercial driver's license, "
        "group B"
    )
    assert heavy["tank vehicle"].reached
    assert "adviser decides" in ADVISER_TEXT
