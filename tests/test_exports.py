"""The open formats, read back by the reference parsers of the registry."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from datetime import datetime

import geojson
import gpxpy
import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.day.day import Day
from planner.exports.files import NAMESPACE, open_files
from planner.exports.icalendar import LINE_OCTETS, escaped, fold
from planner.exports.rows import StopRow, hours_text
from planner.exports.text import BYTE_ORDER_MARK, csv_text, no_formula, one_line
from planner.plan.model import Plan
from tests.sample_plan import HOSTILE, sample_day, sample_legs, sample_plan


def files_of(day: Day) -> dict[str, str]:
    plan = sample_plan(day)
    return open_files(plan, day, sample_legs(plan))


@pytest.fixture(scope="module")
def day() -> Day:
    return sample_day()


@pytest.fixture(scope="module")
def plan(day: Day) -> Plan:
    return sample_plan(day)


@pytest.fixture(scope="module")
def files(day: Day) -> dict[str, str]:
    return files_of(day)


@pytest.fixture(scope="module")
def hostile_files() -> dict[str, str]:
    return files_of(sample_day(hostile=True))


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix(BYTE_ORDER_MARK))))


def test_names(files: dict[str, str]) -> None:
    assert list(files) == [
        "stops.csv",
        "legs.csv",
        "times.csv",
        "day.geojson",
        "day.ics",
        "truck-T1.gpx",
        "truck-T2.gpx",
    ]


def test_same_plan_same_bytes(day: Day, files: dict[str, str]) -> None:
    assert files_of(day) == files


def test_stops_table(plan: Plan, files: dict[str, str]) -> None:
    rows = table(files["stops.csv"])
    stops = [(truck, stop) for truck in plan.trucks for stop in truck.stops]
    assert len(rows) == len(stops)
    for row, (truck, stop) in zip(rows, stops, strict=True):
        assert (row["truck_id"], int(row["stop"]), row["kind"]) == (
            truck.truck_id,
            stop.seq,
            stop.kind,
        )
        assert float(row["lat"]) == pytest.approx(stop.lat, abs=1e-6)
        assert float(row["lon"]) == pytest.approx(stop.lon, abs=1e-6)
    sprayed = sum(float(row["sprayed_gal"]) for row in rows)
    assert sprayed == pytest.approx(plan.totals.totals.gal, abs=0.5)


def test_legs_table(plan: Plan, files: dict[str, str]) -> None:
    rows = table(files["legs.csv"])
    miles = sum(float(row["drive_miles"]) for row in rows)
    assert miles == pytest.approx(plan.totals.totals.drive_miles, abs=0.2)
    assert any("; " in row["streets"] for row in rows)


def test_lines_end_as_rfc_4180_says(files: dict[str, str]) -> None:
    """RFC 4180 section 2: records end in CRLF (https://www.rfc-editor.org/rfc/rfc4180)."""
    for name in ("stops.csv", "legs.csv"):
        lines = files[name].split("\r\n")
        assert lines[-1] == ""
        assert not any("\n" in line or "\r" in line for line in lines)


FORMULAS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "a;=1+1", "a; -1")
"""The signs of OWASP's page (https://owasp.org/www-community/attacks/CSV_Injection); the last two
start a cell where a spreadsheet parts cells at semicolons."""


@pytest.mark.parametrize("text", FORMULAS)
def test_no_formula_runs(text: str) -> None:
    cell = no_formula(text)
    for piece in cell.split(";"):
        assert piece.strip()[0] not in "=+-@＝＋－＠\t\r"


def test_numbers_stay_numbers(files: dict[str, str]) -> None:
    """A longitude west of Greenwich begins with a minus and must not get an apostrophe."""
    assert all(float(row["lon"]) < 0 for row in table(files["stops.csv"]))
    assert no_formula("12 Oak Street") == "12 Oak Street"


@given(st.text(max_size=60))
def test_any_text_stays_one_cell(text: str) -> None:
    row = StopRow(
        "2027-04-14", text, 1, "visit", text, text, text, 1.0, -2.0, "", "", "", 0.0, text, text,
        1.0, 1.0, text, 0.0, 0.0, text,
    )  # fmt: skip
    (read,) = table(csv_text(StopRow, [row]))
    assert read["name"] == no_formula(text)
    assert read["weight_lb_after"] == "0.0"


def test_geojson_is_valid(plan: Plan, files: dict[str, str]) -> None:
    """The geojson package checks positions, rings and lines as RFC 7946 asks for."""
    read = geojson.loads(files["day.geojson"])
    assert read.is_valid, read.errors()
    kinds = [feature["properties"]["what"] for feature in read["features"]]
    assert kinds.count("stop") == sum(len(truck.stops) for truck in plan.trucks)
    assert kinds.count("held") == len(plan.held)
    assert kinds.count("unserved") == len(plan.unserved)
    stop = plan.trucks[0].stops[1]
    point = next(f for f in read["features"] if f["id"] == "T1/1")["geometry"]["coordinates"]
    # RFC 7946 section 3.1.1: longitude first.
    assert point == [pytest.approx(stop.lon, abs=1e-6), pytest.approx(stop.lat, abs=1e-6)]
    names = [feature["id"] for feature in read["features"]]
    assert len(names) == len(set(names))
    for feature in read["features"]:
        # Section 3.2: these three members, geometry may be null.
        assert {"type", "geometry", "properties"} <= set(feature)


GPX_ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "rte": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"],
    "rtept": ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym",
              "type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid",
              "extensions"],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds",
                 "extensions"],
}  # fmt: skip
"""Order of the elements in the sequences of http://www.topografix.com/GPX/1/1/gpx.xsd (from
memory: the schema is in no package of the registry)."""


def elements(text: str) -> Iterator[ElementTree.Element]:
    return ElementTree.fromstring(text.encode()).iter()


@pytest.mark.parametrize("hostile", [False, True])
def test_gpx_is_read_and_in_order(
    plan: Plan, files: dict[str, str], hostile_files: dict[str, str], hostile: bool
) -> None:
    text = (hostile_files if hostile else files)["truck-T1.gpx"]
    read = gpxpy.parse(text, version="1.1")
    stops = [stop for stop in plan.trucks[0].stops if stop.kind != "lunch"]
    turns = [point for point in read.routes[0].points if point.type == "turn"]
    assert len(turns) == len([key for key in sample_legs(plan) if key[0] == "T1"])
    assert all((point.description or "").startswith("Turn left onto ") for point in turns)
    assert len(read.routes[0].points) == len(stops) + len(turns)
    assert ", on the right" in (read.routes[0].points[2].description or "")
    assert read.routes[0].points[0].latitude == pytest.approx(stops[0].lat, abs=1e-6)
    assert len(read.tracks[0].segments) == len([key for key in sample_legs(plan) if key[0] == "T1"])
    for element in elements(text):
        name = element.tag.removeprefix(f"{{{NAMESPACE}}}")
        assert element.tag.startswith(f"{{{NAMESPACE}}}"), element.tag
        children = [child.tag.removeprefix(f"{{{NAMESPACE}}}") for child in element]
        places = [GPX_ORDER[name].index(child) for child in children]
        assert places == sorted(places), name
    if hostile:
        assert one_line(HOSTILE) in (read.routes[0].points[2].description or "")


def test_calendar_is_read(plan: Plan, files: dict[str, str]) -> None:
    read = icalendar.Calendar.from_ical(files["day.ics"])
    events = read.walk("VEVENT")
    stops = [
        (truck.truck_id, stop)
        for truck in plan.trucks
        for stop in truck.stops
        if stop.kind in {"visit", "refill", "lunch"}
    ]
    assert len(events) == len(stops)
    for event, (truck_id, stop) in zip(events, stops, strict=True):
        begins = event.decoded("DTSTART")
        assert isinstance(begins, datetime)
        assert begins.tzinfo is None
        assert begins.isoformat(timespec="minutes") == f"{plan.date}T{hours_text(stop.begin_min)}"
        assert event.decoded("DTEND") >= begins
        assert str(event["SUMMARY"]).startswith(f"{truck_id} stop {stop.seq}: ")
        assert not event.errors
    assert len({str(event["UID"]) for event in events}) == len(events)


def test_calendar_lines(hostile_files: dict[str, str]) -> None:
    """RFC 5545 section 3.1: CRLF, at most 75 octets (https://www.rfc-editor.org/rfc/rfc5545)."""
    text = hostile_files["day.ics"]
    assert text.endswith("\r\n")
    for line in text.split("\r\n"):
        assert len(line.encode()) <= LINE_OCTETS
        assert "\n" not in line
    event = icalendar.Calendar.from_ical(text).walk("VEVENT")[0]
    assert one_line(HOSTILE) in str(event["DESCRIPTION"])


@given(st.text(max_size=200))
def test_folded_text_reads_back(text: str) -> None:
    event = "BEGIN:VEVENT\r\n" + fold(f"SUMMARY:{escaped(text)}") + "END:VEVENT\r\n"
    assert str(icalendar.Event.from_ical(event)["SUMMARY"]) == one_line(text)


def test_clock_past_midnight() -> None:
    assert [hours_text(minutes) for minutes in (425.4, 1450.0)] == ["07:05", "24:10"]


def test_odd_plans(day: Day) -> None:
    """No truck, no legs: the files are still whole."""
    from dataclasses import replace

    empty = open_files(replace(sample_plan(day), trucks=()), day, {})
    assert len(table(empty["stops.csv"])) == 0
    assert json.loads(empty["day.geojson"])["features"][0]["properties"]["what"] == "held"
    bare = open_files(sample_plan(day), day, {})
    assert geojson.loads(bare["day.geojson"]).is_valid
    assert gpxpy.parse(bare["truck-T1.gpx"]).tracks[0].segments == []
