"""Last import, table as it is now, and export -> what changes in the table.

A cell changes only where the export says something else than last time and the table still says
what was imported then; everything that somebody typed since stays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from planner.tables.columns import columns_of, key_columns
from planner.tables.edits import TableEdit

Cells = Mapping[str, str]

FOUND_LATER = ("lat", "lon")
"""Columns that a new property may lack: `planner locate` fills them."""


@dataclass(frozen=True)
class TableNow:
    """A table as it is. rows: key -> (row number, column -> text). same: whether two texts of a
    column say the same. written: an imported text as the table writes it (decimal commas)."""

    name: str
    rows: Mapping[str, tuple[int, Cells]]
    same: Callable[[str, str, str], bool]
    written: Callable[[str, str], str]


@dataclass(frozen=True)
class CellChange:
    """old: what the table said, new: what the export says."""

    table: str
    key: str
    column: str
    old: str
    new: str


@dataclass
class Merged:
    """What an import does to a table. new: keys. changed: cells that are written. kept: cells that
    somebody typed and the export says otherwise. gone: keys that the export no longer has. removed:
    keys that somebody took out of the table. lacking: key -> columns that a new row would need;
    they are left out. cells: row number -> column -> text and new_rows: all of it for the file.
    memory: what is remembered for the next time."""

    table: str
    cells: dict[int, dict[str, str]] = field(default_factory=dict)
    new_rows: list[Cells] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    changed: list[CellChange] = field(default_factory=list)
    kept: list[CellChange] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    lacking: dict[str, list[str]] = field(default_factory=dict)
    memory: dict[str, dict[str, str]] = field(default_factory=dict)

    @property
    def edit(self) -> TableEdit:
        """What is to be written."""
        return TableEdit(self.table, self.cells, self.new_rows)


def merged(
    now: TableNow,
    before: Mapping[str, Cells],
    wanted: Mapping[str, Cells],
    *,
    tell_gone: bool,
    take_export: bool,
    bring_back: bool,
) -> Merged:
    """Lay the wanted rows over a table. tell_gone: whether all rows of the export are among them.
    take_export: what somebody typed gives way; bring_back: rows that somebody took out of the table
    come again."""
    found = Merged(now.name)
    for key, row in wanted.items():
        if key in now.rows:
            number, texts = now.rows[key]
            old = before.get(key, {})
            for column, text in row.items():
                change = CellChange(now.name, key, column, texts.get(column, ""), text)
                if _is_written(now, change, old, take_export, found):
                    found.cells.setdefault(number, {})[column] = now.written(column, text)
        elif key in before and not bring_back:
            found.removed.append(key)
        else:
            lacking = _lacking(now.name, row)
            if lacking:
                found.lacking[key] = lacking
                continue
            found.new.append(key)
            found.new_rows.append(
                {name: now.written(name, text) for name, text in row.items() if text}
            )
        found.memory[key] = dict(row)
    for key, row in before.items():
        if key in wanted:
            continue
        found.memory[key] = dict(row)
        if key in now.rows and tell_gone:
            found.gone.append(key)
    return found


def _is_written(
    now: TableNow, change: CellChange, old: Cells, take_export: bool, found: Merged
) -> bool:
    column, mine, theirs = change.column, change.old, change.new
    if column in key_columns(now.name) or now.same(column, mine, theirs):
        return False
    if not theirs and (column not in old or columns_of(now.name)[column].required):
        return False
    before = old.get(column)
    untyped = mine == "" if before is None else now.same(column, mine, before)
    if untyped or take_export:
        found.changed.append(change)
        return True
    if before is None or before != theirs:
        found.kept.append(change)
    return False


def _lacking(table: str, row: Cells) -> list[str]:
    return [
        name
        for name, column in columns_of(table).items()
        if column.required and not row.get(name) and name not in FOUND_LATER
    ]
