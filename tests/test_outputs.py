"""Result folders appear whole or not at all, and never over somebody's files."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from planner.cli.outputs import write_folder


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_new_folder_is_written(tmp_path: Path) -> None:
    write_folder(tmp_path / "a" / "day", {"plan.json": "{}\n", "index.html": "é"})
    assert names(tmp_path / "a" / "day") == ["index.html", "plan.json"]
    assert (tmp_path / "a" / "day" / "index.html").read_bytes() == "é".encode()
    assert names(tmp_path / "a") == ["day"]


def test_an_earlier_result_is_replaced_as_a_whole(tmp_path: Path) -> None:
    write_folder(tmp_path / "day", {"plan.json": "1", "truck-T9.html": "old"})
    write_folder(tmp_path / "day", {"plan.json": "2"})
    assert names(tmp_path / "day") == ["plan.json"]
    assert (tmp_path / "day" / "plan.json").read_text() == "2"
    assert names(tmp_path) == ["day"]


def test_a_folder_with_other_files_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me")
    with pytest.raises(click.UsageError, match="other files"):
        write_folder(tmp_path, {"plan.json": "1"})
    assert names(tmp_path) == ["letter.txt"]


def test_a_failure_leaves_the_earlier_result(tmp_path: Path) -> None:
    write_folder(tmp_path / "day", {"plan.json": "1"})
    with pytest.raises(OSError, match=r"no/such"):
        write_folder(tmp_path / "day", {"plan.json": "2", "no/such/folder.html": "x"})
    assert (tmp_path / "day" / "plan.json").read_text() == "1"
    assert names(tmp_path) == ["day"]
