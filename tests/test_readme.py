"""Every console block of README and guide is run as it stands, in the order of the page."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.own_cache import cache_with_machine_code

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "planner" / "docs" / "guide.md").read_text(encoding="utf-8")
CONSOLE = re.compile(r"```console\n(.*?)```", re.DOTALL)
DEMO, TESTS, *OFFICE = CONSOLE.findall(README)


def commands(block: str) -> list[tuple[str, list[str]]]:
    """(command, the output lines that the page shows below it)."""
    parts = re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]
    return [(part.splitlines()[0], part.splitlines()[1:]) for part in parts]


def run(command: str, folder: Path, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        env={**os.environ, **more},
        capture_output=True,
        text=True,
        check=False,
    )


def test_an_office_follows_the_page_from_new_to_plan(tmp_path: Path) -> None:
    assert CONSOLE.findall(GUIDE)[: len(OFFICE)] == OFFICE, "README and guide begin alike"
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    steps = [step for block in CONSOLE.findall(GUIDE) for step in commands(block)]
    weeks = ["weeks"] * 4
    assert [step[0].split()[1] for step in steps] == ["new", "check", "plan", *weeks, "phone"]
    cache = cache_with_machine_code(tmp_path / "cache")
    for command, shown in steps:
        done = run(command, tmp_path, PATH=path, PLANNER_CACHE_DIR=cache)
        assert done.returncode in (0, 3), done.stderr
        for line in shown:
            assert line in done.stdout.splitlines(), (line, done.stdout)
    made = {file.name for file in (tmp_path / "monday").iterdir()}
    assert {"index.html", "map.html", "plan.json", "pick-list.html"} <= made


def test_the_first_command_works_in_a_fresh_clone(tmp_path: Path) -> None:
    """Install included: the command exactly as the page has it, in a copy of the tracked files."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("not a git checkout: no fresh clone can be made")
    probe = subprocess.run(
        [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", str(tmp_path), "click"],
        capture_output=True,
        check=False,
    )
    if probe.returncode != 0:
        pytest.skip("pip reaches no package index: nothing can be installed")
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
    # What is being changed right now counts too, not only what is committed.
    tracked = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    for name in filter(None, tracked.split("\0")):
        if (ROOT / name).is_file():
            (clone / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, clone / name)
    ((command, _),) = commands(DEMO)
    done = run(command, clone, PLANNER_CACHE_DIR=str(tmp_path / "cache"))
    assert done.returncode == 0, done.stderr
    assert "orders on" in done.stdout
    assert (clone / "out" / "demo" / "index.html").exists()


def test_the_second_command_is_what_ci_runs() -> None:
    """Running it from inside itself would never end; CI runs exactly this line."""
    ((command, _),) = commands(TESTS)
    assert command.endswith(".venv/bin/pytest -n 2")
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "<!-- test-command -->" in script
    assert 'eval "$test_command"' in script
    before = README.split(command)[0]
    assert before.rstrip().endswith("$") or "<!-- test-command -->\n```console" in before
