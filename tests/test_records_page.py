"""A day's records completed and corrected on the page, as `planner record` does it from the sheet;
a comparison started, watched and stopped there."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from planner.cli.main import main
from planner.office.day_records import DayRecords, NotRecorded
from planner.office.journal import Journal
from planner.office.runs import Comparisons
from planner.office.tables import OfficeTables
from planner.pages.records_page import records_page
from planner.phone_day import PhoneDay
from planner.records.current import CORRECTED, SPRAYED
from planner.records.outcome import store_path
from planner.records.sheet import SPRAY
from planner.records.store import Store
from planner.serve.guard import Keys
from planner.serve.later import desks_of
from planner.serve.run import HERE, OfficeSite
from planner.serve.runs import CompareDesk
from tests.phone_walk import DAY, office_with_a_plan
from tests.test_table_pages import ADDRESS, OWN, no_day

WEATHER = {"wind_mph": "4", "wind_from": "SW", "temperature_f": "61"}


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return office_with_a_plan(tmp_path_factory.mktemp("records"))


@pytest.fixture
def book(printed: Path, tmp_path: Path) -> Path:
    shutil.copytree(printed, tmp_path / "office")
    return tmp_path / "office"


@pytest.fixture
def compared(book: Path, tmp_path: Path) -> Comparisons:
    return Comparisons(book, tmp_path)


@pytest.fixture
def page(book: Path, compared: Comparisons, tmp_path: Path) -> Iterator[TestClient]:
    tables = OfficeTables(book, Journal(tmp_path / "tables.sqlite"))
    keys = Keys(b"secret")
    site = OfficeSite(
        no_day,
        tables,
        desks_of(tables, book) | {"compare": lambda hub: CompareDesk(compared, hub)},
        keys,
        "planner-test",
        HERE,
    )
    client = TestClient(site, base_url=ADDRESS)
    assert client.get(f"/open/{keys.new_link()}").status_code == 200
    yield client
    tables.settled()
    site.close()


def written(records: DayRecords, **cells: str) -> dict[str, str]:
    """The first open order as the page sends it."""
    row = next(one for one in records.rows(DAY) if one.step.what == SPRAY and not one.recorded)
    step = row.step
    places = {"truck": row.truck_id, "stop": str(step.stop), "what": step.what}
    return {"key": row.key, **places, "order": step.order_id, "compartment": "", **cells}


def kinds(book: Path) -> list[str]:
    with Store(store_path(book)) as store:
        told = (SPRAYED, CORRECTED)
        return [event.kind for event in store.events(DAY, f"{DAY}~") if event.kind in told]


def test_what_a_row_lacks_is_asked_for_and_nothing_is_half_recorded(book: Path) -> None:
    records = DayRecords(book)
    with pytest.raises(NotRecorded) as error:
        records.record(DAY, [written(records, done="yes", gal="12")])
    assert {(one.key, one.column) for one in error.value.wrong} >= {
        (written(records)["key"], "start"),
        (written(records)["key"], "wind_mph"),
    }
    with pytest.raises(NotRecorded, match="no wind mph"):
        records.record(DAY, [written(records, done="yes")], weather={"wind_mph": "breeze"})
    assert kinds(book) == []
    # Everything as planned first, for a tank gives only what was filled into it.
    done = records.record(DAY, [], as_planned=True, weather=WEATHER)
    assert done.still_open == ()
    rows = [row for row in records.rows(DAY) if row.step.what == SPRAY]
    assert all(row.recorded and row.cells["wind_mph"] == 4 for row in rows)


def test_a_row_with_times_alone_names_what_it_does_not_say(book: Path) -> None:
    """What is blank goes as planned; whether a stop with its times written was done is asked."""
    records = DayRecords(book)
    row = written(records, start="8:30 AM", end="8:50 AM")
    with pytest.raises(NotRecorded) as error:
        records.record(DAY, [row], as_planned=True, weather=WEATHER)
    [told] = error.value.wrong
    assert (told.key, told.column) == (row["key"], "done")
    assert told.words == "Done not written: yes or no."


def test_what_a_row_that_went_as_planned_contradicts_names_its_stop(book: Path) -> None:
    """A first fill of a gallon: the lawn that runs short stands in no row that was written."""
    records = DayRecords(book)
    fill = next(one for one in records.rows(DAY) if one.step.what == "fill")
    step = fill.step
    row = {"truck": fill.truck_id, "stop": str(step.stop), "what": "fill", "order": ""}
    row |= {"key": fill.key, "compartment": step.compartment_id, "done": "yes", "gal": "1"}
    with pytest.raises(NotRecorded) as error:
        records.record(DAY, [row], as_planned=True, weather=WEATHER)
    short = next(one.words for one in error.value.wrong if "were sprayed, and" in one.words)
    orders = {one.step.order_id for one in records.rows(DAY) if one.step.mix_id == step.mix_id}
    assert short.split(": ")[0] in {f"{DAY} order {name}" for name in orders if name}
    with pytest.raises(NotRecorded) as error:
        records.record(DAY, [row | {"gal": "many"}], as_planned=True, weather=WEATHER)
    [told] = error.value.wrong
    assert (told.key, told.truck) == (fill.key, fill.truck_id)


def test_a_cell_that_cannot_be_read_is_told_with_what_was_found(book: Path) -> None:
    """Two wrong times in one row, and the office sees which is which."""
    records = DayRecords(book)
    with pytest.raises(NotRecorded) as error:
        records.record(DAY, [written(records, done="yes", gal="12", start="25:00", end="1:5 pm")])
    told = {one.column: one.words for one in error.value.wrong}
    for column, found in (("start", "25:00"), ("end", "1:5 pm")):
        words = f"This is not a time of day (found '{found}'). Write it like 8:30 AM or 16:30."
        assert told[column] == words


def test_a_record_is_corrected_with_a_reason_as_the_command_does(
    book: Path, page: TestClient
) -> None:
    records = DayRecords(book)
    row = written(records, note="gate was open") | {"done": "no"}
    records.record(DAY, [row])
    fixed = row | {"note": "dog in the yard"}
    body = {"date": DAY, "rows": [fixed], "weather": {}, "correct": True}
    answer = page.post("/records/save", json=body, headers=OWN)
    assert answer.status_code == 422
    assert answer.json()["wrong"][0]["column"] == "why"
    answer = page.post("/records/save", json=body | {"why": "misheard"}, headers=OWN)
    assert (answer.status_code, answer.json()["say"][:10]) == (200, "1 recorded")
    assert kinds(book).count(CORRECTED) == 1
    assert "dog in the yard" in page.get(f"/records?date={DAY}&truck={row['truck']}").text
    twice = page.post("/records/save", json=body | {"correct": False}, headers=OWN)
    assert twice.status_code == 422
    assert page.post("/records/save", json={"date": DAY, "rows": 7}, headers=OWN).status_code == 400


def test_what_a_crew_wrote_stands_in_the_fields_with_what_it_lacks(
    book: Path, page: TestClient
) -> None:
    phone = PhoneDay(book, DAY)
    row = written(DayRecords(book))
    tick = {
        "id": "0123456789abcdef",
        "at": f"{DAY}T12:00:00Z",
        "plan": "abcd",
        "truck": row["truck"],
        "what": "spray",
        "stop": int(row["stop"]),
        "order": row["order"],
        "cells": {"gal": 11.5, "done": True},
    }
    assert phone.exchange(row["truck"], {"ticks": [tick]})["kept"] == [tick["id"]]
    text = page.get(f"/records?date={DAY}&truck={row['truck']}").text
    assert 'value="11.5"' in text
    assert "written by a crew and not whole" in text
    assert "Start not written." in text
    shown = CliRunner().invoke(main, ["days", str(book), "--date", DAY]).output
    assert "waiting   1 row written on a phone and not whole" in shown
    assert page.get("/records?date=never").status_code == 200


def test_exports_are_those_of_the_command(book: Path, page: TestClient) -> None:
    DayRecords(book).record(DAY, [], as_planned=True, weather=WEATHER)
    for what, more in (("applications", []), ("sums", ["--sums"]), ("times", ["--times"])):
        told = CliRunner().invoke(main, ["export", str(book), "--year", DAY[:4], *more])
        answer = page.get(f"/records/export?what={what}&period={DAY[:4]}")
        assert answer.text.removeprefix("\ufeff").splitlines() == told.output.splitlines()
        assert "attachment" in answer.headers["content-disposition"]
        assert len(answer.text.splitlines()) > 1
    shown = page.get(f"/records?date={DAY}").text
    # As papers and fields write it, not as the CSV does.
    assert re.search(r"reports \d+:\d\d [AP]M, released \d+:\d\d [AP]M, .* h on duty", shown)
    assert page.get("/records/export?what=all&period=2027").status_code == 404


def test_a_comparison_is_started_watched_and_stopped(
    book: Path, compared: Comparisons, page: TestClient, tmp_path: Path
) -> None:
    heard = []
    compared.run.listeners.append(heard.append)
    wrong = {"name": "../x", "fleets": [], "sweeps": ["trucks=1..2"], "from": "", "to": ""}
    for body in (wrong, wrong | {"name": "x", "sweeps": ["trucks=$(x)"]}):
        assert page.post("/compare/start", json=body, headers=OWN).status_code == 422
    good = wrong | {"name": "one", "sweeps": ["gallons=90%"]}
    assert page.post("/compare/start", json=good, headers=OWN).json()["running"] is True
    assert page.post("/compare/start", json=good, headers=OWN).status_code == 422
    assert page.post("/compare/stop", json={}, headers=OWN).status_code == 200
    compared.run.close()
    assert not (tmp_path / "compared-one" / "index.html").exists()
    asked = {"workbook": str(book.resolve())}
    (tmp_path / ".compared-one-asked.json").write_text(json.dumps(asked))
    (tmp_path / ".compared-theirs-asked.json").write_text('{"workbook": "/elsewhere"}')
    again = Comparisons(book, tmp_path)
    assert again.unfinished() == ["one"], "listed by a page that was started anew"
    assert 'data-unfinished="one"' in page.get("/compare").text
    on = {"name": "theirs", "unfinished": True}
    assert page.post("/compare/start", json=on, headers=OWN).status_code == 422
    on = {"name": "one", "unfinished": True}
    assert page.post("/compare/start", json=on, headers=OWN).json()["running"] is True
    assert compared.unfinished() == []
    compared.run.close()
    assert page.get("/compare/result/one/").status_code == 404
    (tmp_path / "compared-done").mkdir()
    (tmp_path / "compared-done" / "index.html").write_text("<p>the result</p>")
    assert "done" in page.get("/compare").text
    assert "the result" in page.get("/compare/result/done/").text
    (tmp_path / "compared-done" / "days.csv").write_text("day,cost\n")
    figures = page.get("/compare/result/done/days.csv")
    assert (figures.text, figures.status_code) == ("day,cost\n", 200)
    assert "attachment" in figures.headers["content-disposition"]
    for none in ("one/days.csv", "done/none.csv", "done/..%2Foffice%2Forders.csv", "..%2Fx/a.csv"):
        assert page.get(f"/compare/result/{none}").status_code == 404
    assert "sandbox" in page.get("/compare/result/done/").headers["content-security-policy"]
    assert page.get("/compare/result/..%2Foffice/").status_code == 404


def test_a_lawn_in_parts_is_one_open_order_in_the_list_of_days(book: Path) -> None:
    records = DayRecords(book)
    (day, *_) = records.days()
    parts = replace(day, open_orders=("1001 part 1 of 2", "1001 part 2 of 2"))
    assert "<b>1 order open</b>" in records_page("office", [parts], "", "", (), {})
    whole = replace(day, open_orders=("1001", "1002"))
    assert "<b>2 orders open</b>" in records_page("office", [whole], "", "", (), {})
