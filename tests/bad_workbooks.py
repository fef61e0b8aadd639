"""The workbooks of demo_data/bad: a tiny good one, and folders with the tables that spoil it."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable
from pathlib import Path

from planner.problems import Problem

BAD = Path(__file__).resolve().parents[1] / "demo_data" / "bad"
BASE = BAD / "base"
FOLDERS = sorted(folder for folder in BAD.iterdir() if folder.is_dir() and folder != BASE)

Place = tuple[str, int | None, str | None, str]


def places(problems: Iterable[Problem]) -> list[Place]:
    """(file, row, column, code) of each problem, sorted."""
    found = [(item.file, item.row, item.column, item.code) for item in problems]
    return sorted(found, key=str)


def merged(folder: Path, into: Path) -> Path:
    """The good workbook with a bad folder's tables laid over it; files named in its _remove.txt
    are left out."""
    book = into / "book"
    shutil.copytree(BASE, book)
    removed = folder / "_remove.txt"
    for name in removed.read_text().split() if removed.exists() else []:
        (book / name).unlink()
    for file in folder.iterdir():
        if not file.name.startswith("_"):
            shutil.copy(file, book / file.name)
    return book


def expected(folder: Path) -> list[Place]:
    """The problems that a bad folder must give."""
    with (folder / "_expected.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = [
        (row["file"], int(row["row"]) if row["row"] else None, row["column"] or None, row["code"])
        for row in rows
    ]
    return sorted(found, key=str)
