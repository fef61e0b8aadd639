"""A filled-in actuals sheet -> rows of values, and every cell that cannot be read."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from planner.problems import Problem
from planner.records.sheet import COLUMNS, SHOWN_ONLY, Actual
from planner.tables.one_sheet import SheetKind, read_one_sheet

KIND: Final = SheetKind(
    "actuals",
    "actuals sheet",
    COLUMNS,
    SHOWN_ONLY,
    "print the sheet again with `planner packet`, and fill that one in",
)


def read_actuals(path: Path) -> tuple[list[Actual], list[Problem]]:
    """The rows of a filled-in sheet (CSV, or an .xlsx with one sheet or one named 'actuals'), and
    everything in it that cannot be read."""
    rows, problems = read_one_sheet(path, KIND)
    values: list[dict[str, Any]] = [dict(row.values) for row in rows]
    return [
        Actual(row.file, row.number, **cells) for row, cells in zip(rows, values, strict=True)
    ], problems
