"""The public names do what their page says, and cost nothing until they are used."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import planner

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "planner" / "docs" / "python.md").read_text(encoding="utf-8")


def test_the_page_runs_from_top_to_bottom(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "demo_data").symlink_to(ROOT / "demo_data")
    (tmp_path / "maps").symlink_to(ROOT / "maps")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for block in re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL):
        exec(compile(block, "python.md", "exec"), names)
    said = capsys.readouterr().out
    assert "0 rules broken" in said
    assert re.search(r"\d+ orders for \$[\d,]+", said)
    assert (tmp_path / "out" / "from-python" / "index.html").exists()


def test_every_public_name_has_a_line_on_the_page_and_is_there() -> None:
    for name in planner.__all__:
        assert f"`{name}`" in PAGE
        assert getattr(planner, name).__doc__
    assert len(planner.__all__) <= 15
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = planner.no_such_name  # type: ignore[attr-defined]


def test_importing_the_package_imports_nothing_of_it() -> None:
    code = (
        "import sys, planner; "
        "print([m for m in sys.modules if m.startswith(('planner.', 'pandas', 'ortools'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_workbook_with_faults_tells_them_all() -> None:
    base = ROOT / "demo_data" / "bad" / "NUM-1-not-a-number"
    assert base.is_dir()
    reading = planner.check_workbook(ROOT / "demo_data" / "bad" / "base")
    assert isinstance(reading.problems, tuple)
    assert issubclass(planner.PlannerError, Exception)
    from planner.compare.compare import NoDays

    assert issubclass(NoDays, planner.PlannerError)
