"""A table of places as it is, with or without coordinates, and a copy of it with them."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

from planner.problems import Problem
from planner.tables.columns import Header, known_headers, read_header
from planner.tables.office import OfficeFile, load_office_file
from planner.tables.open_sheets import open_sheets
from planner.tables.read_rows import data_rows, style_of
from planner.tables.sheets import Sheet
from planner.tables.text import clean, harmless

KEYS: Final = {"properties": "property", "sites": "site"}
"""Table that has addresses -> its key column."""

Point = tuple[float, float]

SURE_COLUMN = "_located"
SOURCE_COLUMN = "_located_as"
SUGGESTION_COLUMNS = ("_suggestion_1", "_suggestion_2", "_suggestion_3")
PICK_COLUMN = "_pick"
"""Headers of what is added. The planner passes over headers that begin with _, so the copy can be
used as it is."""

DEGREE_DECIMALS = 6
"""A millionth of a degree is four inches."""

_POINT_AT_END = re.compile(r"\((-?\d+\.\d+), (-?\d+\.\d+)\)$")


@dataclass(frozen=True)
class AddressRow:
    """One place. row: as the spreadsheet numbers it. name: property or site. is_located: lat and
    lon are both filled in, rightly or not. suggestions, pick: what the added cells hold."""

    row: int
    name: str
    address: str
    town: str
    state: str
    zip_code: str
    is_located: bool
    suggestions: tuple[str, ...]
    pick: str


@dataclass(frozen=True)
class AddressTable:
    """The places of a table. file: file or sheet name. points: of the rows that have them."""

    name: str
    file: str
    rows: tuple[AddressRow, ...]
    points: tuple[Point, ...]
    sheet: Sheet
    header: Header


@dataclass(frozen=True)
class Located:
    """What is written into a row. point: None = lat and lon stay as they are. The rest: the added
    cells; a pick is blanked."""

    point: Point | None
    sure: str
    found_as: str
    suggestions: Sequence[str] = ()


def read_address_tables(path: Path) -> tuple[dict[str, AddressTable], list[Problem]]:
    """Properties, and sites if there are any, and what keeps them from being read. Blank or
    missing coordinates are no problem here."""
    office = load_office_file(path)
    sheets, _, opening = open_sheets(path, known_headers(office.columns))
    problems = [*office.problems, *(p for p in opening if _is_about_places(p, path))]
    state = _setting(sheets.get("settings"), office.columns.get("settings", {}), "state")
    tables = {}
    for name, key in KEYS.items():
        if name in sheets:
            table, found = _table(name, key, sheets[name], office, state)
            problems += found
            if table is not None:
                tables[name] = table
    return tables, problems


def _is_about_places(problem: Problem, path: Path) -> bool:
    """Tables that are missing or unknown do not matter for addresses; a workbook that cannot be
    opened does."""
    return problem.file in (path.name, *KEYS, *(f"{name}.csv" for name in KEYS))


def _table(
    name: str, key: str, sheet: Sheet, office: OfficeFile, state: str
) -> tuple[AddressTable | None, list[Problem]]:
    header, found = read_header(name, sheet, office.columns.get(name, {}))
    needed = (key, "address") if name == "properties" else (key,)
    problems = [p for p in found if p.code == "COL-3" or p.column in needed]
    if header is None or any(column not in header.index for column in needed):
        return None, problems
    added = {clean(head): place for place, head in enumerate(_heads(sheet, header))}
    known = replace(header, index={**added, **header.index})
    rows, points = [], []
    for number, cells in data_rows(sheet, header):
        cell = partial(known.text, cells)
        lat, lon = cell("lat"), cell("lon")
        rows.append(
            AddressRow(
                row=number,
                name=cell(key),
                address=cell("address"),
                town=cell("town"),
                state=(cell("state") or state).upper(),
                zip_code=cell("zip"),
                is_located=bool(lat) and bool(lon),
                suggestions=tuple(cell(column) for column in SUGGESTION_COLUMNS),
                pick=cell(PICK_COLUMN),
            )
        )
        try:
            points.append((float(lat), float(lon)))
        except ValueError:
            continue
    points = [point for point in points if point != (0.0, 0.0)]
    return AddressTable(name, sheet.name, tuple(rows), tuple(points), sheet, header), problems


def _setting(sheet: Sheet | None, renamed: Mapping[str, str], name: str) -> str:
    header = read_header("settings", sheet, renamed)[0] if sheet else None
    if sheet is None or header is None:
        return ""
    for _, cells in data_rows(sheet, header):
        cell = partial(header.text, cells)
        if cell("setting").casefold() == name:
            return cell("value")
    return ""


def suggestion_text(text: str, point: Point) -> str:
    """A suggestion as its cell holds it: what it is, and where."""
    return f"{harmless(text)} ({point[0]:.{DEGREE_DECIMALS}f}, {point[1]:.{DEGREE_DECIMALS}f})"


def picked(row: AddressRow) -> Located | None:
    """The suggestion that a person picked, None when there is none of that number."""
    number = row.pick.removesuffix(".0")
    if number not in ("1", "2", "3"):
        return None
    found = suggested(row.suggestions[int(number) - 1])
    return None if found is None else Located(found[1], "picked", found[0])


def suggested(text: str) -> tuple[str, Point] | None:
    """What a suggestion's cell says, and where that is."""
    match = _POINT_AT_END.search(text)
    if match is None:
        return None
    return text[: match.start()].strip(), (float(match[1]), float(match[2]))


def located_copy(table: AddressTable, found: Mapping[int, Located]) -> str:
    """The whole table as CSV text with the cells that were found. found: by row number; other rows
    stay as they are. Titles above the header and blank rows are left out."""
    separator = table.sheet.separator or ","
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    rows = [row for row in table.sheet.rows if row[0] >= table.header.row]
    width = max(len(cells) for _, cells in rows)
    heads = _heads(table.sheet, table.header)
    heads += [""] * (width - len(heads))
    there = {clean(head): place for place, head in enumerate(heads)} | dict(table.header.index)
    columns = ["lat", "lon", SURE_COLUMN, SOURCE_COLUMN]
    if any(one.suggestions for one in found.values()):
        columns += [*SUGGESTION_COLUMNS, PICK_COLUMN]
    for column in columns:
        if column not in there:
            there[column] = len(heads)
            heads.append(column)
    writer.writerow(heads)
    decimal = _decimal_mark(table)
    for number, cells in rows[1:]:
        line = [*cells, *[""] * (len(heads) - len(cells))]
        result = found.get(number)
        if result is not None:
            for column, value in zip(("lat", "lon"), result.point or (), strict=False):
                line[there[column]] = f"{value:.{DEGREE_DECIMALS}f}".replace(".", decimal)
            line[there[SURE_COLUMN]] = result.sure
            line[there[SOURCE_COLUMN]] = harmless(result.found_as)
            texts = dict(zip(SUGGESTION_COLUMNS, result.suggestions, strict=False))
            for column in (*SUGGESTION_COLUMNS, PICK_COLUMN):
                if column in there:
                    line[there[column]] = texts.get(column, "")
        writer.writerow(line)
    return out.getvalue()


def _heads(sheet: Sheet, header: Header) -> list[str]:
    return next(list(cells) for number, cells in sheet.rows if number == header.row)


def _decimal_mark(table: AddressTable) -> str:
    """How the file writes decimals: an office with semicolons may use commas."""
    style = style_of(table.name, table.sheet, table.header)
    return "," if style.decimal_commas else "."
