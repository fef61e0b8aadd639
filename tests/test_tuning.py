"""Numbers that steer the engines: read from a file, told when wrong, in force, printed."""

from __future__ import annotations

import ast
import json
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli.main import main
from planner.routing.compiled import columns
from planner.routing.compiled.columns import BLINK
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.engines.nearest_fit import NearestFit
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions
from planner.routing.shared.limits import SharedLimits
from planner.routing.tuning import DEFAULT_TUNING, Tuning, limits_of
from planner.tables.starter import starter_files
from planner.tuning_file import TuningError, read_tuning
from tests.routing_cases import random_problem

DAY = "2027-05-03"
ROUTING = Path(__file__).resolve().parents[1] / "planner" / "routing"


def written(folder: Path, text: str) -> Path:
    file = folder / "tuning.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_file_changes_what_it_names(tmp_path: Path) -> None:
    text = "# ours\nsearch_rounds = 8\nsearch_hot = 3\nsearch_tankfuls = [1, 2, 3.5]\n"
    tuning = read_tuning(written(tmp_path, text))
    assert tuning == Tuning(search_rounds=8, search_hot=3.0, search_tankfuls=(1.0, 2.0, 3.5))
    assert isinstance(tuning.search_hot, float)
    assert read_tuning(written(tmp_path, "")) == DEFAULT_TUNING


def test_all_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    text = """search_round = 8
repair_places = 0
search_hot = "warm"

search_reload_chances = [0.4]
search_blink = nan
[loading]
packed = 1
"""
    with pytest.raises(TuningError) as raised:
        read_tuning(written(tmp_path, text))
    assert [(one.row, one.column, one.code) for one in raised.value.problems] == [
        (1, "search_round", "TUNE-2"),
        (2, "repair_places", "TUNE-3"),
        (3, "search_hot", "TUNE-3"),
        (5, "search_reload_chances", "TUNE-3"),
        (6, "search_blink", "TUNE-3"),
        (7, "loading", "TUNE-2"),
    ]
    assert "'search_rounds'" in raised.value.problems[0].cure
    assert raised.value.problems[1].message == "not a whole number from 1 to 1e+06"
    with pytest.raises(TuningError, match="1 problem"):
        read_tuning(written(tmp_path, "search_rounds 8"))
    with pytest.raises(TuningError) as raised:
        read_tuning(tmp_path)
    assert raised.value.problems[0].message == "cannot be read: it is a folder"


def test_every_default_is_within_its_limits_and_used() -> None:
    code = "\n".join(
        file.read_text(encoding="utf-8")
        for file in ROUTING.rglob("*.py")
        if file.name != "tuning.py"
    )
    for one in fields(Tuning):
        limits, value = limits_of()[one.name], getattr(DEFAULT_TUNING, one.name)
        for part in value if isinstance(value, tuple) else [value]:
            assert limits.least <= part <= limits.most, one.name
        assert f"tuning.{one.name}" in code or one.name in columns.TUNED, one.name
    assert set(columns.TUNED) <= limits_of().keys()


def test_no_number_of_the_search_is_hidden_in_a_module() -> None:
    """What steers an engine stands in Tuning; left beside it are units, noise and waits."""
    allowed = {"TOLERANCE", "LOOK_S", "MOST_OF_A_TRUCK", "FIRST_RATE", "GAIN", "NO_CUT"}
    allowed |= {"UNKNOWN_CUT", "REMEMBERED", "SECONDS", "HUNDREDTHS_GAL", "MONEY", "CENTS", "A_DAY"}
    allowed |= {"PLAIN_MOST_S", "HUNDREDTHS"}
    for room in ("engines", "search", "repair"):
        for file in (ROUTING / room).glob("*.py"):
            for node in ast.parse(file.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.Assign) and isinstance(
                    node.value, (ast.Constant, ast.Tuple, ast.UnaryOp, ast.BinOp)
                ):
                    names = {one.id for one in ast.walk(node) if isinstance(one, ast.Name)}
                    text = isinstance(node.value, ast.Constant) and isinstance(
                        node.value.value, str
                    )
                    assert text or names <= allowed, f"{file.name}: {names}"


def test_the_numbers_reach_the_engine_and_the_compiled_day() -> None:
    problem = random_problem(5)
    seen: list[Tuning] = []

    class Watching(NearestFit):
        def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
            seen.append(problem.tuning)
            return super().solve(problem, options)

    tuning = Tuning(search_blink=0.25)
    effort = Effort(count=1, tuning=tuning)
    SharedLimits(Watching()).solve(problem, SolveOptions(effort))
    assert seen == [tuning]
    assert day_arrays(replace(problem, tuning=tuning)).tuning[BLINK] == 0.25


def test_plan_takes_the_file_and_prints_what_is_in_force(tmp_path: Path) -> None:
    office = tmp_path / "office"
    office.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (office / name).write_text(text, encoding="utf-8")
    words = ["plan", str(office), "--date", DAY, "--engine", "nearest-fit", "--json"]
    file = written(tmp_path, "repair_places = 3\n")
    done = CliRunner().invoke(main, [*words, "--out", str(tmp_path / "a"), "--tuning", str(file)])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["tuning"]["repair_places"] == 3
    written(tmp_path, "repair_places = 0\nrepair_place = 1\n")
    bad = CliRunner().invoke(main, [*words, "--out", str(tmp_path / "b"), "--tuning", str(file)])
    assert bad.exit_code == 1
    assert "tuning.toml, row 1, column 'repair_places'" in bad.stderr
    assert "2 problems in the tuning file" in bad.stderr
    assert not (tmp_path / "b").exists()
