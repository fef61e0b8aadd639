"""Ctrl-C, sent to a real process: the search keeps its best plan, and nothing is half written."""

from __future__ import annotations

import pickle
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from planner.deadline import INTERRUPTED
from planner.tables.starter import starter_files
from tests.interrupting import interrupted

DAY = "2027-05-03"


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    folder = tmp_path / "office"
    folder.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def interrupted_at(words: str, workbook: Path, out: Path) -> tuple[int, str]:
    """Exit code and what a terminal showed, when Ctrl-C comes as soon as it shows `words`."""
    command = ["plan", str(workbook), "--date", DAY, "--out", str(out)]
    return interrupted([*command, "--engine", "ortools", "--seconds", "60"], words)


def test_during_the_search_the_best_plan_so_far_is_written(workbook: Path, tmp_path: Path) -> None:
    code, shown = interrupted_at("routing", workbook, tmp_path / "day")
    assert code == 0, shown
    assert "7 of 7 orders" in shown
    assert {"plan.json", "index.html"} <= {file.name for file in (tmp_path / "day").iterdir()}


def test_before_the_search_nothing_is_written(workbook: Path, tmp_path: Path) -> None:
    code, shown = interrupted_at("reading the workbook", workbook, tmp_path / "day")
    assert code != 0
    assert "Traceback" not in shown
    assert not (tmp_path / "day").exists()
    assert [file.name for file in tmp_path.iterdir()] == ["office"]


COMPILER = """import time
from planner.routing.search import first_run
first_run.compile_into = lambda folder: (print("compiling", flush=True), time.sleep(600))
first_run.compile_here()"""


def test_a_compiler_ends_with_the_process_that_started_it() -> None:
    words = [sys.executable, "-c", COMPILER, "nowhere"]
    process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert process.stdin is not None
    assert process.stdout is not None
    pickle.dump(None, process.stdin)
    process.stdin.flush()
    assert process.stdout.readline() == b"compiling\n"
    assert process.poll() is None
    process.stdin.close()
    assert process.wait() == INTERRUPTED
    process.stdout.close()


def test_a_worker_of_a_comparison_ends_with_the_process_that_started_it() -> None:
    worker = "import sys, time; from planner.deadline import end_with; end_with(int(sys.argv[1]));"
    worker += "print(1, flush=True); time.sleep(600)"
    start = "import os, subprocess, sys, time; words = [sys.executable, '-c', sys.argv[1]];"
    start += "subprocess.Popen([*words, str(os.getpid())]); time.sleep(600)"
    process = subprocess.Popen([sys.executable, "-c", start, worker], stdout=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stdout.readline() == b"1\n"
    process.kill()
    assert process.stdout.read() == b"", "its end is that of the last process that holds it"
    process.stdout.close()
    process.wait()


def test_a_command_of_the_page_ends_when_the_page_is_gone() -> None:
    """Its stdin ends however the server went, kill -9 or a crash, on every system."""
    code = "import time, planner.deadline as one; one.end_with_parent(last_s=1); time.sleep(600)"
    with subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE) as child:
        assert child.stdin is not None
        child.stdin.close()
        assert child.wait() != 0
