"""Rows of a table as values: what the checks look at and what the workbook is built from."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from planner.problems import Problem
from planner.tables.columns import Column, columns_of, key_columns

BAD: Final = object()
"""Stands for the value of a cell that could not be read."""


class Once(dict[Any, Any]):
    """Answers by what is asked, each worked out once: a column says the same few things thousands
    of times, and rows share the answer."""

    def __init__(self, answer: Callable[[Any], object]) -> None:
        self._answer = answer

    def __missing__(self, asked: Any) -> Any:
        self[asked] = answer = self._answer(asked)
        return answer

    def all(self, asked: Iterable[Any]) -> list[Any]:
        """The answers in order."""
        return list(map(self.__getitem__, asked))


@dataclass(frozen=True)
class Cells:
    """The cells of a table, column by column: a large office has millions, and a row of its own
    for each would fill the memory. numbers: of the rows, as the spreadsheet shows them. values: BAD
    where a cell could not be read; columns that the table must have and has not are left out.
    texts: what was written. bad: place of a row -> columns without a value, missing: of any
    other."""

    table: str
    file: str
    numbers: Sequence[int] = ()
    values: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    texts: Mapping[str, Sequence[str]] = field(default_factory=dict)
    bad: Mapping[int, frozenset[str]] = field(default_factory=dict)
    missing: frozenset[str] = frozenset()
    derived: dict[Any, Any] = field(default_factory=dict, compare=False)
    """What was worked out of whole columns, once for all rows."""

    @cached_property
    def keys(self) -> list[str | None]:
        """Each row's key, several columns joined by '/'; None when one of them is bad."""
        names = key_columns(self.table)
        if not self.values.keys() >= set(names):
            return [None] * len(self.numbers)
        columns = [Once(_key_text).all(self.values[name]) for name in names]
        keys: list[str | None] = list(map("/".join, zip(*columns, strict=True)))
        for place, bad in self.bad.items():
            if not bad.isdisjoint(names):
                keys[place] = None
        return keys


class Row:
    """One row. place: in the columns of its table."""

    __slots__ = ("cells", "place")

    def __init__(self, cells: Cells, place: int) -> None:
        self.cells, self.place = cells, place

    @property
    def number(self) -> int:
        """As the spreadsheet shows it."""
        return self.cells.numbers[self.place]

    @property
    def bad(self) -> frozenset[str]:
        """Columns that could not be read."""
        return self.cells.bad.get(self.place, self.cells.missing)

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
    """One table. known: whether its rows and every key column could be read, so that a name that is
    not in it is really missing."""

    cells: Cells
    known: bool = True

    @property
    def file(self) -> str:
        """File or sheet name."""
        return self.cells.file

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Made when they are asked for: nobody asks for all of a long history."""
        return tuple(Row(self.cells, place) for place in range(len(self.cells.numbers)))

    @cached_property
    def ids(self) -> frozenset[str]:
        """Every short name in the table's first key column, of bad rows too."""
        return frozenset(self.cells.texts.get(key_columns(self.cells.table)[0], ())) - {""}


@dataclass(frozen=True)
class Tables:
    """All tables that could be read. settings: every setting by name."""

    by_name: Mapping[str, Table]
    settings: Mapping[str, object]

    def rows(self, name: str) -> tuple[Row, ...]:
        """Rows of a table; none when the table is missing."""
        table = self.by_name.get(name)
        return table.rows if table else ()

    def rows_with(self, name: str, column: str, among: Collection[object]) -> Iterator[Row]:
        """Rows of a table whose cell is among some values."""
        table = self.by_name.get(name)
        if table is not None and among:
            for place, value in enumerate(table.cells.values.get(column, ())):
                if value in among:
                    yield Row(table.cells, place)

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
                values = set(table.cells.values.get(column.column, ()))
                ids = self.ids(column.ref_table or "")
                lost = {value for value in values if not ids.issuperset(_items(value))}
                for row in self.rows_with(name, column.column, lost):
                    for item in _items(row.value(column.column)):
                        if item not in ids:
                            yield row, column, item


def _items(value: object) -> tuple[str, ...]:
    items = value if isinstance(value, tuple) else (value,)
    return tuple(item for item in items if item and isinstance(item, str))
