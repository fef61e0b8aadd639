"""Rows of text -> rows of values, with a problem for every cell that cannot be read; the
fingerprint of the content."""

import hashlib
import re
from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain, islice, repeat, zip_longest
from typing import Final

from planner.problems import Problem
from planner.tables.cells import NUMBER_KINDS, Style, read_cell, shows_decimal_comma
from planner.tables.columns import (
    FORMER_NAMES,
    SETTINGS,
    Column,
    Header,
    columns_of,
    present_name,
    settings_columns,
    table_names,
)
from planner.tables.rows import BAD, Cells, Once, Table, Tables
from planner.tables.sheets import Sheet
from planner.tables.text import CellError, clean, did_you_mean
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
    rows = [(number, cells) for number, cells in sheet.rows if _says(number, cells, header)]
    numbers = array("L", (number for number, _ in rows))
    columns = list(zip_longest(*(cells for _, cells in rows), fillvalue=""))
    del rows
    cleaned = Once(_cleaned)
    problems = list(_too_wide(sheet, numbers, columns[header.width :], cleaned))
    blank = [""] * len(numbers)

    def written(place: int) -> list[str]:
        return cleaned.all(columns[place]) if place < len(columns) else blank

    texts = {column: written(place) for column, place in header.index.items()}
    for joined, places in header.joined.items():
        parts = zip(*map(written, places), strict=True)
        texts[joined] = [" ".join(filter(None, words)) for words in parts]
    formulations = [
        formulation_of(own, product)
        for own, product in zip(
            texts.get("formulation", blank), texts.get("product", blank), strict=True
        )
    ]
    style = style_of(name, sheet, header)
    missing = frozenset(header.missing)
    values: dict[str, list[object]] = {}
    bad: dict[int, frozenset[str]] = {}
    for column in columns_of(name).values():
        if column.column not in missing:
            cells = texts.get(column.column, blank)
            read = _values(column, cells, formulations, style)
            for place, problem in _wrong(column, sheet, header, numbers, cells, read):
                read[place] = BAD
                bad[place] = bad.get(place, missing) | {column.column}
                problems.append(problem)
            values[column.column] = read
    known = not any(columns_of(name)[column].key for column in missing)
    return Table(Cells(name, sheet.name, numbers, values, texts, bad, missing), known), problems


def _values(
    column: Column, texts: list[str], formulations: list[str | None], style: Style
) -> list[object]:
    """A column's values; the error where a cell cannot be read."""
    if column.item_kind == "rate":
        rates = Once(lambda key: _value(column, key[0], style, key[1]))
        return rates.all(zip(texts, formulations, strict=True))
    return Once(lambda text: _value(column, text, style, None)).all(texts)


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
    numbers: Sequence[int],
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
    cleaned = Once(_cleaned)
    return [
        (number, tuple(cleaned.all(cells)))
        for number, cells in sheet.rows
        if _says(number, cells, header)
    ]


def _says(number: int, cells: Sequence[str], header: Header) -> bool:
    """Whether a row lies below the header and is neither blank nor a comment."""
    if number <= header.row:
        return False
    if cells and cells[0][:1].isalnum():
        return True
    texts = list(filter(None, map(clean, cells)))
    return bool(texts) and (texts[0][0] != "#" or len(texts) > 1)


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


def _too_wide(
    sheet: Sheet, numbers: Sequence[int], beyond: list[tuple[str, ...]], cleaned: Once
) -> Iterator[Problem]:
    """beyond: the columns to the right of the header; fewer cells than headers are no fault, as
    Excel drops blank cells at the end of a row."""
    for number, cells in zip(numbers, zip(*map(cleaned.all, beyond), strict=True), strict=False):
        extra = next(filter(None, cells), None)
        if extra is not None:
            yield Problem(
                sheet.name,
                number,
                None,
                "ROW-1",
                "the row has more cells than the header has columns",
                extra,
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


OF_NO_DAY: Final = ("programs", "property_programs", "temperatures", "climate")
"""Tables that make orders or calendars and have no part in a day's plan; a new line of temperatures
does not make the plan that was printed one of other tables."""

ROWS_AT_ONCE: Final = 5_000

_BARE: Final = ("usual_truck", "in_store", "trucks_at_once")
"""Each was the only one of its table: its value alone said which column it was in."""


def digest_of(tables: Tables) -> str:
    """SHA-256 of what the tables say, not of how they are written: the same for a folder of CSV
    files and for the same sheets in Excel, for '1,200' and '1200', and wherever a default is
    written out. A cell that cannot be read counts by its text."""
    sha = hashlib.sha256()
    settings = {FORMER_NAMES.get(name, name): value for name, value in tables.settings.items()}
    for name, value in sorted(settings.items()):
        column = settings_columns().get(name)
        if column is not None and column.later and value == blank_value(column):
            continue
        sha.update(f"settings\x1f{name}\x1f{value!r}\x1e".encode())
    for name in table_names():
        if name == SETTINGS or name in OF_NO_DAY:
            continue
        if name in tables.by_name:
            for text in _row_texts(name, tables.by_name[name].cells):
                sha.update(text.encode())
    return sha.hexdigest()


def _row_texts(name: str, cells: Cells) -> Iterator[str]:
    """The rows as text, many at once: cells column by column, and put together only then."""
    if not cells.numbers:
        return
    columns: list[Iterable[str]] = []
    blank = [""] * len(cells.numbers)
    for column, about in columns_of(name).items():
        later = about.later
        prefix = f"\x1f{column}=" if later and column not in _BARE else "\x1f"
        values, texts = cells.values.get(column), cells.texts.get(column, blank)
        if later and not any(texts):
            continue
        # Cells that say the same share their value.
        different = {id(value): value for value in values or ()}
        shown = {at: prefix + repr(value) for at, value in different.items()}
        if values is not None and not later and id(BAD) not in different:
            columns.append(map(shown.__getitem__, map(id, values)))
            continue
        columns.append(
            [
                "" if later and not text
                else f"{prefix}?{text}" if value is BAD
                else shown[id(value)]
                for value, text in zip(values or [BAD] * len(blank), texts, strict=True)
            ]
        )  # fmt: skip
    every = zip(repeat(name), *columns, repeat("\x1e"))  # these two never end
    while rows_text := "".join(chain.from_iterable(islice(every, ROWS_AT_ONCE))):
        yield rows_text
