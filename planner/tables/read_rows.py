"""Rows of text -> rows of values, with a problem for every cell that cannot be read."""

from __future__ import annotations

import re
from collections.abc import Callable

from planner.problems import Problem
from planner.tables.cell_error import CellError
from planner.tables.cells import NUMBER_KINDS, Style, read_cell, shows_decimal_comma
from planner.tables.columns import SETTINGS, Column, columns_of, settings_columns
from planner.tables.headers import Header
from planner.tables.rows import Row, Table
from planner.tables.sheets import Sheet
from planner.tables.text import clean, did_you_mean
from planner.units import UnitError

FormulationOf = Callable[[dict[str, str]], str | None]
"""Cells of a row -> formulation code of the product that the row's rates belong to."""

_SPREADSHEET_ERROR = re.compile(
    r"#(REF|VALUE|NAME|DIV/0|NUM|NULL|SPILL|CALC)[!?]|#N/A|Err:\d{3}|#{3,}"
)
"""Errors of Excel and LibreOffice as they stand in a CSV file, and cells too narrow to show."""

_FAULTS = {
    "CELL-2": (
        "the formula's result is not stored in the file",
        "open the file in Excel and save it, or paste the result as a value",
    ),
    "CELL-3": ("the cell holds a spreadsheet error", "repair the formula or write the value"),
    "CELL-4": ("the cell is merged with others", "unmerge the cells and fill each one"),
}


def read_table(
    name: str, sheet: Sheet, header: Header, formulation_of: FormulationOf
) -> tuple[Table, list[Problem]]:
    """The rows of a table below its header, and every problem in their cells.

    Blank rows and comment rows (a single cell that begins with #) are passed over.
    """
    reader = _Reader(name, sheet, header, formulation_of)
    rows = tuple(reader.row(number, cells) for number, cells in data_rows(sheet, header))
    known = not any(columns_of(name)[column].key for column in header.missing)
    return Table(name, sheet.name, rows, known), reader.problems


def data_rows(sheet: Sheet, header: Header) -> list[tuple[int, tuple[str, ...]]]:
    """The rows below the header that are neither blank nor comments, cells cleaned."""
    rows = []
    for number, cells in sheet.rows:
        if number <= header.row:
            continue
        texts = tuple(clean(cell) for cell in cells)
        filled = [text for text in texts if text]
        if filled and not (len(filled) == 1 and filled[0].startswith("#")):
            rows.append((number, texts))
    return rows


def style_of(name: str, sheet: Sheet, header: Header) -> Style:
    """How the file writes its numbers."""
    semicolons = sheet.separator == ";"
    places = [
        header.index[column.column]
        for column in columns_of(name).values()
        if column.item_kind in NUMBER_KINDS and column.column in header.index
    ]
    decimal_commas = semicolons and any(
        shows_decimal_comma(cells[place])
        for _, cells in data_rows(sheet, header)
        for place in places
        if place < len(cells)
    )
    return Style(semicolons, decimal_commas, sheet.epoch_1904)


class _Reader:
    def __init__(
        self, name: str, sheet: Sheet, header: Header, formulation_of: FormulationOf
    ) -> None:
        self.name, self.sheet, self.header = name, sheet, header
        self.formulation_of = formulation_of
        self.style = style_of(name, sheet, header)
        self.columns = columns_of(name)
        self.problems: list[Problem] = []
        # A column says the same few things thousands of times; values never change, so that rows
        # may share them.
        self.seen: dict[tuple[str, str, str | None], object] = {}

    def row(self, number: int, cells: tuple[str, ...]) -> Row:
        self._check_width(number, cells)
        texts = {column: self.header.text(cells, column) for column in self.header.index}
        formulation = self.formulation_of(texts)
        values: dict[str, object] = {}
        bad = set(self.header.missing)
        for name, column in self.columns.items():
            if name in self.header.missing:
                continue
            place = self.header.index.get(name)
            problem = cell_fault(self.sheet, number, place, name, texts.get(name, ""))
            if problem is None:
                value = self._value(number, column, texts.get(name, ""), formulation)
                if isinstance(value, Problem):
                    problem = value
                else:
                    values[name] = value
            if problem is not None:
                bad.add(name)
                self.problems.append(problem)
        return Row(self.name, self.sheet.name, number, values, texts, frozenset(bad))

    def _value(self, number: int, column: Column, text: str, formulation: str | None) -> object:
        if not text and column.required:
            meaning = column.meaning[:1].lower() + column.meaning[1:]
            return Problem(
                self.sheet.name,
                number,
                column.column,
                "CELL-1",
                "the cell is blank",
                cure=f"fill it in: {meaning}",
            )
        key = (column.column, text, formulation)
        if key in self.seen:
            return self.seen[key]
        if text:
            value = cell_value(self.sheet.name, number, column, text, self.style, formulation)
        else:
            value = blank_value(column)
        if not isinstance(value, Problem):
            self.seen[key] = value
        return value

    def _check_width(self, number: int, cells: tuple[str, ...]) -> None:
        # Fewer cells than headers are no fault: Excel drops blank cells at the end of a row.
        extra = [cell for cell in cells[self.header.width :] if cell]
        if extra:
            self.problems.append(
                Problem(
                    self.sheet.name,
                    number,
                    None,
                    "ROW-1",
                    "the row has more cells than the header has columns",
                    extra[0],
                    'a cell that holds a comma must stand in quotation marks ("...")',
                )
            )


def cell_fault(
    sheet: Sheet, number: int, place: int | None, column: str, text: str
) -> Problem | None:
    """What keeps a cell from having a value at all: a spreadsheet's error, a merged cell, a formula
    without its result."""
    code = sheet.faults.get((number, place)) if place is not None else None
    if code is None and text[:1] in "#E" and _SPREADSHEET_ERROR.fullmatch(text):
        code = "CELL-3"
    if code is None:
        return None
    message, cure = _FAULTS[code]
    return Problem(sheet.name, number, column, code, message, text, cure)


def blank_value(column: Column) -> object:
    """What a blank cell of the column means."""
    if column.default:
        return read_cell(column.default, column, Style())
    if column.is_list or column.kind == "dates":
        return ()
    return "" if column.item_kind in ("text", "id", "phone", "email") else None


def cell_value(
    file: str,
    number: int,
    column: Column,
    text: str,
    style: Style,
    formulation: str | None = None,
    shown_column: str | None = None,
) -> object:
    """The value of a written cell, or the Problem in it. shown_column: named in the problem, where
    it is not the column itself (settings)."""
    try:
        return read_cell(text, column, style, formulation)
    except (CellError, UnitError) as error:
        place = shown_column or column.column
        return Problem(file, number, place, error.code, error.message, text, error.cure)


def read_settings(table: Table | None, style: Style) -> tuple[dict[str, object], list[Problem]]:
    """Every setting by name, the defaults where none or a bad one is written, and the problems."""
    known = settings_columns()
    values = {name: blank_value(column) for name, column in known.items()}
    problems: list[Problem] = []
    for row in table.rows if table else ():
        name = row.text("setting")
        column = known.get(name.casefold().replace(" ", "_"))
        if not row.good("setting"):
            continue
        if column is None:
            cure = did_you_mean(name, list(known), f"`planner columns {SETTINGS}` lists them")
            problems.append(row.problem("setting", "SET-1", "there is no such setting", cure))
            continue
        text = row.text("value")
        if not text:
            continue
        value = cell_value(row.file, row.number, column, text, style, shown_column="value")
        if isinstance(value, Problem):
            problems.append(value)
        else:
            values[column.column] = value
    return values, problems
