"""Rows of a table as values: what the checks look at and what the workbook is built from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from planner.problems import Problem
from planner.tables.columns import Column, columns_of, key_columns


@dataclass(frozen=True)
class Row:
    """One row. number: as the spreadsheet shows it. values: column -> value, defaults filled in,
    None when blank; a bad cell has no value. texts: what was written. bad: columns that could not
    be read."""

    table: str
    file: str
    number: int
    values: Mapping[str, object]
    texts: Mapping[str, str]
    bad: frozenset[str]

    def good(self, *columns: str) -> bool:
        """Whether none of these cells is bad; a check that needs them may go on."""
        return self.bad.isdisjoint(columns)

    @property
    def whole(self) -> bool:
        """Whether no cell of the row is bad."""
        return not self.bad

    def text(self, column: str) -> str:
        """Text of a cell; '' when blank or bad."""
        value = self.values.get(column)
        return value if isinstance(value, str) else ""

    def number_or_none(self, column: str) -> float | None:
        """Number of a cell; None when blank or bad."""
        value = self.values.get(column)
        return float(value) if isinstance(value, (int, float)) else None

    def items(self, column: str) -> tuple[str, ...]:
        """Items of a list; empty when blank or bad."""
        value = self.values.get(column)
        return value if isinstance(value, tuple) else ()

    @cached_property
    def key(self) -> str | None:
        """The row's key, several columns joined by '/'; None when one of them is bad."""
        names = key_columns(self.table)
        if not self.good(*names):
            return None
        return "/".join(_key_text(self.values.get(name)) for name in names)

    def problem(
        self, column: str | None, code: str, message: str, cure: str = "", found: str | None = None
    ) -> Problem:
        """A problem in a cell of this row."""
        if found is None:
            found = self.texts.get(column, "") if column else ""
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
        return frozenset(row.texts.get(first, "") for row in self.rows) - {""}


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

    def refs(self) -> Iterator[tuple[Row, Column, str]]:
        """Every mention of another table's row: (row, column, name)."""
        for name, table in self.by_name.items():
            columns = [column for column in columns_of(name).values() if column.ref_table]
            for row in table.rows:
                for column in columns:
                    for item in row.items(column.column) or (row.text(column.column),):
                        if item:
                            yield row, column, item
