"""`planner audit`: exit code 0 on a good plan, 4 with plain words on one that a person edited."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from tests.codes import VIOLATION_CODES


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter workbook and its plan."""
    here = tmp_path_factory.mktemp("audit")
    assert run("new", here / "spring", "--date", "2027-04-14").exit_code == 0
    planned = run(
        *("plan", here / "spring", "--date", "2027-04-14", "--engine", "nearest-fit"),
        *("--out", here / "wednesday"),
    )
    assert planned.exit_code in (0, 3), planned.output
    return here


def edited(folder: Path, name: str, change: str) -> Path:
    """A copy of the plan with one figure of its first visit changed."""
    raw = json.loads((folder / "wednesday" / "plan.json").read_text(encoding="utf-8"))
    truck = next(truck for truck in raw["trucks"] if truck["stops"])
    visit = next(stop for stop in truck["stops"] if stop["kind"] == "visit")
    if change == "gal":
        visit["orders"][0]["gal"] += 5
    elif change == "miles":
        visit["drive_miles"] += 5
    path = folder / name
    path.write_text(json.dumps(raw), encoding="utf-8")
    return path


def test_a_good_plan_passes(folder: Path) -> None:
    result = run("audit", folder / "wednesday" / "plan.json", folder / "spring")
    assert result.exit_code == 0
    assert "found nothing" in result.output


def test_an_edited_plan_is_told_in_plain_words_by_truck(folder: Path) -> None:
    result = run("audit", edited(folder, "more.json", "gal"), folder / "spring")
    assert result.exit_code == 4
    assert "Truck " in result.output
    assert "gal sprayed, its area asks for" in result.output
    assert "[WORK-GAL]" in result.output


def test_violations_as_json(folder: Path) -> None:
    result = run("audit", edited(folder, "far.json", "miles"), folder / "spring", "--json")
    assert result.exit_code == 4
    rows = json.loads(result.output)["violations"]
    assert "CLOCK-DRIVE" in {row["code"] for row in rows}
    assert {row["code"] for row in rows} <= VIOLATION_CODES.keys()
    assert all(row.keys() == {"code", "truck_id", "seq", "message"} for row in rows)


def test_a_file_that_is_no_plan_ends_in_a_sentence(folder: Path) -> None:
    path = folder / "no-plan.json"
    path.write_text("{}", encoding="utf-8")
    result = run("audit", path, folder / "spring")
    assert result.exit_code == 1
    assert "Traceback" not in result.output
