"""Hose volume, friction and gun supply against published figures."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from planner.mixing.hydraulics import (
    friction_psi,
    gun_supply,
)
from tests import days
from tests.trade_formulas import hose_flush_min, hose_lawn_ft2, open_end_gal_per_min

SHARED_CHECKS = Path(__file__).parents[2] / "shared" / "check-values" / "check-values.csv"

IOWA_STATE = (
    # psi at the inlet, inside diameter in: gal/min printed for 100 ft of hose. Iowa State
    # Extension, https://yardandgarden.extension.iastate.edu/article/1996/6-28-1996/hosecare.html
    (20, 0.5, 4),
    (20, 0.75, 12),
    (20, 1.0, 26),
    (30, 0.5, 5),
    (30, 0.625, 9),
    (30, 0.75, 15),
    (30, 1.0, 32),
    (40, 0.625, 11),
    (40, 0.75, 18),
    (40, 1.0, 38),
    (50, 0.5, 7),
    (50, 0.75, 20),
    (60, 0.5, 8),
    (60, 0.625, 14),
    (60, 0.75, 22),
    (60, 1.0, 47),
)


@pytest.mark.parametrize(("inlet_psi", "inside_in", "printed"), IOWA_STATE)
def test_open_end_flow_is_iowa_states_table(
    inlet_psi: float, inside_in: float, printed: int
) -> None:
    assert round(open_end_gal_per_min(inlet_psi, inside_in, 100.0)) == printed


@pytest.mark.parametrize(
    ("flow", "inside_in", "hose_ft", "psi", "tolerance"),
    [
        # H08, https://engineeringtoolbox.com/water-pressure-loss-hose-d_1525.html: 1/2 in at
        # 2 gal/min about 5 psi per 100 ft, 4 psi over 80 ft.
        (2.0, 0.5, 80.0, 4.0, 0.2),
        # H09, Hazen-Williams with C = 140; EPANET's engine gave 10.74, Darcy smooth pipe 10.18.
        (3.0, 0.5, 100.0, 10.802, 0.05),
        # H10 and H11, worked by hand from the same law.
        (2.0, 0.5, 300.0, 15.31, 0.05),
        (3.0, 0.5, 400.0, 43.21, 0.1),
    ],
)
def test_friction(
    flow: float, inside_in: float, hose_ft: float, psi: float, tolerance: float
) -> None:
    assert friction_psi(flow, inside_in, hose_ft) == pytest.approx(psi, abs=tolerance)


@pytest.mark.parametrize(
    ("inside_in", "hose_ft", "gal", "tolerance"),
    [
        # H01, pi/4 x d^2 x L / 231: worked by hand.
        (0.375, 100.0, 0.57375, 1e-4),
        (0.5, 100.0, 1.02, 1e-4),
        (0.625, 100.0, 1.59375, 1e-4),
        (0.75, 100.0, 2.29499, 1e-4),
        (1.0, 100.0, 4.07999, 1e-4),
        # H02 to H05, NWCG Table 3.1 (the last is printed 1.2; 1.147 exactly):
        # https://www.nwcg.gov/course/ffm/squirt-water/table-31-water-handling-unit-estimations
        (1.0, 100.0, 4.1, 0.05),
        (1.5, 100.0, 9.2, 0.05),
        (0.625, 50.0, 0.8, 0.05),
        (0.75, 50.0, 1.2, 0.06),
        # Domain practice: 300 ft of 1/2 in; worked by hand.
        (0.5, 300.0, 3.06, 0.001),
    ],
)
def test_hose_volume(inside_in: float, hose_ft: float, gal: float, tolerance: float) -> None:
    line = days.line("A", hose_ft=hose_ft, hose_inside_diameter_in=inside_in)
    assert line.hose_gal == pytest.approx(gal, abs=tolerance)


def test_flush_time_and_lawn_of_an_unflushed_hose() -> None:
    # Z10: 3.06 gal / 2 gal/min = 91.8 s. H06 and Z11: 3.06 gal at 2 gal per 1,000 ft2 = 1,530 ft2.
    # Worked by hand.
    line = days.line("A")
    assert hose_flush_min(line) * 60 == pytest.approx(91.8, abs=1)
    assert hose_lawn_ft2(line, 2.0) == pytest.approx(1530, abs=5)


def test_a_gun_that_is_fed() -> None:
    # By hand: 10 gal/min x 70 % = 7 left for a 2 gal/min gun; 200 - 15.3 = 184.7 psi.
    supply = gun_supply(days.line("A"))
    assert supply.flow_left_gal_per_min == pytest.approx(7.0)
    assert supply.flow_ok
    assert supply.gun_psi == pytest.approx(184.7, abs=0.1)
    assert supply.warnings == ()
    assert supply.text == "Hose loses about 15 psi; about 185 psi left at the gun."


def test_a_gun_that_starves_is_warned_of() -> None:
    # By hand: 5 x 70 % = 3.5 < 4; 4 gal/min in 400 ft of 3/8 in loses far more than 60 psi.
    supply = gun_supply(
        days.line(
            "A",
            hose_ft=400.0,
            hose_inside_diameter_in=0.375,
            gun_gal_per_min=4.0,
            pump_gal_per_min=5.0,
            pump_psi=60.0,
        )
    )
    assert not supply.flow_ok
    assert len(supply.warnings) == 2
    assert "leaves 3.5 after agitation" in supply.warnings[0]
    assert "400 ft of 3/8 in hose" in supply.warnings[1]


def test_unknown_pump_says_only_what_is_known() -> None:
    supply = gun_supply(days.line("A", pump_gal_per_min=None, pump_psi=None))
    assert (supply.flow_ok, supply.gun_psi, supply.warnings) == (None, None, ())
    assert supply.text == "Hose loses about 15 psi between pump and gun."


def test_every_friction_row_of_the_collected_check_values_is_here() -> None:
    if not SHARED_CHECKS.exists():
        pytest.skip("the collection of check values is not beside this checkout")
    with SHARED_CHECKS.open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["topic"] == "hose friction"]
    table = {f"H12-{psi}-{inside_in:g}" for psi, inside_in, _ in IOWA_STATE}
    assert {row["id"] for row in rows} == table | {"H08", "H09", "H10", "H11"}
    for row in rows:
        if row["id"].startswith("H12-"):
            _, psi, inside_in = row["id"].split("-")
            flow = open_end_gal_per_min(float(psi), float(inside_in), 100.0)
            assert flow == pytest.approx(float(row["expected"]), abs=0.005)
