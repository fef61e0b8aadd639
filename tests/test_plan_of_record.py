"""One plan of record a date, as an office uses and misuses it: days, plan, packet, record."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner, Result

from planner import day_files
from planner.cli.main import main
from planner.office import opening
from planner.records import store
from planner.records.outcome import store_path
from planner.serve import run
from planner.tables.starter import starter_files
from tests.excel import excel_of

DAY = "2027-05-03"
WEATHER = ("--wind", 4, "--wind-from", "sw", "--temperature", 61)


def planner(*words: object, code: int = 0) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == code, result.output
    return result


def plan(book: Path, out: Path, *more: object, code: int = 0) -> Result:
    words = ("--date", DAY, "--out", out, "--engine", "nearest-fit", *more)
    return planner("plan", book, *words, code=code)


def again(book: Path, earlier: Path, out: Path, *more: object) -> Result:
    words = ("--at", "8:30", "--skip", "1004", "--engine", "nearest-fit")
    return planner(
        "plan", book, "--again", earlier / "plan.json", *words, "--out", out, *more, code=0
    )


def mark(folder: Path) -> str:
    """What every page of the folder says after the word Plan."""
    pages = [
        file.read_text(encoding="utf-8")
        for file in folder.glob("*.html")
        if file.name != "map.html"
    ]
    found = {text for page in pages for text in re.findall(r">Plan ([0-9a-f]{10}[^<]*)<", page)}
    assert len(pages) > 2
    assert len(found) == 1, found
    return found.pop()


@pytest.fixture(scope="module")
def noon(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An office with a morning's plan and the one of noon."""
    here = tmp_path_factory.mktemp("noon")
    (here / "office").mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (here / "office" / name).write_text(text, encoding="utf-8")
    plan(here / "office", here / "morning")
    again(here / "office", here / "morning", here / "noon")
    return here


@pytest.fixture
def here(noon: Path, tmp_path: Path) -> Path:
    shutil.copytree(noon, tmp_path, dirs_exist_ok=True)
    return tmp_path


def test_sheets_carry_plan_and_print_and_the_last_one_counts(here: Path) -> None:
    assert re.fullmatch("[0-9a-f]{10}, print 1", mark(here / "morning"))
    assert re.fullmatch("[0-9a-f]{10}, print 2", mark(here / "noon"))
    told = planner("days", here / "office").stdout
    assert f"plan      {mark(here / 'noon')}: 6 orders, 1 truck" in told
    assert f"papers    {here / 'noon'}" in told
    assert "open      all 6 orders" in told
    assert f"not valid {mark(here / 'morning')}" in told
    third = planner(
        "packet", here / "noon" / "plan.json", here / "office", "--out", here / "reprint"
    )
    assert mark(here / "reprint") == mark(here / "noon").replace("print 2", "print 3")
    assert "sheets of both are good" in third.stdout


def test_the_mornings_plan_is_refused_and_the_one_of_record_named(here: Path) -> None:
    words = ("record", here / "office", here / "morning" / "plan.json", "--as-planned", *WEATHER)
    refused = planner(*words, code=1)
    assert "[REC-14]" in refused.stderr
    assert str(here / "noon" / "plan.json") in refused.stderr
    assert "0 sprayed" not in planner("days", here / "office").stdout
    done = planner("record", here / "office", here / "noon", "--as-planned", *WEATHER)
    assert "6 sprayed" in done.stdout
    assert "  open  " not in planner("days", here / "office").stdout


def test_a_superseded_plan_is_recorded_with_the_reason(here: Path) -> None:
    words = ("record", here / "office", here / "morning" / "plan.json", "--as-planned", *WEATHER)
    planner(*words, "--superseded", code=2)
    planner(*words, "--superseded", "--why", "noon's sheets never reached the crew")
    history = planner("export", here / "office", "--property", "P-1").stdout
    assert "noon's sheets never reached the crew" in history
    db = sqlite3.connect(here / "office" / "records.sqlite")
    bodies = [json.loads(text) for (text,) in db.execute("SELECT body FROM event WHERE seq > 2")]
    assert {body["superseded"]["plan_of_record"] for body in bodies} == {mark(here / "noon")[:10]}


def test_the_office_names_the_plan(here: Path) -> None:
    office = here / "office"
    planner("days", office, "--use", here / "morning")
    assert f"plan      {mark(here / 'morning')}" in planner("days", office).stdout
    planner("days", office, "--use", mark(here / "noon")[:10])
    assert f"plan      {mark(here / 'noon')}" in planner("days", office).stdout
    assert "no plan in the records" in planner("days", office, "--use", "abcdef", code=1).stderr
    planner("days", office, "--use", here / "office", code=1)


def test_drafts_do_not_count_until_they_are_named(here: Path) -> None:
    office = here / "office"
    told = plan(office, here / "draft", "--draft", "--seed", 5)
    assert "not the plan of record" in told.stderr
    assert mark(here / "draft").endswith(", draft")
    assert mark(here / "noon") in planner("days", office).stdout
    planner("days", office, "--use", here / "draft" / "plan.json")
    assert f"plan      {mark(here / 'draft')[:10]}" in planner("days", office).stdout
    planner("record", office, here / "noon", "--as-planned", *WEATHER, code=1)


def test_the_plan_is_found_when_its_folder_is_gone(here: Path) -> None:
    office, sheet = here / "office", here / "filled.csv"
    shutil.copy(here / "noon" / "actuals.csv", sheet)
    text = (here / "noon" / "plan.json").read_text(encoding="utf-8")
    planner("packet", here / "noon" / "plan.json", office, "--out", here / "gone")
    shutil.rmtree(here / "gone")
    assert "holds them no longer" in planner("days", office).stdout
    saved = here / "saved.json"
    planner("days", office, "--date", DAY, "--save", saved)
    assert saved.read_text(encoding="utf-8") == text
    saved.write_text("dear customer", encoding="utf-8")
    planner("days", office, "--date", DAY, "--save", saved)
    assert saved.read_text(encoding="utf-8") == "dear customer"
    refused = planner("record", office, here / "morning", "--as-planned", *WEATHER, code=1)
    assert f"record --date {DAY}" in refused.stderr
    words = ("record", office, "--date", DAY, sheet, "--as-planned", *WEATHER)
    assert "6 sprayed" in planner(*words).stdout


def test_the_plan_of_record_needs_no_plan_file(here: Path) -> None:
    office = here / "office"
    planner("record", office, "--date", "2027-05-04", "--as-planned", code=1)
    planner("record", office, "--date", DAY, "a.csv", "b.csv", code=2)
    # The sheet is looked for beside the papers, too.
    words = ("record", office, "--date", DAY, "actuals.csv", "--as-planned", *WEATHER)
    assert "6 sprayed" in planner(*words).stdout


def test_planning_again_from_another_plan_is_noted(here: Path) -> None:
    told = again(here / "office", here / "morning", here / "later", "--draft")
    assert f"the plan of record of {DAY} is plan {mark(here / 'noon')}" in told.stderr


def test_a_print_that_cannot_be_written_changes_nothing(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("planner.day_files.day_files", full)
    words = ("packet", here / "morning" / "plan.json", here / "office", "--out", here / "x")
    assert CliRunner().invoke(main, [str(word) for word in words]).exit_code != 0
    assert f"plan      {mark(here / 'noon')}" in planner("days", here / "office").stdout


def test_records_that_cannot_be_written_leave_the_plan_its_folder(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # root may write everywhere: SQLite itself is told to open the file for reading only.
    connect = sqlite3.connect
    monkeypatch.setattr(
        store.sqlite3,
        "connect",
        lambda path, **more: connect(f"{Path(path).as_uri()}?mode=ro", uri=True, **more),
    )
    told = plan(here / "office", here / "one")
    assert "may not be written" in told.stderr
    assert re.fullmatch("[0-9a-f]{10}", mark(here / "one"))
    (here / "office" / "records.sqlite").unlink()
    told = plan(here / "office", here / "two")
    assert "may not be written" in told.stderr
    assert not (here / "office" / "records.sqlite").exists()


def test_the_demo_is_not_kept(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(day_files, "DEMO_DATA", here)
    before = (here / "office" / "records.sqlite").read_bytes()
    plan(here / "office", here / "one")
    assert re.fullmatch("[0-9a-f]{10}", mark(here / "one"))
    assert (here / "office" / "records.sqlite").read_bytes() == before


def test_an_excel_workbook_keeps_its_plans_beside_it(here: Path) -> None:
    book = here / "book.xlsx"
    excel_of(here / "office", book)
    plan(book, here / "xl")
    assert (here / "book-records.sqlite").exists()
    assert mark(here / "xl").endswith("print 1")
    assert "papers    " + str(here / "xl") in planner("days", book).stdout


def test_the_page_opens_the_next_planned_day_before_one_that_only_has_orders(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Orders may be due over a span that begins before the day that somebody planned."""
    due, planned = date(2027, 4, 30), date.fromisoformat(DAY)
    asked: list[date] = []

    def opened(_book: Path, when: date) -> SimpleNamespace:
        asked.append(when)
        return SimpleNamespace(secret=b"", close=lambda: None)

    def served(*_words: object) -> None:
        if len(asked) == 1:
            raise opening.NothingDue(asked[0], due)

    monkeypatch.setattr(opening, "open_tables", opened)
    monkeypatch.setattr(run, "serve", served)
    said = planner("serve", here / "office", "--port", 0).output
    assert asked[1] == planned
    assert "The next planned day is opened: Mon 2027-05-03. Another one: --date." in said
    asked.clear()
    store_path(here / "office").unlink()
    assert (
        "The next day with due orders is opened: Fri 2027-04-30."
        in planner("serve", here / "office", "--port", 0).output
    )
    assert asked[1] == due


def test_days_without_a_store_or_for_machines(here: Path) -> None:
    (told,) = json.loads(planner("days", here / "office", "--json").stdout)
    assert told["of_record"]["number"] == 2
    assert told["open_orders"] == told["orders"]
    (here / "office" / "records.sqlite").unlink()
    assert "No plan was printed" in planner("days", here / "office").stdout
    assert not (here / "office" / "records.sqlite").exists()


@pytest.mark.parametrize(
    ("name", "change", "found"),
    [
        ("twice", lambda raw: raw["trucks"].append(raw["trucks"][0]), "TRUCK-TWICE"),
        ("none", lambda raw: raw["trucks"].clear(), "ORDER-MISSING"),
        ("seq", lambda raw: raw["trucks"][0]["stops"][1].update(seq=-4), "STOP-SEQ"),
        (
            "gal",
            lambda raw: raw["trucks"][0]["stops"][1]["orders"][0].update(gal=99),
            "gal",
        ),
    ],
)
@pytest.mark.parametrize("which", ["morning", "noon"])
def test_a_plan_that_the_audit_condemns_is_not_recorded(
    here: Path, which: str, name: str, change: object, found: str
) -> None:
    (here / "office" / "records.sqlite").unlink()
    raw = json.loads((here / which / "plan.json").read_text(encoding="utf-8"))
    change(raw)  # type: ignore[operator]
    bad = here / f"{name}.json"
    bad.write_text(json.dumps(raw), encoding="utf-8")
    told = planner("record", here / "office", bad, "--as-planned", *WEATHER, code=1)
    assert "[REC-15]" in told.stderr
    assert found in told.stderr
    planner("days", here / "office", "--use", bad, code=1)
    assert not (here / "office" / "records.sqlite").exists()


def test_tables_that_changed_since_do_not_condemn_a_plan(here: Path) -> None:
    text = (here / "office" / "settings.csv").read_text(encoding="utf-8")
    (here / "office" / "records.sqlite").unlink()
    (here / "office" / "settings.csv").write_text(
        text.replace("Example lawn", "Example", 1), encoding="utf-8"
    )
    words = ("record", here / "office", here / "morning", "--as-planned", *WEATHER)
    assert "7 sprayed" in planner(*words).stdout


def test_a_plan_with_violations_that_was_printed_so_is_recorded(here: Path) -> None:
    raw = json.loads((here / "morning" / "plan.json").read_text(encoding="utf-8"))
    raw["trucks"][0]["stops"][1]["orders"][0]["gal"] += 1
    bad = here / "bad.json"
    bad.write_text(json.dumps(raw), encoding="utf-8")
    words = ("packet", bad, here / "office", "--with-violations", "--out", here / "bad")
    planner(*words, code=4)
    assert "breaks    " in planner("days", here / "office").stdout
    planner("record", here / "office", here / "bad", "--as-planned", *WEATHER, code=0)
