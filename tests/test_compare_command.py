"""`planner compare` as people use and misuse it: files, kept results, Ctrl-C and --resume."""

from __future__ import annotations

import csv
import json
import operator
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.compare import run
from tests.interrupting import interrupted
from tests.own_cache import cache_with_machine_code
from tests.seasons import edit, fleet_folder, season_folder

QUICK = ("--engine", "nearest-fit", "--effort", "1", "--jobs", "2")


@pytest.fixture
def workbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PLANNER_CACHE_DIR", cache_with_machine_code(tmp_path / "cache"))
    return season_folder(tmp_path / "office")


def planner(*words: object) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def kept(tmp_path: Path) -> set[str]:
    return {file.name for file in (tmp_path / "cache" / "compared").glob("*/*.json")}


def texts(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_two_fleets_on_three_days(workbook: Path, tmp_path: Path) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    out = tmp_path / "fleets"
    result = planner("compare", workbook, "--fleet", f"one={one}", "--out", out, *QUICK)
    assert result.exit_code == 0, result.output
    assert "2 fleets on 3 days, 2027-05-03 to 2027-05-05" in result.stdout
    assert "NO ROAD MAP" in result.stdout
    days = rows(out, "days.csv")
    assert [(row["fleet"], row["date"]) for row in days] == [
        (fleet, f"2027-05-0{day}") for fleet in ("present", "one") for day in (3, 4, 5)
    ]
    fleets = rows(out, "fleets.csv")
    for row in fleets:
        own = [float(day["cost"]) for day in days if day["fleet"] == row["fleet"]]
        assert float(row["cost_per_day"]) == pytest.approx(sum(own) / 3, abs=0.01)
    assert len(rows(out, "compartments.csv")) == 5 + 3
    whole = json.loads((out / "comparison.json").read_text(encoding="utf-8"))
    assert whole["assumptions"]
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "2027-05-03" in page or "May 3" in page
    assert not list(tmp_path.glob(".fleets*")), "nothing is left beside the folder"


def test_another_fleet_plans_only_its_own_days(workbook: Path, tmp_path: Path) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    two = fleet_folder(workbook, tmp_path / "two", ("truck-2",))
    words = ("compare", workbook, "--seeds", 1, *QUICK)
    planner(*words, "--fleet", f"one={one}", "--out", tmp_path / "a")
    before = kept(tmp_path)
    assert len(before) == 6
    planner(*words, "--fleet", f"one={one}", "--fleet", f"two={two}", "--out", tmp_path / "b")
    assert len(kept(tmp_path) - before) == 3
    # The same trucks under another name are planned already, and a note to a crew is no change.
    edit(workbook / "properties.csv", "310 Dogwood Drive", "311 Dogwood Drive")
    planner(*words, "--fleet", f"again={one}", "--to", "2027-05-03", "--out", tmp_path / "c")
    assert len(kept(tmp_path) - before) == 3
    edit(workbook / "trucks.csv", "Big truck,yard,yes,7:15 AM", "Big truck,yard,yes,7:00 AM")
    planner(*words, "--out", tmp_path / "d")
    assert len(kept(tmp_path) - before) == 6


def test_a_damaged_kept_result_is_planned_again(workbook: Path, tmp_path: Path) -> None:
    words = ("compare", workbook, "--seeds", 1, *QUICK)
    planner(*words, "--out", tmp_path / "a")
    for file in (tmp_path / "cache" / "compared").glob("*/*.json"):
        file.write_text(file.read_text(encoding="utf-8")[:-200], encoding="utf-8")
    planner(*words, "--out", tmp_path / "b")
    assert texts(tmp_path / "a") == texts(tmp_path / "b")


def test_a_sweep(workbook: Path, tmp_path: Path) -> None:
    out = tmp_path / "fleets"
    sweep = ("--sweep", "trucks=1..2", "--sweep", "trucks=2", "--sweep", "gallons=200%")
    result = planner("compare", workbook, *sweep, "--seeds", 1, "--out", out, *QUICK)
    assert result.exit_code == 0, result.output
    names = [row["fleet"] for row in rows(out, "fleets.csv")]
    assert names == ["present", "trucks=1", "gallons=200%"]
    assert result.stdout.count("trucks=2 has the same trucks as present and is shown there.") == 2
    first = result.stdout.splitlines()[0]
    assert first == (out / "verdict.txt").read_text(encoding="utf-8").splitlines()[0]
    assert first == "No difference in money: trucks=1 costs what the present trucks cost."


def test_ctrl_c_keeps_what_is_done_and_resume_gives_the_same_bytes(
    workbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    # An engine that could be stopped early and hand over a worse plan.
    words = ["compare", str(workbook), "--fleet", f"one={one}", "--seed", "2"]
    words += ["--engine", "ortools", "--effort", "1", "--seeds", "2"]
    assert planner(*words, "--out", tmp_path / "whole").exit_code == 0
    monkeypatch.setenv("PLANNER_CACHE_DIR", cache_with_machine_code(tmp_path / "other"))
    out = tmp_path / "fleets"
    code, shown = interrupted([*words, "--out", str(out)], "2 of 12 plans")
    assert code == 130, shown
    assert "--resume goes on" in shown
    assert "Traceback" not in shown
    assert not out.exists()
    done = {file.name for file in (tmp_path / "other" / "compared").glob("*/*.json")}
    assert 2 <= len(done) < 12
    result = planner("compare", workbook, "--out", out, "--resume", "--jobs", 1)
    assert result.exit_code == 0, result.output
    assert texts(out) == texts(tmp_path / "whole")
    assert not (tmp_path / ".fleets-asked.json").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--fleet", "big"), "write NAME=FOLDER"),
        (("--fleet", "big=/no/such/folder"), "there is no folder"),
        (("--fleet", "a=.", "--fleet", "a=."), "given twice"),
        (("--sweep", "truck=3"), "is no sweep; write trucks=3..7"),
        (("--from", "May 3"), "not a day written like"),
        (("--from", "2030-01-01"), "no day with orders"),
        (("--source", "records"), "no day with records"),
        (("--resume",), "no interrupted comparison"),
        (("--resume", "--effort", "3"), "goes on with what was asked for"),
    ],
)
def test_wrong_usage(workbook: Path, tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    result = planner("compare", workbook, "--out", tmp_path / "out", *words)
    assert result.exit_code == 2, result.output
    assert told in " ".join(result.output.split()), result.output
    assert not (tmp_path / "out").exists()


def test_problems_of_a_fleet_end_with_1(workbook: Path, tmp_path: Path) -> None:
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",), "[each_truck]\nlife = 3\n")
    result = planner("compare", workbook, "--fleet", f"one={one}", "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert "one/fleet.toml" in result.stderr
    assert "[FLEET-2]" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_with_other_files_is_left_alone(workbook: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("mine", encoding="utf-8")
    result = planner("compare", workbook, "--out", tmp_path / "out", *QUICK)
    assert result.exit_code == 2
    assert (tmp_path / "out" / "letter.txt").read_text(encoding="utf-8") == "mine"


def test_a_worker_ignores_ctrl_c() -> None:
    """An engine that is stopped hands over its best so far: a plan of less effort than the other
    fleets', which must never be kept."""
    seen = []
    before = signal.getsignal(signal.SIGINT)

    def work(_task: object) -> None:
        seen.append(signal.getsignal(signal.SIGINT))

    try:
        run.plan_here(0, None, os.getpid(), work)
        run.plan_here(0, None, -1, work)
    finally:
        signal.signal(signal.SIGINT, before)
    assert seen == [before, signal.SIG_IGN]


def test_a_truck_more_asks_for_a_person_with_a_license(workbook: Path, tmp_path: Path) -> None:
    """Ohio's category 8: row OH-turf of planner/rules/licenses.csv."""
    more = fleet_folder(workbook, tmp_path / "more", ("truck-1", "truck-2"))
    for file in (more / "trucks.csv", more / "lines.csv", more / "compartments.csv"):
        head, *lines = file.read_text(encoding="utf-8").splitlines()
        again = [line.replace("truck-1", "truck-9") for line in lines if "truck-1" in line]
        file.write_text("\n".join([head, *lines, *again]) + "\n", encoding="utf-8")
    out = tmp_path / "fleets"
    words = ("--fleet", f"more={more}", "--out", out, "--seeds", 1, *QUICK)
    result = planner("compare", workbook, *words)
    assert result.exit_code == 0, result.output
    for text in (result.stdout, (out / "index.html").read_text(encoding="utf-8")):
        plain = " ".join(text.split())
        assert (
            "More trucks than now (more): on each that goes out, somebody needs category 8 (turf)"
            in plain
        )
        assert plain.count("More trucks than now") == 1
    one = fleet_folder(workbook, tmp_path / "one", ("truck-1",))
    assert (
        "More trucks than now"
        not in planner(
            "compare",
            workbook,
            "--fleet",
            f"one={one}",
            "--out",
            tmp_path / "b",
            "--seeds",
            1,
            *QUICK,
        ).stdout
    )


def test_other_processes_never_hear_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even while they are being started: a terminal sends it to all of them (POSIX, exec: a
    signal that is ignored stays ignored in the new program)."""
    told = "import signal; print(signal.getsignal(signal.SIGINT) == signal.SIG_IGN)"
    heard: list[str] = []

    class Here:
        def __init__(self, **_: object) -> None: ...

        def __call__(self, calls: Iterable[tuple[Callable[..., object], Any, Any]]) -> Any:
            done = subprocess.run([sys.executable, "-c", told], capture_output=True, check=True)
            heard.append(done.stdout.decode().strip())
            return (call(*words, **more) for call, words, more in calls)

    monkeypatch.setattr(run, "Parallel", Here)
    before = signal.getsignal(signal.SIGINT)
    assert [found for _, found in run.planned([int], operator.call, jobs=2)] == [0]
    assert heard == ["True"]
    assert signal.getsignal(signal.SIGINT) == before
