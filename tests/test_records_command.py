"""`planner record` and `planner export` as an office uses and misuses them."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from datetime import date
from json import dumps
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli import record as record_command
from planner.cli.main import main
from planner.records import store
from planner.tables.starter import starter_files
from tests.excel import typed

DAY = "2027-05-03"
WEATHER = ("--wind", 4, "--wind-from", "sw", "--temperature", 61)


def planner(*words: object) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The files of one planned starter day."""
    folder = tmp_path_factory.mktemp("made")
    book = folder / "office"
    book.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (book / name).write_text(text, encoding="utf-8")
    out = folder / "day"
    assert (
        planner("plan", book, "--date", DAY, "--out", out, "--engine", "nearest-fit").exit_code == 0
    )
    return {name: (out / name).read_text(encoding="utf-8") for name in ("plan.json", "actuals.csv")}


@pytest.fixture
def office(tmp_path: Path, made: dict[str, str]) -> Path:
    folder = tmp_path / "office"
    folder.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (folder / name).write_text(text, encoding="utf-8")
    for name, text in made.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return folder


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def fill_in(tmp_path: Path, name: str = "actuals.csv", **of_order: dict[str, str]) -> Path:
    """The printed sheet filled in: what each order's row says."""
    rows = rows_of((tmp_path / "actuals.csv").read_text(encoding="utf-8"))
    for row in rows:
        row.update(of_order.get(f"o{row['order']}", {}))
    out = tmp_path / name
    with out.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    return out


def test_the_printed_sheet_reads_back_as_nothing_told(office: Path, tmp_path: Path) -> None:
    rows = rows_of((tmp_path / "actuals.csv").read_text(encoding="utf-8"))
    assert {row["what"] for row in rows} == {"fill", "spray", "left"}
    assert sorted(row["order"] for row in rows if row["what"] == "spray") == [
        str(number) for number in range(1001, 1008)
    ]
    result = planner("record", office, tmp_path / "plan.json", tmp_path / "actuals.csv")
    assert result.exit_code == 1
    assert "nothing was recorded" in result.stdout
    assert not (office / "records.sqlite").exists()


def test_a_day_with_exceptions_is_recorded_and_corrected(office: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    sheet = fill_in(tmp_path, "day.csv", o1003={"done": "no", "note": "gate locked"})
    result = planner("record", office, plan, sheet, "--as-planned", *WEATHER, "--by", "Kim")
    assert result.exit_code == 0, result.output
    assert "6 sprayed" in result.stdout
    assert "1 skipped" in result.stdout
    again = planner("record", office, plan, sheet, "--as-planned", *WEATHER)
    assert again.exit_code == 1
    assert "recorded on" in again.stderr
    fixed = fill_in(tmp_path, "fixed.csv", o1001={"done": "yes", "gal": "12.6"})
    words = ("--correct", "--why", "meter read wrongly")
    assert planner("record", office, plan, fixed, *words).exit_code == 0
    exported = planner("export", office, "--month", "2027-05", "--state", "oh")
    rows = [row for row in rows_of(exported.stdout) if row["order"] == "1001"]
    assert {(row["gal"], row["corrected"]) for row in rows} == {("12.6", "meter read wrongly")}
    assert {row["applicator"] for row in rows} == {"Alex Example"}
    history = rows_of(planner("export", office, "--property", "P-1").stdout)
    assert [row["what"] for row in history] == ["sprayed", "corrected: sprayed"]
    assert history[0]["recorded_by"] == "Kim"
    sums = rows_of(planner("export", office, "--year", "2027", "--sums").stdout)
    assert {row["period"] for row in sums} == {"2027"}
    assert rows_of(planner("export", office, "--year", "2026").stdout) == []


def test_a_level_read_in_the_evening_counts_in_either_column(office: Path, tmp_path: Path) -> None:
    """The row of what is left has two columns that a level may go into; one is no more right."""
    rows = rows_of((tmp_path / "actuals.csv").read_text(encoding="utf-8"))
    left = next(row for row in rows if row["what"] == "left" and row["compartment"] == "front")

    def recorded(name: str, **cells: str) -> Result:
        sheet = tmp_path / name
        with sheet.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, left.keys())
            writer.writeheader()
            writer.writerow(left | cells | {"sure": "yes", "note": "read twice"})
        return planner("record", office, tmp_path / "plan.json", sheet)

    two = recorded("two.csv", gal="9", level_read_gal="12")
    assert two.exit_code == 1
    assert "REC-13" in two.stderr
    assert "level_read_gal" in two.stderr
    read = recorded("read.csv", level_read_gal="9")
    assert read.exit_code == 0, read.output
    assert "1 left" in read.stdout
    connection = sqlite3.connect(office / "records.sqlite")
    with connection:
        bodies = [json.loads(text) for (text,) in connection.execute("select body from event")]
    connection.close()
    assert [body["gal"] for body in bodies if body.get("compartment_id") == "front"] == [9.0]


def test_all_problems_are_told_and_nothing_is_written(office: Path, tmp_path: Path) -> None:
    sheet = fill_in(
        tmp_path,
        "bad.csv",
        o1001={"done": "perhaps", "gal": "12,4"},
        o1002={"done": "yes", "gal": "19", "start": "9:00", "end": "8:00", "wind_from": "up"},
        o1003={"done": "no"},
    )
    result = planner("record", office, tmp_path / "plan.json", sheet, *WEATHER)
    assert result.exit_code == 1
    for words in ("CHOICE-2", "NUM-1", "CHOICE-1", "REC-3", "bad.csv, row"):
        assert words in result.stderr
    assert "nothing was written" in result.stderr
    assert not (office / "records.sqlite").exists()


def test_an_excel_sheet_reads_the_same(office: Path, tmp_path: Path) -> None:
    import openpyxl

    from planner.records.sheet import COLUMNS

    rows = rows_of((tmp_path / "actuals.csv").read_text(encoding="utf-8"))
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.append(list(rows[0]))
    for row in rows:
        if row["what"] == "spray":
            cells = {"done": "yes", "gal": row["planned_gal"], "wind_mph": "3", "wind_from": "N"}
            cells |= {"start": row["planned_start"], "end": row["planned_end"]}
            row |= {**cells, "temperature_f": "60", "sign": "yes", "notice": "yes"}
        if row["what"] == "fill":
            row |= {"done": "yes", "gal": row["planned_gal"]}
        kinds = {name: column.kind for name, column in COLUMNS.items()}
        page.append([typed(cell, kinds.get(name, "text")) for name, cell in row.items()])
    book.save(tmp_path / "filled.xlsx")
    result = planner("record", office, tmp_path / "plan.json", tmp_path / "filled.xlsx")
    assert result.exit_code == 0, result.output
    assert "7 sprayed" in result.stdout
    assert "Still open" not in result.stdout


def test_the_next_plan_knows_what_was_done(office: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    assert planner("record", office, plan, "--as-planned", *WEATHER).exit_code == 0
    # The day itself is planned and audited as it was: its own records do not count for it.
    assert planner("audit", plan, office).exit_code == 0
    text = (office / "orders.csv").read_text(encoding="utf-8")
    more = text.replace("1004,", "2004,").replace("1005,", "2005,")
    (office / "orders.csv").write_text(more, encoding="utf-8")
    result = planner(
        *("plan", office, "--date", "2027-05-04", "--out", tmp_path / "next"),
        *("--engine", "nearest-fit"),
    )
    assert result.exit_code in (1, 3), result.output
    assert "INTERVAL" in (tmp_path / "next" / "plan.json").read_text(encoding="utf-8")


def test_a_truck_that_is_down_today_is_recorded_for_yesterday(office: Path, tmp_path: Path) -> None:
    out = tmp_path / "yesterday"
    plan = ("plan", office, "--date", DAY, "--out", out, "--engine", "nearest-fit")
    assert planner(*plan).exit_code == 0
    rows = rows_of((office / "trucks.csv").read_text(encoding="utf-8"))
    trucks = json.loads((out / "plan.json").read_text(encoding="utf-8"))["trucks"]
    worked = next(truck["truck_id"] for truck in trucks if truck["stops"])
    with (office / "trucks.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        for row in rows:
            writer.writerow(row | ({"in_service": "no"} if row["truck"] == worked else {}))
    result = planner("record", office, out / "plan.json", "--as-planned", *WEATHER)
    assert result.exit_code == 0, result.output


def test_verify_backup_and_damage(office: Path, tmp_path: Path) -> None:
    assert planner("record", office, "--verify").exit_code == 1
    planner("record", office, tmp_path / "plan.json", "--as-planned", *WEATHER)
    copy = tmp_path / "copy.sqlite"
    result = planner("record", office, "--verify", "--backup", copy)
    assert result.exit_code == 0, result.output
    assert "no damage" in result.stdout
    assert copy.exists()
    store = office / "records.sqlite"
    raw = sqlite3.connect(store)
    raw.execute("DROP TRIGGER event_is_never_changed")
    raw.execute("UPDATE event SET body = replace(body, 'Alex', 'Alec')")
    raw.commit()
    raw.close()
    result = planner("record", office, "--verify")
    assert result.exit_code == 1
    assert "does not match its checksum" in result.stderr
    for words in (
        ("export", office),
        ("plan", office, "--date", "2027-05-04", "--out", tmp_path / "next"),
    ):
        result = planner(*words)
        assert result.exit_code == 1
        assert "damaged" in result.stderr
    store.write_bytes(copy.read_bytes())
    assert planner("record", office, "--verify").exit_code == 0


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("PLAN",),
        ("PLAN", "--as-planned", "--correct", "--why", "x"),
        ("PLAN", "SHEET", "--correct"),
        ("PLAN", "SHEET", "--why", "x"),
        ("PLAN", "SHEET", "--verify"),
        ("PLAN", "SHEET", "--wind-from", "upstairs"),
        ("PLAN", "SHEET", "--wind", "-1"),
    ],
)
def test_wrong_usage_is_told(office: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    files = {"PLAN": tmp_path / "plan.json", "SHEET": tmp_path / "actuals.csv"}
    assert planner("record", office, *(files.get(word, word) for word in words)).exit_code == 2


def test_an_export_never_overwrites_the_records(office: Path, tmp_path: Path) -> None:
    planner("record", office, tmp_path / "plan.json", "--as-planned", *WEATHER)
    assert planner("export", office, "--out", office / "records.sqlite").exit_code == 2
    assert planner("export", office, "--month", "2027-13").exit_code == 2
    out = tmp_path / "rows.csv"
    assert planner("export", office, "--out", out).exit_code == 0
    assert len(rows_of(out.read_text(encoding="utf-8"))) > 7


@pytest.mark.parametrize("option", ["--wind", "--temperature"])
@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e999"])
def test_weather_that_is_no_number_is_refused(
    office: Path, tmp_path: Path, option: str, value: str
) -> None:
    words = ("record", office, tmp_path / "plan.json", "--as-planned", *WEATHER, option, value)
    assert planner(*words).exit_code == 2
    assert not (office / "records.sqlite").exists()


def test_records_with_what_is_no_number_are_repaired_by_a_command(
    office: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a planner before did with `--wind nan`."""
    with monkeypatch.context() as then:
        then.setattr(store, "no_numbers", lambda _: ())
        then.setattr(
            store.json, "dumps", lambda body, **more: dumps(body, **more | {"allow_nan": True})
        )
        then.setattr(record_command.FiniteRange, "convert", lambda self, value, *_: float(value))
        words = ("--as-planned", *WEATHER, "--wind", "nan")
        assert planner("record", office, tmp_path / "plan.json", *words).exit_code == 0
    later = ("plan", office, "--date", "2027-05-04", "--out", tmp_path / "next")
    for words in (later, ("export", office, "--sums"), ("export", office)):
        told = planner(*words)
        assert told.exit_code == 1
        assert "--repair" in told.stderr
    told = planner("record", office, "--verify")
    assert told.exit_code == 1
    assert "wind_mph is no number" in told.stderr
    assert planner("record", office, "--backup", tmp_path / "copy.sqlite").exit_code == 0
    told = planner("record", office, "--repair")
    assert told.stdout.count("wind_mph was not a number; record ") == told.stdout.count("\n") > 0
    assert "is a number" in planner("record", office, "--repair").stdout
    assert planner("record", office, "--verify").exit_code == 0
    rows = rows_of(planner("export", office).stdout)
    assert {row["wind_mph"] for row in rows} == {""}
    assert {row["corrected"] for row in rows if row["missing"]} == {
        "repaired: wind_mph was not a number"
    }
    fixed = fill_in(tmp_path, "fixed.csv", o1001={"done": "yes", "wind_mph": "5"})
    words = ("--correct", "--why", "read again")
    assert planner("record", office, tmp_path / "plan.json", fixed, *words).exit_code == 0


def test_weather_that_is_missing_is_told_once_and_nothing_follows_from_it(
    office: Path, tmp_path: Path
) -> None:
    told = planner("record", office, tmp_path / "plan.json", "--as-planned")
    assert told.exit_code == 1
    lines = told.stderr.splitlines()
    assert len(lines) == 3, lines
    assert "column 'temperature_f': 7 records: the record needs it" in lines[0]
    assert "--wind for the whole day, and --wind-from unless it was calm" in lines[1]
