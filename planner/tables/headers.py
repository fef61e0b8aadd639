"""Which cell of a row is which column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.problems import Problem
from planner.tables.columns import columns_of, table_names
from planner.tables.csv_files import ROWS_SEARCHED_FOR_HEADER
from planner.tables.sheets import Sheet
from planner.tables.text import clean, did_you_mean, header_name

ColumnMapping = Mapping[str, Mapping[str, str]]
"""Table -> the office's own header -> the planner's column."""


@dataclass(frozen=True)
class Header:
    """row: its row number. index: column -> cell index. office: column -> the office's header,
    where it has another name. missing: required columns that are not there. width: cells up to
    the last header."""

    row: int
    index: Mapping[str, int]
    office: Mapping[str, str]
    missing: tuple[str, ...]
    width: int


def known_headers(mapping: ColumnMapping) -> frozenset[str]:
    """Every header that may stand in some table, in the planner's spelling."""
    own = {name for table in table_names() for name in columns_of(table)}
    office = {header_name(header) for table in mapping.values() for header in table}
    return frozenset(own | office)


def read_header(
    table: str, sheet: Sheet, renamed: Mapping[str, str]
) -> tuple[Header | None, list[Problem]]:
    """The header of a sheet, and what is wrong in it: unknown, double and missing columns.

    None when the sheet has no rows at all."""
    if not sheet.rows:
        return None, []
    names = _names(table, renamed)
    number, cells = _header_row(sheet, names)
    index: dict[str, int] = {}
    office: dict[str, str] = {}
    problems: list[Problem] = []
    unknown: list[str] = []
    for place, cell in enumerate(cells):
        shown = clean(cell)
        if not shown or shown.startswith("_"):
            continue
        column = names.get(header_name(shown))
        if column is None:
            unknown.append(shown)
        elif column in index:
            problems.append(
                Problem(
                    sheet.name,
                    number,
                    column,
                    "COL-3",
                    "the column is there twice; the first was read",
                    shown,
                    "remove one, or name it with _ in front",
                )
            )
        else:
            index[column] = place
            if header_name(shown) != column:
                office[column] = shown
    problems += [_unknown(table, sheet, number, shown, index) for shown in unknown]
    missing = tuple(
        name for name, column in columns_of(table).items() if column.required and name not in index
    )
    width = max((place + 1 for place, cell in enumerate(cells) if clean(cell)), default=0)
    problems += [_missing(table, sheet, number, name, cells) for name in missing]
    return Header(number, index, office, missing, width), problems


def _names(table: str, renamed: Mapping[str, str]) -> dict[str, str]:
    names = {name: name for name in columns_of(table)}
    # The office's own word goes first: an office may call another thing by one of our names.
    names.update({header_name(header): column for header, column in renamed.items()})
    return names


def _header_row(sheet: Sheet, names: Mapping[str, str]) -> tuple[int, tuple[str, ...]]:
    """The first row that names at least two columns (titles may stand above it), else the first."""
    for number, cells in sheet.rows[:ROWS_SEARCHED_FOR_HEADER]:
        if sum(header_name(cell) in names for cell in cells) >= 2:
            return number, cells
    return sheet.rows[0]


def _unknown(
    table: str, sheet: Sheet, number: int, shown: str, found: Mapping[str, int]
) -> Problem:
    free = [name for name in columns_of(table) if name not in found]
    cure = did_you_mean(header_name(shown), free, f"`planner columns {table}` lists them")
    stop = "" if cure.endswith("?") else "."
    return Problem(
        sheet.name,
        number,
        None,
        "COL-1",
        f"the table {table} has no such column",
        shown,
        f"{cure}{stop} Or map it in planner.toml under [columns.{table}], or name it with _ in "
        "front if it is not for the planner",
    )


def _missing(table: str, sheet: Sheet, number: int, name: str, cells: tuple[str, ...]) -> Problem:
    column = columns_of(table)[name]
    meaning = column.meaning[:1].lower() + column.meaning[1:]
    return Problem(
        sheet.name,
        number,
        name,
        "COL-2",
        "the column is missing",
        cure=f"add it ({meaning}), or map your own header to it in planner.toml",
    )
