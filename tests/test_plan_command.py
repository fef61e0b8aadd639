"""`planner plan`, `packet` and `demo` as people use and misuse them: exit codes, words, files."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.cli.planning import PlanRequest, run_plan
from planner.routing.problem import Effort, SolveOptions, StopToken
from planner.tables.starter import starter_files

DAY = "2027-05-03"


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    folder = tmp_path / "office"
    folder.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def planner(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def plan(workbook: Path, out: Path, *more: object) -> Result:
    words = ("--date", DAY, "--out", out, "--engine", "nearest-fit", *more)
    return planner("plan", workbook, *words)


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def clean(result: Result) -> Result:
    """No command may end in a traceback."""
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


def test_a_plan_is_written_and_told(workbook: Path, tmp_path: Path) -> None:
    result = clean(plan(workbook, tmp_path / "day"))
    assert result.exit_code == 0, result.output
    names = {file.name for file in (tmp_path / "day").iterdir()}
    assert {"plan.json", "index.html", "map.html", "pick-list.html"} <= names
    assert "7 of 7 orders" in result.stdout
    assert "NO ROAD MAP" in result.stdout
    assert "label is the law" in result.stdout


def test_the_same_input_gives_the_same_bytes(workbook: Path, tmp_path: Path) -> None:
    # Two prints differ by their number.
    plan(workbook, tmp_path / "one", "--draft")
    plan(workbook, tmp_path / "two", "--draft")
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes(), file.name


def test_an_engine_that_cannot_run_here_is_told_and_not_claimed(
    workbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.routing.engines.find_spec", lambda name: None)
    words = ("--date", DAY, "--out", tmp_path / "day", "--engine", "search", "--effort", 2)
    result = clean(planner("plan", workbook, *words))
    assert result.exit_code == 0
    assert "Engine 'search' cannot run on this machine" in result.stderr
    assert json.loads((tmp_path / "day" / "plan.json").read_text())["engine"] == "ortools"


def test_json_summary_is_for_machines(workbook: Path, tmp_path: Path) -> None:
    result = clean(plan(workbook, tmp_path / "day", "--json"))
    told = json.loads(result.stdout)
    assert told["date"] == DAY
    assert told["totals"]["totals"]["orders"] == 7


def test_held_or_unserved_orders_give_exit_code_3(workbook: Path, tmp_path: Path) -> None:
    edit(workbook / "properties.csv", ",180,,Gate", ",900,,Gate")
    result = clean(plan(workbook, tmp_path / "day"))
    assert result.exit_code == 3
    assert "needs 900 ft of hose" in result.stdout


class StopAfter(StopToken):
    """Set by itself when it was looked at so often."""

    def __init__(self, looks: int) -> None:
        super().__init__()
        self.looks = looks

    @property
    def is_set(self) -> bool:
        self.looks -= 1
        return self.looks < 0


def test_a_search_that_is_stopped_too_early_replaces_no_plan(
    workbook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def stopped_after(looks: int, name: str) -> tuple[int, int, str]:
        """Exit code, orders that are planned in the folder, what was said."""
        options = SolveOptions(Effort(count=1), stop=StopAfter(looks), engine="nearest-fit")
        code = run_plan(PlanRequest(workbook, tmp_path / name, options), date.fromisoformat(DAY))
        file = tmp_path / name / "plan.json"
        done = json.loads(file.read_text())["totals"]["totals"]["orders"] if file.exists() else 0
        return code, done, capsys.readouterr().err

    code, done, said = stopped_after(0, "new")
    assert (code, done) == (130, 0)
    assert "stopped before it had planned an order. Nothing was written." in said
    assert not (tmp_path / "new").exists()
    # A look for each truck's loading and each order: somewhere between lies a half-made plan.
    half = next(looks for looks in range(2, 40) if 0 < stopped_after(looks, f"{looks}")[1] < 7)
    assert stopped_after(10_000_000, "day")[:2] == (0, 7)
    whole = {file.name: file.read_bytes() for file in (tmp_path / "day").iterdir()}
    for looks in (0, half):
        code, done, said = stopped_after(looks, "day")
        assert (code, done) == (130, 7)
        assert {file.name: file.read_bytes() for file in (tmp_path / "day").iterdir()} == whole
    assert "had no place yet that the plan in" in said


def test_every_problem_at_once_and_nothing_written(workbook: Path, tmp_path: Path) -> None:
    edit(workbook / "properties.csv", "6200", "six thousand")
    edit(workbook / "products.csv", "1.5 fl oz/1000 sq ft", "1.5 oz/acre or so")
    edit(workbook / "orders.csv", "weeds", "wedes")
    result = clean(plan(workbook, tmp_path / "day"))
    assert result.exit_code == 1
    for code in ("NUM-1", "REF-1"):
        assert f"[{code}]" in result.stderr
    assert "nothing was written" in result.stderr
    assert not (tmp_path / "day").exists()


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("--date", "tomorrow"), "not a day written like"),
        (("--effort", "0"), "0"),
        (("--effort", "5", "--seconds", "5"), "not both"),
        (("--engine", "magic"), "magic"),
        (("--roads", "nowhere.osm.pbf"), "nowhere.osm.pbf"),
    ],
)
def test_wrong_usage_is_exit_code_2(
    workbook: Path, tmp_path: Path, words: tuple[str, ...], found: str
) -> None:
    result = clean(planner("plan", workbook, "--out", tmp_path / "day", *words))
    assert result.exit_code == 2
    assert found in result.output
    assert not (tmp_path / "day").exists()


def test_a_folder_with_other_files_is_not_touched(workbook: Path) -> None:
    result = clean(plan(workbook, workbook))
    assert result.exit_code == 2
    assert "other files" in result.output
    assert (workbook / "orders.csv").exists()


def test_a_day_without_orders_says_so(workbook: Path, tmp_path: Path) -> None:
    result = clean(planner("plan", workbook, "--date", "2020-01-01", "--out", tmp_path / "day"))
    assert result.exit_code == 1
    assert "No order is due on 2020-01-01; the next day with due orders is " + DAY in result.output
    assert "name it with --date. Nothing was written." in result.output
    assert not (tmp_path / "day").exists()


def test_all_trucks_in_the_shop_leaves_every_order_unserved(workbook: Path, tmp_path: Path) -> None:
    edit(workbook / "trucks.csv", "yard,yes", "yard,no")
    checked = clean(planner("check", workbook, "--date", DAY))
    assert checked.exit_code == 0
    assert "Note: no truck is in service, so no day can be planned" in checked.stdout
    result = clean(plan(workbook, tmp_path / "day"))
    assert result.exit_code in (1, 3), result.output


@pytest.mark.parametrize("content", [b"", b"not a road file", b"\x00" * 4000])
def test_a_bad_extract_is_named(workbook: Path, tmp_path: Path, content: bytes) -> None:
    bad = tmp_path / "county.osm.pbf"
    bad.write_bytes(content)
    result = clean(plan(workbook, tmp_path / "day", "--roads", bad))
    assert result.exit_code == 1
    assert "county.osm.pbf" in result.output
    assert not (tmp_path / "day").exists()


def test_a_file_that_is_no_workbook(tmp_path: Path) -> None:
    file = tmp_path / "letter.xlsx"
    file.write_text("dear sir")
    result = clean(planner("plan", file, "--date", DAY, "--out", tmp_path / "day"))
    assert result.exit_code == 1
    assert "FILE-1" in result.output


def test_packet_writes_the_same_papers_again(workbook: Path, tmp_path: Path) -> None:
    plan(workbook, tmp_path / "day", "--draft")
    result = clean(
        planner(
            *("packet", tmp_path / "day" / "plan.json", workbook, "--draft"),
            *("--out", tmp_path / "again"),
        )
    )
    assert result.exit_code == 0, result.output
    for file in (tmp_path / "day").glob("truck-*.html"):
        assert (tmp_path / "again" / file.name).read_text() == file.read_text()


def test_packet_refuses_a_plan_that_breaks_rules(workbook: Path, tmp_path: Path) -> None:
    plan(workbook, tmp_path / "day")
    raw = json.loads((tmp_path / "day" / "plan.json").read_text())
    truck = next(truck for truck in raw["trucks"] if truck["stops"])
    truck["stops"][0]["fills"][0]["gal"] += 5
    (tmp_path / "edited.json").write_text(json.dumps(raw))
    result = clean(
        planner("packet", tmp_path / "edited.json", workbook, "--out", tmp_path / "again")
    )
    assert result.exit_code == 4
    assert "FILL-" in result.output
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("text", ["", "{}", "[1, 2]", '{"version": 1}'])
def test_a_broken_plan_file_is_named(workbook: Path, tmp_path: Path, text: str) -> None:
    (tmp_path / "plan.json").write_text(text)
    result = clean(planner("packet", tmp_path / "plan.json", workbook, "--out", tmp_path / "x"))
    assert result.exit_code == 1
    assert "Error" in result.output
