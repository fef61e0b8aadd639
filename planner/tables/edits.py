"""Cells to be written into a table that is there, all else left as it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.problems import PlannerError
from planner.tables.columns import columns_of
from planner.tables.headers import Header
from planner.tables.sheets import Sheet


class EditError(PlannerError):
    """A table that cannot be written into; one sentence with the cure."""


@dataclass(frozen=True)
class TableEdit:
    """cells: row number -> column -> text. new_rows: column -> text of each. Columns that the table
    does not have are added at its right."""

    table: str
    cells: Mapping[int, Mapping[str, str]] = field(default_factory=dict)
    new_rows: Sequence[Mapping[str, str]] = ()

    def __bool__(self) -> bool:
        return bool(self.cells or self.new_rows)


@dataclass(frozen=True)
class PlacedEdit:
    """cells: row number -> cell index -> text. numbers: cell indexes of columns that hold numbers.
    like: row whose looks new rows take, 0 = none. gone: rows that are taken out; those below them
    move up in a CSV file and stay where they are in Excel."""

    cells: Mapping[int, Mapping[int, str]]
    numbers: frozenset[int]
    like: int
    gone: frozenset[int] = frozenset()


def placed(edit: TableEdit, sheet: Sheet | None, header: Header | None) -> PlacedEdit:
    """Where each cell of an edit goes. sheet, header: of the table as it is, None = it has none.

    Raises EditError for a column that the table joins from several.
    """
    rows = [*edit.cells.values(), *edit.new_rows]
    named = [name for name in columns_of(edit.table) if any(name in row for row in rows)]
    index = dict(header.index) if header else {}
    joined = [name for name in named if header and header.joined.get(name)]
    if joined and header:
        raise EditError(
            f"{edit.table}: '{joined[0]}' is joined from {header.office[joined[0]]} in the table; "
            "make one column of them before it can be written"
        )
    head_row, width = (header.row, header.width) if header else (1, 0)
    cells: dict[int, dict[int, str]] = {}
    for name in named:
        if name not in index:
            index[name] = width
            cells.setdefault(head_row, {})[width] = name
            width += 1
    last = max((number for number, _ in sheet.rows), default=0) if sheet else 0
    like = last if header and last > header.row else 0
    last = max(last, head_row)
    new = enumerate(edit.new_rows, start=last + 1)
    cells |= {
        last + step: dict.fromkeys(range(width), "") for step in range(1, len(edit.new_rows) + 1)
    }
    for number, row in [*edit.cells.items(), *new]:
        cells.setdefault(number, {}).update({index[name]: text for name, text in row.items()})
    columns = columns_of(edit.table)
    numbers = {index[name] for name in named if columns[name].unit or columns[name].kind == "whole"}
    return PlacedEdit(cells, frozenset(numbers), like)
