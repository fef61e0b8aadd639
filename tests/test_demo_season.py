"""The demo season: reads clean with each of its fleets, is what its script writes, and is a spring
that a branch could have had.

Days between and applications a year are counted here from the CSV files alone, beside the products
table's own columns; published tiers are named with their section.
"""

from __future__ import annotations

import csv
import datetime as dt
import shutil
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

from planner import chain
from planner.compare.days import season_of_orders
from planner.day.day import Workbook
from planner.routing.problem import Effort, SolveOptions

REPOSITORY = Path(__file__).resolve().parent.parent
FOLDER = REPOSITORY / "demo_data" / "season"
EXTRACT = REPOSITORY / "maps" / "alder-mills.osm.pbf"
FLEETS = ("present", "four-large", "six-small")
MOST_BYTES = 2_000_000


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def with_fleet(folder: Path, fleet: str) -> Path:
    """The season's workbook with a fleet's tables in the place of its own."""
    book = folder / fleet
    shutil.copytree(FOLDER, book, ignore=shutil.ignore_patterns("fleets", "planner.toml"))
    for table in (FOLDER / "fleets" / fleet).glob("*.csv"):
        shutil.copy2(table, book)
    return book


@pytest.fixture(scope="module", params=FLEETS)
def book(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Workbook:
    reading = chain.check_workbook(with_fleet(tmp_path_factory.mktemp("season"), request.param))
    assert [str(problem) for problem in reading.problems] == []
    assert reading.workbook is not None
    return reading.workbook


def test_script_writes_the_same_bytes_again(tmp_path: Path) -> None:
    script = REPOSITORY / "demo_data" / "make_season.py"
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True, capture_output=True)
    assert files(tmp_path) == files(FOLDER)


def test_files_are_small() -> None:
    assert sum(len(content) for content in files(FOLDER).values()) < MOST_BYTES


def test_reads_clean_on_its_roads() -> None:
    reading, notes = chain.check_with_roads(FOLDER)
    assert [str(problem) for problem in reading.problems] == []
    assert notes == ()


def test_twenty_working_days_of_about_eighty_orders() -> None:
    per_day = Counter(row["date"] for row in rows("orders.csv"))
    assert len(per_day) == 20
    assert all(dt.date.fromisoformat(day).weekday() < 5 for day in per_day)
    assert all(65 <= count <= 95 for count in per_day.values())
    assert 75 <= sum(per_day.values()) / 20 <= 85


def test_rounds_change_with_the_spring() -> None:
    """Barrier first, insects and disease last: common practice, no source."""
    by_mix: dict[str, list[str]] = defaultdict(list)
    for row in rows("orders.csv"):
        by_mix[row["mix"]].append(row["date"])
    assert set(by_mix) == {row["mix"] for row in rows("mixes.csv")}
    assert max(by_mix["PRE"]) < "2027-04-20"
    assert min(by_mix["INSECT"]) > "2027-05-01"
    assert min(by_mix["DISEASE"]) > "2027-05-01"
    assert min(by_mix["BROAD"]) > "2027-04-01"


def test_days_between_and_times_a_year_are_kept() -> None:
    labels = {row["product"]: row for row in rows("products.csv")}
    products = defaultdict(list)
    for row in rows("mix_products.csv"):
        products[row["mix"]].append(row["product"])
    done: dict[tuple[str, str], list[dt.date]] = defaultdict(list)
    for row in rows("orders.csv"):
        for product in products[row["mix"]]:
            # A gravel edge is not the lawn: the non-selective mix has its own places.
            place = row["property"] + (" edge" if row["mix"] == "TOTAL" else "")
            done[place, product].append(dt.date.fromisoformat(row["date"]))
    for (_, product), days in done.items():
        days.sort()
        between = labels[product]["least_days_between"]
        most = labels[product]["most_per_year"]
        if between:
            assert all((later - earlier).days >= int(between) for earlier, later in pairwise(days))
        assert not most or len(days) <= int(most)


def test_nobody_is_tied_to_a_truck_that_a_fleet_may_not_have() -> None:
    assert all(not row["only_trucks"] and not row["never_trucks"] for row in rows("orders.csv"))


def test_workbook_has_the_present_fleet() -> None:
    for name in ("trucks.csv", "lines.csv", "compartments.csv"):
        assert rows(name) == rows(f"fleets/present/{name}")


def test_each_day_begins_clean(book: Workbook) -> None:
    compartments = [c for truck in book.trucks.values() for c in truck.compartments]
    assert all(c.last_mix is None and c.leftover_gal == 0 for c in compartments)


def test_fleets_lie_about_the_published_tiers() -> None:
    """10,001 lb: 49 CFR 390.5; 26,001 lb and 1,000 gal: 49 CFR 383.91(a)(2), 383.5."""
    ratings = {
        fleet: [float(row["gvwr_lb"]) for row in rows(f"fleets/{fleet}/trucks.csv")]
        for fleet in FLEETS
    }
    assert [len(ratings[fleet]) for fleet in FLEETS] == [5, 4, 6]
    assert max(ratings["six-small"]) < 10_001
    assert sorted(rating >= 26_001 for rating in ratings["four-large"]) == [False] * 3 + [True]
    assert max(ratings["present"]) < 26_001
    assert sum(ratings["four-large"]) / 4 > sum(ratings["present"]) / 5
    large_gal: Counter[str] = Counter()
    for row in rows("fleets/four-large/compartments.csv"):
        if float(row["capacity_gal"]) > 119:
            large_gal[row["truck"]] += float(row["capacity_gal"])
    assert [truck for truck, gal in large_gal.items() if gal >= 1_000] == ["L1"]


def test_one_large_fleet_truck_is_the_present_one() -> None:
    """The same in every cell but its driver's, so that a comparison keeps it."""
    for name in ("lines.csv", "compartments.csv"):
        own = [row for row in rows(f"fleets/four-large/{name}") if row["truck"] == "T1"]
        assert own == [row for row in rows(name) if row["truck"] == "T1"]
    weights = ("empty_weight_lb", "gvwr_lb", "height_ft")
    large, present = (
        next(row for row in rows(name) if row["truck"] == "T1")
        for name in ("fleets/four-large/trucks.csv", "trucks.csv")
    )
    assert [large[key] for key in weights] == [present[key] for key in weights]


@pytest.mark.parametrize("fleet", FLEETS)
def test_every_truck_has_its_price(fleet: str) -> None:
    prices = tomllib.loads((FOLDER / "fleets" / fleet / "fleet.toml").read_text("utf-8"))
    trucks = [row["truck"] for row in rows(f"fleets/{fleet}/trucks.csv")]
    each = prices.get("each_truck", {})
    for truck in trucks:
        own = {**each, **prices.get("truck", {}).get(truck, {})}
        assert own["purchase"] > own["resale"] > 0
        assert own["life_years"] >= 5
    assert set(prices.get("truck", {})) <= set(trucks)
    assert prices["working_days"] == 200


def test_what_no_small_truck_reaches(book: Workbook) -> None:
    longest_ft = max(line.hose_ft for truck in book.trucks.values() for line in truck.lines)
    out_of_reach = [p for p in book.properties.values() if p.hose_run_ft > longest_ft]
    assert len(out_of_reach) == (2 if "C1" in book.trucks else 0)


@pytest.mark.parametrize("day", ["2027-03-25", "2027-04-13", "2027-05-07"])
def test_present_fleet_serves_a_day_even_by_the_plain_yardstick(day: str) -> None:
    """All but one order in fifty, with an engine that does not search."""
    when = dt.date.fromisoformat(day)
    # Alone, as a comparison plans it: without what earlier days left open.
    (opened,) = season_of_orders(chain.checked_workbook(FOLDER), when, when).days
    roads = chain.open_day_roads(FOLDER, opened, EXTRACT)
    planned = chain.plan_day(opened, roads, SolveOptions(Effort(count=1), engine="nearest-fit"))
    assert planned.violations == ()
    assert not planned.plan.held
    assert len(planned.plan.unserved) <= len(opened.orders) / 50
