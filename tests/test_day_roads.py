"""Places of a workbook on the roads: outside the extract, out of a truck's reach, far from a road;
one graph for all days. Networks are hand-made; distances were worked by hand."""

from __future__ import annotations

import csv
import json
import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from planner.chain import check_with_roads, open_day
from planner.cli.main import main
from planner.day_roads import day_places, open_day_roads
from planner.outputs.local_folder import cache_folder
from planner.problems import WorkbookError
from planner.roads.travel import RoadError
from tests.bad_workbooks import BASE, places
from tests.roads_sketch import Sketch, at

DAY = date(2027, 4, 14)


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def write(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(key for row in rows for key in row)))
        writer.writeheader()
        writer.writerows(rows)


def placed(rows: list[dict[str, str]], points: dict[str, tuple[float, float]], key: str) -> None:
    for row in rows:
        if row[key] in points:
            lat, lon = at(*points[row[key]])
            row |= {"lat": f"{lat:.7f}", "lon": f"{lon:.7f}"}


class Office:
    """The tiny good workbook laid over a hand-made network: a street from the yard at 0 to 8,000
    ft, and a lane northward at 2,000 ft that begins with a bridge."""

    def __init__(self, folder: Path, **bridge: str) -> None:
        self.book = folder / "book"
        shutil.copytree(BASE, self.book)
        sketch = Sketch()
        for name, x, y in (("a", 0, 0), ("m", 2000, 0), ("z", 8000, 0)):
            sketch.node(name, x, y)
        for name, y in (("n", 200), ("e", 5000)):
            sketch.node(name, 2000, y)
        sketch.way("Main Street", "a m z")
        sketch.way("Bridge", "m n", **bridge)
        sketch.way("Creek Lane", "n e")
        sketch.write(folder / "roads.osm")
        (self.book / "planner.toml").write_text('roads = "../roads.osm"\n')
        self.sites = rows_of(self.book / "sites.csv")
        self.homes = rows_of(self.book / "properties.csv")
        self.orders = rows_of(self.book / "orders.csv")
        placed(
            self.sites,
            {row["site"]: (100.0 + 50 * i, 30.0) for i, row in enumerate(self.sites)},
            "site",
        )
        self.move(A=(3000, 30), B=(2030, 4000))

    def move(self, **points: tuple[float, float]) -> None:
        placed(self.homes, points, "property")
        write(self.book / "sites.csv", self.sites)
        write(self.book / "properties.csv", self.homes)
        write(self.book / "orders.csv", self.orders)


def test_good_places_give_nothing(tmp_path):
    reading, notes = check_with_roads(Office(tmp_path).book)
    assert reading.problems == ()
    assert notes == ()


def test_place_outside_the_extract(tmp_path):
    office = Office(tmp_path)
    office.move(B=(2030, 30_000))
    reading, _ = check_with_roads(office.book)
    assert places(reading.problems) == [("properties.csv", 3, "lat", "ROAD-1")]
    # 30,000 ft north, the lane ends at 5,000 ft: 25,000 ft are 4.7 miles.
    assert "4.7 miles" in str(reading.problems[0])
    assert reading.problems[0].cure


def test_yard_outside_the_extract(tmp_path):
    office = Office(tmp_path)
    placed(office.sites, {office.sites[0]["site"]: (0, -20_000)}, "site")
    office.move()
    reading, _ = check_with_roads(office.book)
    assert places(reading.problems) == [("sites.csv", 2, "lat", "ROAD-1")]


def test_place_far_from_its_road_is_a_note(tmp_path):
    office = Office(tmp_path)
    office.move(A=(3000, 1500))
    reading, notes = check_with_roads(office.book)
    assert reading.problems == ()
    (note,) = notes
    # From (3000, 1500) the lane at x = 2000 is 1,000 ft away, the street 1,500 ft.
    assert "row 2: 'A' is 1000 ft" in note
    assert "Creek Lane" in note


def test_bridge_that_keeps_a_truck_out(tmp_path):
    # B lies at the lane 4,000 ft north; a truck that may not cross the bridge stops on the street.
    office = Office(tmp_path, maxweight="1 st")
    reading, _ = check_with_roads(office.book)
    found = [problem for problem in reading.problems if problem.code == "ROAD-2"]
    assert {(p.file, p.row, p.column) for p in found} == {("properties.csv", 3, "lat")}
    assert len(found) == 1  # T1; the other truck is out of service.
    assert "4,000 ft" in found[0].message
    assert "never_trucks" in found[0].cure


def test_truck_that_need_not_go_there_is_no_problem(tmp_path):
    office = Office(tmp_path, maxweight="1 st")
    for row in office.orders:
        if row["property"] == "B":
            row["never_trucks"] = "; ".join(
                row["truck"] for row in rows_of(office.book / "trucks.csv")
            )
    office.move()
    reading, _ = check_with_roads(office.book)
    assert not [problem for problem in reading.problems if problem.code == "ROAD-2"]


def test_check_command_shows_road_problems_and_notes(tmp_path):
    office = Office(tmp_path)
    office.move(A=(3000, 1500), B=(2030, 30_000))
    run = CliRunner().invoke(main, ["check", str(office.book)])
    assert run.exit_code == 1
    assert "[ROAD-1]" in run.output
    assert "Note: properties.csv, row 2" in run.output
    told = json.loads(CliRunner().invoke(main, ["check", str(office.book), "--json"]).output)
    assert len(told["notes"]) == 1
    assert [problem["code"] for problem in told["problems"]] == ["ROAD-1"]


@pytest.mark.parametrize("name", ["none.osm.pbf", "broken.osm.pbf", "roads.shp"])
def test_bad_road_file_is_a_problem_of_planner_toml(tmp_path, name):
    office = Office(tmp_path)
    (tmp_path / "broken.osm.pbf").write_bytes(b"no road file")
    (office.book / "planner.toml").write_text(f'roads = "../{name}"\n')
    reading, _ = check_with_roads(office.book)
    assert places(reading.problems) == [("planner.toml", None, "roads", "ROAD-3")]


def test_without_an_extract_nothing_is_checked(tmp_path):
    office = Office(tmp_path)
    (office.book / "planner.toml").unlink()
    office.move(B=(2030, 30_000))
    assert check_with_roads(office.book)[0].problems == ()


def first_day(office: Office) -> date:
    return date.fromisoformat(next(row["date"] for row in office.orders if row.get("date")))


def test_plan_looks_at_the_days_places_only_and_keeps_one_graph(tmp_path):
    office = Office(tmp_path)
    when = first_day(office)
    lone = dict(office.homes[0]) | {"property": "Z", "customer": "Z", "address": "9 Far Road"}
    office.homes.append(lone)
    office.move(Z=(2030, 30_000))
    day = open_day(office.book, when)
    assert "Z" not in {place.place_id for place in day_places(day)}
    roads = open_day_roads(office.book, day, None)
    for travel in roads.travel_by_truck.values():
        assert "Z" not in travel.place_ids
        assert np.isfinite(travel.minutes).all()
    # A day without any order at B gives the same clip, so the same file in the cache.
    files = sorted((cache_folder() / "roads").glob("*.npz"))
    assert len(files) == 1
    office.orders = [row for row in office.orders if row["property"] != "B"]
    office.move()
    open_day_roads(office.book, open_day(office.book, when), None)
    assert sorted((cache_folder() / "roads").glob("*.npz")) == files


def test_plan_refuses_the_days_bad_places(tmp_path):
    office = Office(tmp_path)
    when = first_day(office)
    office.move(A=(3000, 30_000), B=(2030, 30_000))
    with pytest.raises(WorkbookError) as caught:
        open_day_roads(office.book, open_day(office.book, when), None)
    assert {problem.code for problem in caught.value.problems} == {"ROAD-1"}
    with pytest.raises(RoadError, match=r"does not exist|cannot be read"):
        open_day_roads(office.book, open_day(office.book, when), tmp_path / "no.osm.pbf")


def test_what_the_road_file_leaves_open_is_told(tmp_path):
    timed = {"access:conditional": "no @ (stay > 2 h)"}
    office = Office(tmp_path, maxheight="11'", maxlength="nonsense", **timed)
    reading, notes = check_with_roads(office.book)
    assert not reading.problems
    text = " ".join(notes)
    assert "height_ft is blank for" in text
    assert "1 stretch of road near your places has a limit of height (the least 11 ft)" in text
    assert "1 limit (maxlength=nonsense) cannot be read" in text
    assert "1 limit or closure holds on conditions that the planner does not follow" in text


def test_street_that_nothing_leads_to_is_named_as_such(tmp_path):
    office = Office(tmp_path, motor_vehicle="no")
    reading, notes = check_with_roads(office.book)
    assert not reading.problems
    assert any("the street at 'B' cannot be reached" in note for note in notes)
    assert any("of its roads cannot be reached from the rest" in note for note in notes)
    sketch = Sketch()
    for name, x, y in (("a", 0, 0), ("z", 8000, 0), ("n", 2000, 9000), ("e", 2000, 9500)):
        sketch.node(name, x, y)
    sketch.way("Main Street", "a z")
    sketch.way("Creek Lane", "n e")
    sketch.write(tmp_path / "roads.osm")
    office.move(B=(2030, 9200))
    (problem,) = check_with_roads(office.book)[0].problems
    assert problem.code == "ROAD-1"
    assert "cannot be reached from the other roads" in problem.message
