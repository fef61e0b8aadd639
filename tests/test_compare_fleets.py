"""Fleets of a comparison: tables laid over the workbook, prices, sweeps; problems all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.compare.fleets import Fleet, read_fleets, without_yearly_cost
from planner.compare.model import PRESENT, Difference, Paired, Stat
from planner.compare.money import Running, money_of
from planner.compare.sweeps import SweepError, swept
from planner.problems import WorkbookError
from tests.seasons import edit, fleet_folder, season_folder

PRICES = """working_days = 170
[each_truck]
purchase = 90000
yearly_fixed = 5000
resale = 20000
life_years = 8
[truck.truck-2]
purchase = 60000
sells_for = 15000
"""


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    return season_folder(tmp_path / "office")


def places(error: WorkbookError) -> list[tuple[str, int | None, str | None, str]]:
    return sorted((one.file, one.row, one.column, one.code) for one in error.problems)


def test_the_present_fleet_comes_first_and_another_is_laid_over(
    workbook: Path, tmp_path: Path
) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    _, fleets = read_fleets(workbook, {"one": one})
    assert [fleet.name for fleet in fleets] == [PRESENT, "one"]
    assert list(fleets[1].trucks) == ["truck-1"]
    assert fleets[1].kept_as == {"truck-1": "truck-1"}
    assert fleets[1].words == "1 truck, 3 compartments, 350 gal"


def test_a_folder_named_present_is_the_present_fleet(workbook: Path, tmp_path: Path) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-2",), PRICES.split("[truck")[0])
    _, fleets = read_fleets(workbook, {"present": one})
    assert [fleet.name for fleet in fleets] == [PRESENT]
    assert list(fleets[0].trucks) == ["truck-2"]
    assert fleets[0].prices.working_days == 170


def test_a_truck_with_other_compartments_is_another_truck(workbook: Path, tmp_path: Path) -> None:
    other = fleet_folder(workbook, tmp_path / "other", ("truck-1", "truck-2"))
    edit(other / "compartments.csv", "truck-1,front,200", "truck-1,front,300")
    _, fleets = read_fleets(workbook, {"other": other})
    assert fleets[1].kept_as == {"truck-2": "truck-2"}


def test_problems_of_all_fleets_come_at_once_and_name_the_fleet(
    workbook: Path, tmp_path: Path
) -> None:
    first = fleet_folder(workbook, tmp_path / "a", ("truck-1",))
    (first / "lines.csv").unlink()
    second = fleet_folder(workbook, tmp_path / "b", ("truck-1",), "working_day = 3\n")
    edit(second / "trucks.csv", "14500", "heavy")
    (second / "orders.csv").write_text("order\n", encoding="utf-8")
    edit(workbook / "orders.csv", ",weeds,", ",weds,")
    with pytest.raises(WorkbookError) as caught:
        read_fleets(workbook, {"first": first, "second": second})
    found = places(caught.value)
    assert ("first/lines.csv", None, None, "FLEET-1") in found
    assert ("second/orders.csv", None, None, "FLEET-1") in found
    assert ("second/trucks.csv", 2, "gvwr_lb", "NUM-1") in found
    assert ("second/fleet.toml", None, "working_day", "FLEET-2") in found
    assert sum(file == "orders.csv" for file, *_ in found) == 5, "each problem once, not per fleet"


def test_orders_may_name_trucks_that_another_fleet_lacks(workbook: Path, tmp_path: Path) -> None:
    edit(workbook / "orders.csv", "11,P-1,spring-feed,2027-05-03,,,,,2,,,",
         "11,P-1,spring-feed,2027-05-03,,,,,2,truck-2,,")  # fmt: skip
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    read_fleets(workbook, {"one": one})


def test_prices_of_each_truck_and_of_one(workbook: Path, tmp_path: Path) -> None:
    (workbook / "fleet.toml").write_text(PRICES, encoding="utf-8")
    _, (present,) = read_fleets(workbook, {})
    first, second = (present.prices.by_truck[name] for name in ("truck-1", "truck-2"))
    assert (first.purchase, first.life_years, first.sells_for) == (90000, 8, 0)
    assert (second.purchase, second.yearly_fixed, second.sells_for) == (60000, 5000, 15000)


def test_a_kept_truck_costs_what_it_costs_now_unless_its_fleet_says_otherwise(
    workbook: Path, tmp_path: Path
) -> None:
    """By hand: 5,000 a year of insurance for each of two trucks. A fleet of both and a third, whose
    file tells of the third alone, does not save the 10,000; one without a file keeps 5,000."""
    (workbook / "fleet.toml").write_text(PRICES, encoding="utf-8")
    bare = fleet_folder(workbook, tmp_path / "bare", ("truck-1",))
    told = fleet_folder(
        workbook, tmp_path / "told", ("truck-1", "truck-2"), "[truck.truck-2]\nyearly_fixed = 7\n"
    )
    other = fleet_folder(workbook, tmp_path / "other", ("truck-1", "truck-2"))
    edit(other / "compartments.csv", "truck-1,front,200", "truck-1,front,300")
    new = "[truck.truck-1]\npurchase = 99000\nlife_years = 9\nyearly_fixed = 6000\n"
    (other / "fleet.toml").write_text(new, encoding="utf-8")
    # What is written for each truck is of the bought ones, front 310 here, not of the kept one.
    each = fleet_folder(workbook, tmp_path / "each", ("truck-1", "truck-2"))
    edit(each / "compartments.csv", "truck-1,front,200", "truck-1,front,310")
    new = "[each_truck]\npurchase = 99000\nlife_years = 9\nyearly_fixed = 8000\n"
    (each / "fleet.toml").write_text(new, encoding="utf-8")
    _, fleets = read_fleets(workbook, {"bare": bare, "told": told, "other": other, "each": each})
    fixed = {
        fleet.name: {name: one.yearly_fixed for name, one in fleet.prices.by_truck.items()}
        for fleet in fleets
    }
    assert fixed["bare"] == {"truck-1": 5000}
    assert fixed["told"] == {"truck-1": 5000, "truck-2": 7}
    assert fixed["other"] == {"truck-1": 6000, "truck-2": 5000}
    assert fixed["each"] == {"truck-1": 8000, "truck-2": 5000}
    cost = Stat(500.0, 500.0, 500.0, 500.0, 500.0, "2027-05-03")
    same = Difference(
        "bare", PRESENT, ("2027-05-03",), (), {"cost": Paired(0.0, spread=1.0, tie=True)}
    )
    money = money_of(fleets[1], fleets[0], Running(cost, same))
    assert money.yearly_saving == pytest.approx(5000.0)


@pytest.mark.parametrize(
    ("text", "code", "column"),
    [
        ("purchase = 3", "FLEET-2", "purchase"),
        ("[each_truck]\npurchas = 3", "FLEET-2", "each_truck.purchas"),
        ('[each_truck]\npurchase = "3"', "FLEET-2", "each_truck.purchase"),
        ("[each_truck]\npurchase = -3\nlife_years = 2", "FLEET-2", "each_truck.purchase"),
        ("[each_truck]\npurchase = 3000", "FLEET-2", "truck.truck-1"),
        (
            "[each_truck]\npurchase = 3000\nlife_years = 2\nresale = 4000",
            "FLEET-2",
            "truck.truck-1",
        ),
        ("[truck.truck-9]\nyearly_fixed = 3000", "FLEET-3", "truck-9"),
        ("truck = 3", "FLEET-2", "truck"),
        ("working_days = 400", "FLEET-2", "working_days"),
        ("working_days = true", "FLEET-2", "working_days"),
        ("working_days =", "FLEET-2", None),
    ],
)
def test_bad_prices(workbook: Path, text: str, code: str, column: str | None) -> None:
    (workbook / "fleet.toml").write_text(text, encoding="utf-8")
    with pytest.raises(WorkbookError) as caught:
        read_fleets(workbook, {})
    assert ("fleet.toml", None, column, code) in places(caught.value)


def test_days_and_interest_are_those_of_the_present_fleet(workbook: Path, tmp_path: Path) -> None:
    (workbook / "fleet.toml").write_text(PRICES, encoding="utf-8")
    prices = (
        "working_days = 170\ninterest_percent = 6\n[each_truck]\npurchase = 9\nlife_years = 8\n"
    )
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",), prices)
    edit(one / "compartments.csv", "truck-1,front,200", "truck-1,front,300")
    with pytest.raises(WorkbookError) as caught:
        read_fleets(workbook, {"one": one})
    assert places(caught.value) == [("one/fleet.toml", None, "interest_percent", "FLEET-2")]
    edit(one / "fleet.toml", "interest_percent = 6\n", "")
    _, (present, other) = read_fleets(workbook, {"one": one})
    (note,) = without_yearly_cost(present, [other])
    assert "no yearly_fixed (insurance, registration) for truck-1" in note


@pytest.fixture
def present(workbook: Path) -> Fleet:
    (workbook / "fleet.toml").write_text(PRICES, encoding="utf-8")
    return read_fleets(workbook, {})[1][0]


def test_a_sweep_of_trucks(present: Fleet) -> None:
    one, two, three = swept("trucks = 1..3", present)
    assert [fleet.name for fleet in (one, two, three)] == ["trucks=1", "trucks=2", "trucks=3"]
    assert list(one.trucks) == ["truck-1"]
    assert list(three.trucks) == ["truck-1", "truck-2", "truck-1+1"]
    assert three.kept_as == {"truck-1": "truck-1", "truck-2": "truck-2"}
    assert three.prices.by_truck["truck-1+1"].purchase == 90000
    assert three.trucks["truck-1+1"].compartments == present.trucks["truck-1"].compartments


def test_a_sweep_of_compartments_keeps_the_gallons_and_the_reserved_one(present: Fleet) -> None:
    one, _, three = swept("compartments=1..3", present)
    (tank,) = [row for row in one.trucks["truck-1"].compartments if row.reserved_for is None]
    assert (tank.capacity_gal, tank.line_id, tank.heel_gal) == (320, "main", 2)
    tanks = three.trucks["truck-1"].compartments
    assert [row.capacity_gal for row in tanks if row.reserved_for is None] == [106, 106, 106]
    assert len({row.position for row in tanks}) == len({row.compartment_id for row in tanks}) == 4
    assert [row.reserved_for for row in tanks].count("non-selective") == 1


def test_a_sweep_of_gallons(present: Fleet) -> None:
    half, more = swept("gallons=50%,130%", present)
    assert [row.capacity_gal for row in half.trucks["truck-2"].compartments] == [75, 50]
    assert [row.capacity_gal for row in more.trucks["truck-2"].compartments] == [195, 130]
    assert more.name == "gallons=130%"


@pytest.mark.parametrize(
    "text",
    ["trucks", "trucks=", "trucks=0", "trucks=3..1", "truck=3", "gallons=80", "gallons=80%..90%",
     "compartments=x", "trucks=1..99", "compartments=200", "gallons=1%"],
)  # fmt: skip
def test_sweeps_that_cannot_be(present: Fleet, text: str) -> None:
    with pytest.raises(SweepError):
        swept(text, present)
