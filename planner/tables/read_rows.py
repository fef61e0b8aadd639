"""Rows of text -> rows of values, with a problem for every cell that cannot be read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any, Final

from planner.problems import Problem
from planner.tables.cell_error import CellError
from planner.tables.cells import NUMBER_KINDS, Style, read_cell, shows_decimal_comma
from planner.tables.columns import SETTINGS, Column, columns_of, present_name, settings_columns
from planner.tables.headers import Header
from planner.tables.rows import BAD, Cells, Row, Table
from planner.tables.sheets import Sheet
from planner.tables.text import clean, did_you_mean
from planner.units import UnitError

FormulationOf = Callable[[str, str], str | None]
"""Cells `formulation` and `product` of a row -> formulation code of the product that the row's
rates belong to."""

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
    rows = data_rows(sheet, header)
    problems = list(_too_wide(sheet, header, rows))
    numbers = [number for number, _ in rows]
    texts = {column: _texts(rows, header, column) for column in header.index}
    blank = [""] * len(rows)
    formulations = [
        formulation_of(own, product)
        for own, product in zip(
            texts.get("formulation", blank), texts.get("product", blank), strict=True
        )
    ]
    style = style_of(name, sheet, header)
    values: dict[str, list[object]] = {}
    bad: dict[int, set[str]] = {}
    for column in columns_of(name).values():
        if column.column not in header.missing:
            cells = texts.get(column.column, blank)
            read = _values(column, cells, formulations, style)
            for place, problem in _wrong(column, sheet, header, numbers, cells, read):
                read[place] = BAD
                bad.setdefault(place, set()).add(column.column)
                problems.append(problem)
            values[column.column] = read
    every = Cells(name, sheet.name, len(rows), values, texts)
    missing = frozenset(header.missing)
    table = tuple(
        Row(every, place, number, missing | bad[place] if place in bad else missing)
        for place, number in enumerate(numbers)
    )
    known = not any(columns_of(name)[column].key for column in header.missing)
    return Table(name, sheet.name, table, known), problems


Rows = list[tuple[int, tuple[str, ...]]]


def _texts(rows: Rows, header: Header, column: str) -> list[str]:
    if column in header.joined:
        return [header.text(cells, column) for _, cells in rows]
    place = header.index[column]
    return [cells[place] if place < len(cells) else "" for _, cells in rows]


def _values(
    column: Column, texts: list[str], formulations: list[str | None], style: Style
) -> list[object]:
    """A column's values; the error where a cell cannot be read. A column says the same few things
    thousands of times: each is read once, and rows share the value."""
    if column.item_kind == "rate":
        rates = _Read(lambda key: _value(column, key[0], style, key[1]))
        return list(map(rates.__getitem__, zip(texts, formulations, strict=True)))
    read = _Read(lambda text: _value(column, text, style, None))
    return list(map(read.__getitem__, texts))


class _Read(dict[Any, Any]):
    """Values by what is written, each read once."""

    def __init__(self, read: Callable[[Any], object]) -> None:
        self._read = read

    def __missing__(self, key: Any) -> Any:
        self[key] = value = self._read(key)
        return value


def _value(column: Column, text: str, style: Style, formulation: str | None) -> object:
    if not text:
        return _BLANK if column.required else blank_value(column)
    if text[0] in "#E" and _SPREADSHEET_ERROR.fullmatch(text):
        return _BLANK  # Told by cell_fault.
    try:
        return read_cell(text, column, style, formulation)
    except (CellError, UnitError) as error:
        return error


_BLANK: Final = CellError("CELL-1", "the cell is blank", "fill it in")


def _wrong(
    column: Column,
    sheet: Sheet,
    header: Header,
    numbers: list[int],
    texts: list[str],
    values: list[object],
) -> Iterator[tuple[int, Problem]]:
    """The cells of a column that have no value: place and problem."""
    index, name = header.index.get(column.column), column.column
    faults = {number for number, place in sheet.faults if place == index}
    kinds = set(map(type, values))
    if not faults and not any(issubclass(kind, (CellError, UnitError)) for kind in kinds):
        return
    for place, value in enumerate(values):
        if not isinstance(value, (CellError, UnitError)) and numbers[place] not in faults:
            continue
        text, number = texts[place], numbers[place]
        problem = cell_fault(sheet, number, index, name, text)
        if problem is not None:
            yield place, problem
        elif value is _BLANK:
            cure = f"fill it in: {column.meaning[:1].lower()}{column.meaning[1:]}"
            yield (
                place,
                Problem(sheet.name, number, name, "CELL-1", "the cell is blank", cure=cure),
            )
        elif isinstance(value, (CellError, UnitError)):
            yield (
                place,
                Problem(sheet.name, number, name, value.code, value.message, text, value.cure),
            )


def data_rows(sheet: Sheet, header: Header) -> list[tuple[int, tuple[str, ...]]]:
    """The rows below the header that are neither blank nor comments, cells cleaned."""
    rows = []
    cleaned = _Read(_cleaned)
    for number, cells in sheet.rows:
        if number <= header.row:
            continue
        texts = tuple(map(cleaned.__getitem__, cells))
        first = next(filter(None, texts), "")
        if first and (first[0] != "#" or sum(map(bool, texts)) > 1):
            rows.append((number, texts))
    return rows


def _cleaned(written: str) -> str:
    text = clean(written)
    return written if text == written else text


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


def _too_wide(sheet: Sheet, header: Header, rows: Rows) -> Iterator[Problem]:
    for number, cells in rows:
        # Fewer cells than headers are no fault: Excel drops blank cells at the end of a row.
        extra = [cell for cell in cells[header.width :] if cell]
        if extra:
            yield Problem(
                sheet.name,
                number,
                None,
                "ROW-1",
                "the row has more cells than the header has columns",
                extra[0],
                'a cell that holds a comma must stand in quotation marks ("...")',
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
        column = known.get(present_name(name.casefold().replace(" ", "_")))
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
