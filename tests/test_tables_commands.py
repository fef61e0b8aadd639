"""`planner check`, `planner columns` and `planner new`, as a user runs them."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.tables.columns import all_columns, table_names
from tests.bad_workbooks import BAD, BASE, merged


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


@pytest.mark.parametrize("name", ["spring", "spring.xlsx"])
def test_a_new_workbook_passes_the_check(name: str, tmp_path: Path) -> None:
    made = run("new", str(tmp_path / name), "--date", "2027-04-14")
    assert made.exit_code == 0, made.output
    assert [path.name for path in tmp_path.iterdir()] == [name], "nothing is left beside it"
    checked = run("check", str(tmp_path / name))
    assert checked.exit_code == 0, checked.output
    assert "7 orders, due 2027-04-14 to 2027-04-21" in checked.output


@pytest.mark.parametrize("name", ["spring", "spring.xlsx"])
def test_new_never_overwrites(name: str, tmp_path: Path) -> None:
    target = tmp_path / name
    target.write_text("mine")
    assert run("new", str(target)).exit_code == 2
    assert target.read_text() == "mine"


def test_new_in_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for name in ("spring", "spring.xlsx"):
        result = run("new", str(tmp_path / "file" / name))
        assert result.exit_code == 5, result.output
        assert "cannot be written" in result.output


def test_new_fails_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert run("new", str(tmp_path / "spring.xlsx")).exit_code == 5
    assert list(tmp_path.iterdir()) == []


def test_check_prints_every_problem(tmp_path: Path) -> None:
    book = merged(BAD / "REF-1-dangling", tmp_path)
    result = run("check", str(book))
    assert result.exit_code == 1
    assert result.stdout.count("[REF-1]") == 3
    assert re.search(r"orders.csv, row 2, column 'property': .+did you mean 'A'", result.stdout)
    assert "3 problems in" in result.stdout


def test_check_for_other_programs(tmp_path: Path) -> None:
    book = merged(BAD / "REF-1-dangling", tmp_path)
    problems = json.loads(run("check", str(book), "--json").stdout)["problems"]
    assert [item["code"] for item in problems] == ["REF-1"] * 3
    assert set(problems[0]) == {"file", "row", "column", "code", "message", "found", "cure"}
    read = json.loads(run("check", str(BASE), "--json").stdout)["read"]
    assert read["orders"] == 3
    assert read["capacity_gal"] == 230


def test_check_of_nothing_is_wrong_usage() -> None:
    assert run("check", "no-such-workbook").exit_code == 2
    assert run("check").exit_code == 2


def test_columns_names_every_column() -> None:
    output = run("columns").stdout
    for column in all_columns():
        assert f"\n  {column.column}: " in output
        assert column.meaning in output
    for table in table_names():
        assert f"{table} (" in output


def test_columns_of_one_table() -> None:
    result = run("columns", "weather", "--json")
    rows = json.loads(result.stdout)
    assert [row["column"] for row in rows][:3] == ["date", "hour", "area"]
    assert {row["table"] for row in rows} == {"weather"}
    assert run("columns", "wether").exit_code == 2


@pytest.mark.parametrize("name", ["check", "columns", "new"])
def test_help_shows_an_example(name: str) -> None:
    output = run(name, "--help").stdout
    assert "Example:" in output
    assert f"planner {name}" in output


@pytest.mark.parametrize(
    ("arguments", "needed"),
    [
        (["new", "--help"], set()),
        (["columns", "orders"], set()),
        # A folder of CSV files: without the solver and Excel, 60 MB and a twentieth of the time.
        (["check", str(BASE)], {"numpy", "pint", "scipy"}),
    ],
)
def test_heavy_packages_stay_out_of_light_commands(arguments: list[str], needed: set[str]) -> None:
    code = (
        "import sys; from planner.cli.main import main\n"
        f"try: main({arguments!r})\n"
        "except SystemExit: pass\n"
        "heavy = {'pandas', 'openpyxl', 'ortools', 'pint', 'folium', 'scipy', 'numpy'}\n"
        f"sys.exit(','.join(sorted((heavy - {needed!r}) & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
