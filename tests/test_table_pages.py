"""The tables as pages: written into the files and nothing else, checked again, taken back, and the
site that begins with them while no day can be opened. 200 edits: `python -m tests.table_edits`."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from planner.chain import check_with_roads, check_workbook
from planner.cli.main import main
from planner.kept_home import calendar_path
from planner.office.changes import Refused
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.opening import NothingDue, open_office
from planner.office.tables import OfficeTables, TablesStale
from planner.pages.tables_page import TablesView, tables_page
from planner.problems import WorkbookError
from planner.serve.guard import Keys
from planner.serve.later import desks_of
from planner.serve.run import HERE, OfficeSite
from tests.bad_workbooks import BAD, BASE, merged
from tests.table_edits import csv_faults, excel_book, xlsx_faults

ADDRESS = "http://127.0.0.1"
OWN = {"origin": ADDRESS}
DAY = date(2027, 4, 14)


def opened(book: Path, folder: Path) -> OfficeTables:
    return OfficeTables(
        book, Journal(folder / "tables.sqlite"), lambda path: (check_workbook(path), ())
    )


@pytest.fixture
def book(tmp_path: Path) -> Path:
    shutil.copytree(BASE, tmp_path / "book")
    return tmp_path / "book"


@pytest.fixture
def tables(book: Path, tmp_path: Path) -> Iterator[OfficeTables]:
    one = opened(book, tmp_path)
    yield one
    one.settled()
    one.close()


def test_an_edit_leaves_every_other_byte_cell_look_and_formula(tmp_path: Path) -> None:
    assert csv_faults(tmp_path, 25) == []
    assert xlsx_faults(tmp_path, 8) == []


def test_a_cell_is_written_checked_again_and_taken_back_also_after_a_restart(
    tables: OfficeTables, book: Path, tmp_path: Path
) -> None:
    before = {file.name: file.read_bytes() for file in book.iterdir()}
    state = tables.settled()
    assert (state.problems, bool(state.sound)) == ((), True)
    index = state.headers["orders"].index["date"]
    was = state.text("orders", 2, index)
    tables.write(state.reading, "orders", {(2, index): (was, "someday")})
    found = tables.settled()
    assert [(one.row, one.column) for one in found.problems] == [(2, "date")]
    assert found.sound == ""
    tables.add_row(state.reading, "keep_apart", {"a": "PRE", "b": "GREEN"})
    assert "row 4 added" in tables.settled().undo
    cells = {(2, at): (state.text("history", 2, at), "") for at in (0, 1)}
    assert tables.write(state.reading, "history", cells).undo == "history.csv, row 2 cleared"
    tables.close()
    again = opened(book, tmp_path)
    for _ in range(3):
        again.undo()
    assert {file.name: file.read_bytes() for file in book.iterdir()} == before
    assert again.settled().problems == ()
    again.undo(redo=True)
    assert again.state.text("orders", 2, index) == "someday"
    again.undo()
    with pytest.raises(Refused, match="Nothing to undo"):
        again.undo()
    again.close()


def test_two_people_never_lose_what_the_other_wrote(tables: OfficeTables, book: Path) -> None:
    state = tables.settled()
    one, other = (state.headers["properties"].index[name] for name in ("customer", "address"))
    seen = [state.text("properties", 2, index) for index in (one, other)]
    tables.write(state.reading, "properties", {(2, one): (seen[0], "D. Dogwood")})
    tables.write(state.reading, "properties", {(2, other): (seen[1], "9 Elm St")})
    with pytest.raises(TablesStale, match=r"it is now D\. Dogwood"):
        tables.write(state.reading, "properties", {(2, one): (seen[0], "B. Birch")})
    file = book / "properties.csv"
    file.write_text(file.read_text().replace("9 Elm St", "10 Elm St"))
    with pytest.raises(TablesStale, match="another program"):
        tables.write(state.reading, "properties", {(2, one): ("D. Dogwood", "C. Cedar")})
    assert tables.state.text("properties", 2, other) == "10 Elm St"
    with pytest.raises(Refused, match="was changed since"):
        tables.undo()
    lock = book / ".~lock.properties.csv#"
    lock.touch()
    reading = tables.state.reading
    with pytest.raises(Refused, match="is open in a spreadsheet program"):
        tables.write(reading, "properties", {(2, one): ("D. Dogwood", "C. Cedar")})
    assert "C. Cedar" not in file.read_text()
    lock.unlink()


def test_an_excel_workbook_is_edited_as_the_folder_is(tmp_path: Path) -> None:
    file = tmp_path / "spring.xlsx"
    excel_book(file, BASE)
    tables = opened(file, tmp_path)
    state = tables.settled()
    index = state.headers["mixes"].index["name"]
    was = state.text("mixes", 3, index)
    tables.write(state.reading, "mixes", {(3, index): (was, "Other name")})
    last = max(number for number, _ in state.sheets["mixes"].rows)
    tables.add_row(state.reading, "mixes", {"mix": "X", "name": "New"})
    assert tables.state.text("mixes", last + 1, index) == "New"
    tables.undo()
    assert max(number for number, _ in tables.state.sheets["mixes"].rows) == last
    tables.undo()
    assert tables.settled().text("mixes", 3, index) == was
    tables.close()


def test_dates_and_percentages_of_excel_stay_numbers(tmp_path: Path) -> None:
    file = tmp_path / "spring.xlsx"
    excel_book(file, BASE)
    book = openpyxl.load_workbook(file)
    header = [cell.value for cell in book["orders"][1]]
    where = {"order": "General", "date": '[$-409]d"-"mmm', "area_ft2": "0%", "priority": "General"}
    place = {name: header.index(name) for name in where}
    for (name, code), value in zip(where.items(), (77, datetime(2027, 4, 14), 0.5, 2), strict=True):
        cell = book["orders"].cell(2, place[name] + 1)
        cell.value, cell.number_format = value, code
    book.save(file)
    tables = opened(file, tmp_path)
    state = tables.settled()
    typed = {
        "order": ("77", "78"),
        "date": ("2027-04-14", "2027-05-01"),
        "area_ft2": ("50%", "35"),
        "priority": ("2", "1.0"),
    }
    tables.write(
        state.reading, "orders", {(2, place[name]): cells for name, cells in typed.items()}
    )

    def kept() -> list[object]:
        sheet = openpyxl.load_workbook(file)["orders"]
        return [sheet.cell(2, at + 1).value for at in place.values()]

    assert kept() == [78, datetime(2027, 5, 1), 0.35, 1]
    tables.undo()
    assert kept() == [77, datetime(2027, 4, 14), 0.5, 2]
    tables.close()


CURED = (
    "CHOICE-1-kind-of-site",
    "CHOICE-2-yes-or-no",
    "DATE-1-not-a-date",
    "REF-1-dangling",
    "PLACE-2-swapped",
    "PLACE-5-minus-forgotten",
)


@pytest.mark.parametrize("name", CURED)
def test_a_cure_that_is_offered_cures(name: str, tmp_path: Path) -> None:
    book = merged(BAD / name, tmp_path)
    tables = opened(book, tmp_path)
    begin = tables.settled()
    client = page_of(tables, book)
    for _ in range(len(begin.problems)):
        now = tables.settled()
        table = next(t for t, sheet in now.sheets.items() if sheet.name == now.problems[0].file)
        text = tables_page(now, TablesView(table))
        offers = text.split("data-cells='")[1:] or text.split('data-cells="')[1:]
        if not offers:
            break
        cells = offers[0].split('"')[0].replace("&#34;", '"')

        answer = changed(client, now.reading, kind="cells", table=table, cells=json.loads(cells))
        assert answer.status_code == 200
    assert len(tables.settled().problems) < len(begin.problems)
    tables.close()


def page_of(tables: OfficeTables, book: Path, day: Any = None) -> TestClient:
    """A browser whose link was opened."""
    keys = Keys(b"secret")
    site = OfficeSite(day or no_day, tables, desks_of(tables, book), keys, "planner-test", HERE)
    client = TestClient(site, base_url=ADDRESS)
    assert client.get(f"/open/{keys.new_link()}").status_code == 200
    return client


def no_day(_when: object = None) -> SharedDay:
    raise WorkbookError(())


def changed(client: TestClient, reading: int, **change: Any) -> Any:
    return client.post("/tables/change", json={"reading": reading, "change": change}, headers=OWN)


def test_the_site_begins_with_the_tables_and_opens_the_day_once_they_are_cured(
    tables: OfficeTables, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr(SharedDay, "start_searcher", lambda self: None)
    state = tables.settled()
    index = state.headers["orders"].index["mix"]
    was = state.text("orders", 2, index)
    tables.write(state.reading, "orders", {(2, index): (was, "NONE")})
    tables.settled()
    when = date.fromisoformat(state.text("orders", 2, state.headers["orders"].index["date"]))
    client = page_of(tables, book, lambda _: open_office(book, when, None, None, tmp_path / "out"))
    assert client.get("/day").url.path == "/tables"
    assert client.get("/day/parts").status_code == 404
    assert changed(client, state.reading, kind="undo").status_code == 200
    with pytest.raises(NothingDue) as nothing:
        open_office(book, when - timedelta(days=90), None, None)
    assert nothing.value.next_day == when
    toml = book / "planner.toml"
    kept = toml.read_text() if toml.exists() else ""
    toml.write_text('roads = "gone.osm.pbf"\n' + kept)
    assert client.get("/day").url.path == "/tables"
    assert "without the line" in check_with_roads(book)[0].problems[0].cure
    toml.write_text(kept)
    assert client.get("/day").url.path == "/day"
    revision = client.get("/day/parts").json()["revision"]
    place = tables.state.headers["properties"].index["customer"]
    was = tables.state.text("properties", 2, place)
    answer = changed(
        client,
        tables.state.reading,
        kind="cells",
        table="properties",
        cells=[[2, place, was, "Zed"]],
    )
    assert answer.status_code == 200
    assert "Zed" in answer.json()["parts"]["t-grid"] or answer.json()["parts"]["t-grid"]
    assert "Zed" in client.get("/day").text, "the day goes on with the tables as they are"
    assert client.get("/day/parts").json()["revision"] == revision + 1
    # A truck that the calendar keeps home by now is none of the open day's.
    truck = tables.state.text("trucks", 2, tables.state.headers["trucks"].index["truck"])
    said = f"{truck} stays in the yard: the calendar keeps it home on this day"
    assert said not in client.get("/day").text
    calendar_path(book).write_text(json.dumps({"out": [f"{truck}@{when}", f"gone@{when}"]}))
    assert said in (shown := client.get("/day").text)
    assert shown.count("KEPT HOME") == 1, "on its truck in the yard"
    assert "the calendar keeps it home on this day. What is put on it breaks a rule." in shown
    assert client.get("/day/parts").json()["revision"] == revision + 2
    name = tables.state.text("orders", 2, tables.state.headers["orders"].index["order"])
    asked = {"revision": revision + 2, "lift": [name]}
    told = client.post("/day/ask", json=asked, headers=OWN).text
    assert "kept home by the calendar" in told
    calendar_path(book).unlink()
    assert said not in (shown := client.get("/day").text)
    assert "KEPT HOME" not in shown
    # Planned by the command meanwhile: the page, with nothing planned yet, says so.
    assert "was planned elsewhere since" not in shown
    words = ["plan", book, "--date", when, "--engine", "nearest-fit", "--out", tmp_path / "there"]
    made = CliRunner().invoke(main, [str(word) for word in words])
    assert made.exit_code in (0, 3), made.output
    assert "This day was planned elsewhere since: its plan of record is" in client.get("/day").text


def test_what_is_not_written_is_said(tables: OfficeTables, book: Path) -> None:
    client, state = page_of(tables, book), tables.settled()
    for change, status in (
        ({"kind": "cells", "table": "orders", "cells": [[2, 0, "wrong", "x"]]}, 409),
        ({"kind": "cells", "table": "orders", "cells": [[2, 0, 5, "x"]]}, 400),
        ({"kind": "cells", "table": "none", "cells": [[2, 0, "", "x"]]}, 422),
        ({"kind": "row", "table": "orders", "row": {"nonsense": "x"}}, 422),
        ({"kind": "cells", "table": "orders", "cells": [[9_000, 0, "", "a\nb"]]}, 422),
        ({"kind": "undo"}, 422),
    ):
        assert changed(client, state.reading, **change).status_code == status, change
    stale = changed(client, 5, kind="cells", table="orders", cells=[[2, 0, "1", "x"]])
    assert (stale.status_code, "t-grid" in stale.json()["parts"]) == (409, True)
    assert client.get("/tables?table=orders&text=zzz&first=99999999999").status_code == 200
    page = client.get("/tables?table=properties").text
    assert "script-src 'self'" in client.get("/tables").headers["content-security-policy"]
    assert "style=" not in page
    assert client.get("/tables/names?table=properties&text=zz").json() == {"found": []}
    assert "f-property" in client.get("/tables/form?table=properties").json()["html"]
