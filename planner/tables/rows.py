"""Rows of a table as values: what the checks look at and what the workbook is built from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from planner.problems import Problem
from planner.tables.columns import Column, columns_of, key_columns

BAD: Final = object()
"""Stands for the value of a cell that could not be read."""


@dataclass(frozen=True)
class Cells:
    """The cells of a table, column by column: a large office has millions, and a row of its own
    for each would fill the memory. values: BAD where a cell could not be read; columns that the
    table must have and has not are left out. texts: what was written. row_count: which the columns
    do not tell where all are left out."""

    table: str
    file: str
    row_count: int
    values: Mapping[str, Sequence[object]]
    texts: Mapping[str, Sequence[str]]
    derived: dict[Any, Any] = field(default_factory=dict, compare=False)
    """What was worked out of whole columns, once for all rows."""

    @cached_property
    def keys(self) -> list[str | None]:
        """Each row's key, several columns joined by '/'; None when one of them is bad."""
        columns = [self.values.get(name) for name in key_columns(self.table)]
        if any(column is None for column in columns):
            return [None] * self.row_count
        rows = zip(*(column for column in columns if column is not None), strict=True)
        return [None if BAD in row else "/".join(map(_key_text, row)) for row in rows]


class Row:
    """One row. number: as the spreadsheet shows it. bad: columns that could not be read; place: in
    its columns."""

    __slots__ = ("bad", "cells", "number", "place")

    def __init__(self, cells: Cells, place: int, number: int, bad: frozenset[str]) -> None:
        self.cells, self.place, self.number, self.bad = cells, place, number, bad

    @property
    def table(self) -> str:
        """Name of its table."""
        return self.cells.table

    @property
    def file(self) -> str:
        """File or sheet that it stands in."""
        return self.cells.file

    def value(self, column: str) -> object:
        """Value of a cell, defaults filled in; None when blank or bad."""
        value = self._cell(column)
        return None if value is BAD else value

    def _cell(self, column: str) -> object:
        values = self.cells.values.get(column)
        return None if values is None else values[self.place]

    def written(self, column: str) -> str:
        """What was written into a cell; '' where the table has no such column."""
        texts = self.cells.texts.get(column)
        return "" if texts is None else texts[self.place]

    def good(self, *columns: str) -> bool:
        """Whether none of these cells is bad; a check that needs them may go on."""
        return self.bad.isdisjoint(columns)

    @property
    def whole(self) -> bool:
        """Whether no cell of the row is bad."""
        return not self.bad

    def text(self, column: str) -> str:
        """Text of a cell; '' when blank or bad."""
        # Without a call in it: a large office asks for millions.
        values = self.cells.values.get(column)
        value = None if values is None else values[self.place]
        return value if isinstance(value, str) else ""

    def number_or_none(self, column: str) -> float | None:
        """Number of a cell; None when blank or bad."""
        value = self._cell(column)
        return float(value) if isinstance(value, (int, float)) else None

    def items(self, column: str) -> tuple[str, ...]:
        """Items of a list; empty when blank or bad."""
        value = self._cell(column)
        return value if isinstance(value, tuple) else ()

    @property
    def key(self) -> str | None:
        """The row's key, several columns joined by '/'; None when one of them is bad."""
        return self.cells.keys[self.place]

    def problem(
        self, column: str | None, code: str, message: str, cure: str = "", found: str | None = None
    ) -> Problem:
        """A problem in a cell of this row."""
        if found is None:
            found = self.written(column) if column else ""
        return Problem(self.file, self.number, column, code, message, found, cure)


def _key_text(value: object) -> str:
    return "" if value is None else str(value)


@dataclass(frozen=True)
class Table:
    """One table. file: file or sheet name. known: whether its rows and every key column could be
    read, so that a name that is not in it is really missing."""

    name: str
    file: str
    rows: tuple[Row, ...]
    known: bool = True

    @cached_property
    def ids(self) -> frozenset[str]:
        """Every short name in the table's first key column, of bad rows too."""
        first = key_columns(self.name)[0]
        return frozenset(row.written(first) for row in self.rows) - {""}


@dataclass(frozen=True)
class Tables:
    """All tables that could be read. settings: every setting by name."""

    by_name: Mapping[str, Table]
    settings: Mapping[str, object]

    def rows(self, name: str) -> tuple[Row, ...]:
        """Rows of a table; none when the table is missing."""
        table = self.by_name.get(name)
        return table.rows if table else ()

    def known(self, *names: str) -> bool:
        """Whether all these tables could be read, so that what is not there is missing."""
        return all(name in self.by_name and self.by_name[name].known for name in names)

    def ids(self, name: str) -> frozenset[str]:
        """Short names in a table; empty when the table is missing."""
        table = self.by_name.get(name)
        return table.ids if table else frozenset()

    def lost_refs(self) -> Iterator[tuple[Row, Column, str]]:
        """Every mention of another table's row that is not there: (row, column, name)."""
        for name, table in self.by_name.items():
            columns = [column for column in columns_of(name).values() if column.ref_table]
            for column in columns:
                values = table.rows[0].cells.values.get(column.column, ()) if table.rows else ()
                ids = self.ids(column.ref_table or "")
                lost = {value for value in set(values) if not ids.issuperset(_items(value))}
                if not lost:
                    continue
                for row, value in zip(table.rows, values, strict=True):
                    for item in _items(value) if value in lost else ():
                        if item not in ids:
                            yield row, column, item


def _items(value: object) -> tuple[str, ...]:
    items = value if isinstance(value, tuple) else (value,)
    return tuple(item for item in items if item and isinstance(item, str))
