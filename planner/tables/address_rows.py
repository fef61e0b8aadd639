"""The properties table as it is, with or without coordinates, and a copy of it with them."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from planner.problems import Problem
from planner.tables.headers import Header, known_headers, read_header
from planner.tables.office import load_office_file
from planner.tables.open_sheets import open_sheets
from planner.tables.read_rows import data_rows, style_of
from planner.tables.sheets import Sheet
from planner.tables.text import clean

PROPERTIES = "properties"
SURE_COLUMN = "_located"
SOURCE_COLUMN = "_located_as"
"""Headers of what is added. The planner passes over headers that begin with _, so the copy can be
used as it is."""

DEGREE_DECIMALS = 6
"""A millionth of a degree is four inches."""


@dataclass(frozen=True)
class AddressRow:
    """One property. row: as the spreadsheet numbers it. is_located: lat and lon are both filled
    in, rightly or not."""

    row: int
    property_id: str
    address: str
    town: str
    state: str
    zip_code: str
    is_located: bool


@dataclass(frozen=True)
class AddressTable:
    """The properties of a workbook. file: file or sheet name. yards: (lat, lon) of the sites that
    have them."""

    file: str
    rows: tuple[AddressRow, ...]
    yards: tuple[tuple[float, float], ...]
    sheet: Sheet
    header: Header


@dataclass(frozen=True)
class Located:
    """What is written into a row. point: None = lat and lon stay blank. sure, found_as: the added
    cells."""

    point: tuple[float, float] | None
    sure: str
    found_as: str


def read_address_table(path: Path) -> tuple[AddressTable | None, list[Problem]]:
    """The properties of a workbook, and what keeps them from being read. Blank or missing
    coordinates are no problem here."""
    office = load_office_file(path)
    sheets, _, opening = open_sheets(path, known_headers(office.columns))
    problems = [*office.problems, *(p for p in opening if _is_about_properties(p, path))]
    sheet = sheets.get(PROPERTIES)
    if sheet is None:
        return None, problems
    header, found = read_header(PROPERTIES, sheet, office.columns.get(PROPERTIES, {}))
    needed = ("property", "address")
    problems += [p for p in found if p.code == "COL-3" or p.column in needed]
    if header is None or any(name not in header.index for name in needed):
        return None, problems
    state = _setting(sheets.get("settings"), office.columns.get("settings", {}), "state")
    rows = tuple(_row(number, cells, header, state) for number, cells in data_rows(sheet, header))
    yards = _yards(sheets.get("sites"), office.columns.get("sites", {}))
    return AddressTable(sheet.name, rows, yards, sheet, header), problems


def _is_about_properties(problem: Problem, path: Path) -> bool:
    """Tables that are missing or unknown do not matter for addresses; a workbook that cannot be
    opened does."""
    return problem.file in (path.name, PROPERTIES, f"{PROPERTIES}.csv")


def _row(number: int, cells: tuple[str, ...], header: Header, state: str) -> AddressRow:
    cell = partial(header.text, cells)
    return AddressRow(
        row=number,
        property_id=cell("property"),
        address=cell("address"),
        town=cell("town"),
        state=(cell("state") or state).upper(),
        zip_code=cell("zip"),
        is_located=bool(cell("lat")) and bool(cell("lon")),
    )


def _setting(sheet: Sheet | None, renamed: Mapping[str, str], name: str) -> str:
    header = read_header("settings", sheet, renamed)[0] if sheet else None
    if sheet is None or header is None or not {"setting", "value"} <= set(header.index):
        return ""
    for _, cells in data_rows(sheet, header):
        if len(cells) > max(header.index["setting"], header.index["value"]) and (
            cells[header.index["setting"]].casefold() == name
        ):
            return cells[header.index["value"]]
    return ""


def _yards(sheet: Sheet | None, renamed: Mapping[str, str]) -> tuple[tuple[float, float], ...]:
    header = read_header("sites", sheet, renamed)[0] if sheet else None
    if sheet is None or header is None or not {"lat", "lon"} <= set(header.index):
        return ()
    points = []
    for _, cells in data_rows(sheet, header):
        try:
            points.append((float(cells[header.index["lat"]]), float(cells[header.index["lon"]])))
        except (ValueError, IndexError):
            continue
    return tuple(point for point in points if point != (0.0, 0.0))


def located_copy(table: AddressTable, found: Mapping[int, Located]) -> str:
    """The whole table as CSV text with the cells that were found. found: by row number; other rows
    stay as they are, with blank added cells. Titles above the header and blank rows are left
    out."""
    separator = table.sheet.separator or ","
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    rows = [row for row in table.sheet.rows if row[0] >= table.header.row]
    width = max(len(cells) for _, cells in rows)
    heads = [*rows[0][1], *[""] * (width - len(rows[0][1]))]
    at = {column: table.header.index.get(column) for column in ("lat", "lon")}
    for column in ("lat", "lon"):
        if at[column] is None:
            at[column] = len(heads)
            heads.append(column)
    added = []
    for column in (SURE_COLUMN, SOURCE_COLUMN):
        same = [place for place, head in enumerate(heads) if clean(head) == column]
        added.append(same[0] if same else len(heads))
        if not same:
            heads.append(column)
    writer.writerow(heads)
    decimal = _decimal_mark(table)
    for number, cells in rows[1:]:
        line = [*cells, *[""] * (len(heads) - len(cells))]
        result = found.get(number)
        if result is not None:
            if result.point is not None:
                for column, value in zip(("lat", "lon"), result.point, strict=True):
                    place = at[column]
                    assert place is not None
                    line[place] = f"{value:.{DEGREE_DECIMALS}f}".replace(".", decimal)
            line[added[0]], line[added[1]] = result.sure, _harmless(result.found_as)
        writer.writerow(line)
    return out.getvalue()


def _harmless(text: str) -> str:
    """Text from outside that no spreadsheet takes for a formula."""
    return clean(text).lstrip("=+-@ ")


def _decimal_mark(table: AddressTable) -> str:
    """How the file writes decimals: an office with semicolons may use commas."""
    style = style_of(PROPERTIES, table.sheet, table.header)
    return "," if style.decimal_commas else "."
