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


def here_instead_of_the_index(folder: Path) -> Path:
    """A folder for the front of the PATH. Its python3 makes environments that see the packages of
    the one the tests run in, pip among them, all but the planner: pip then finds each requirement
    met, and would still fetch one that is not."""
    packages = folder / "packages"
    packages.mkdir()
    for one in (Path(entry) for entry in sys.path if entry.endswith("site-packages")):
        for name in one.iterdir():
            own = name.name.startswith(("__editable__", "lawn_spray", "planner"))
            if not own and name.suffix != ".pth" and not (packages / name.name).exists():
                (packages / name.name).symlink_to(name)
    python = folder / "bin" / "python3"
    python.parent.mkdir()
    python.write_text(
        f"""#!/bin/sh
"{sys.executable}" "$@" --without-pip || exit
printf '#!/bin/sh\nexec "$(dirname "$0")/python" -m pip "$@"\n' >"$3/bin/pip"
chmod +x "$3/bin/pip"
for made in "$3"/lib/python3*/site-packages; do echo "{packages}" >"$made/here.pth"; done
"""
    )
    python.chmod(0o755)
    return python.parent


def test_the_first_command_works_in_a_fresh_clone(tmp_path: Path) -> None:
    """The command exactly as the page has it, in a copy of the tracked files. What CI has fetched
    and compiled already is taken along; `PLANNER_FETCH=1 pytest tests/test_readme.py` does without
    (three minutes)."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("not a git checkout: no fresh clone can be made")
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
    path, cache = os.environ["PATH"], str(tmp_path / "cache")
    if not os.environ.get("PLANNER_FETCH"):
        path = f"{here_instead_of_the_index(tmp_path)}{os.pathsep}{path}"
        cache = cache_with_machine_code(tmp_path / "cache", clone)
        # The plan need not be good.
        command += " --effort 1"
    compiled = {*Path(cache).rglob("*.nb?")}
    done = run(command, clone, PATH=path, PLANNER_CACHE_DIR=cache)
    assert done.returncode == 0, done.stderr
    assert "orders on" in done.stdout
    # What was taken along was used.
    assert compiled in (set(), {*Path(cache).rglob("*.nb?")})
    assert (clone / "out" / "demo" / "index.html").exists()
    made = next((clone / ".venv" / "lib").glob("python3*/site-packages"))
    assert any(made.glob("lawn_spray_day_planner-*.dist-info")), "the planner is installed there"


def test_the_second_command_is_what_ci_runs() -> None:
    """Running it from inside itself would never end; CI runs exactly this line, in two parts."""
    ((command, _),) = commands(TESTS)
    install, _, tests = command.rpartition(" && ")
    assert (install.count("pip install"), tests) == (1, ".venv/bin/pytest -n 2")
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "<!-- test-command -->" in script
    assert "install=${test_command% && *} tests=${test_command##* && }" in script
    assert script.index('eval "$install"') < script.index('eval "$tests"')
    before = README.split(command)[0]
    assert before.rstrip().endswith("$") or "<!-- test-command -->\n```console" in before
