"""Another program's export, as it is, as rows below a header."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from planner.problems import Problem
from planner.tables.cells import Style, shows_decimal_comma
from planner.tables.csv_files import read_foreign_csv
from planner.tables.open_sheets import XLSX_SUFFIXES
from planner.tables.sheets import Sheet, SheetError, column_letters
from planner.tables.text import clean, did_you_mean

ROWS_SEARCHED = 30
"""Titles, filters and dates of printing stand above the header, not more."""

_TOTAL = re.compile(r"(grand |sub)?-?totals?\b|count\b|sum\b|records?\b|average\b", re.IGNORECASE)

_DECIMAL_POINT = re.compile(r"\$?\d+\.(\d{1,2}|\d{4,})\s*[A-Za-z]*")


@dataclass(frozen=True)
class Export:
    """name: of file or sheet, for messages. headers: each once; a blank one is 'column F', a second
    one 'Phone (2)'. places: of each header in the sheet. rows: (row number, cells as they stand),
    as many cells as headers. notes: what was passed over or guessed, in words."""

    name: str
    headers: tuple[str, ...]
    places: tuple[int, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    style: Style
    notes: tuple[str, ...]
    sheet: Sheet

    def column(self, header: str) -> list[str]:
        """The cells below a header, cleaned, blank ones left out."""
        place = self.headers.index(header)
        return [text for _, cells in self.rows if (text := clean(cells[place]))]


def open_export(path: Path, sheet_name: str, is_known: Callable[[str], bool]) -> Export:
    """Read an export (CSV of any encoding and separator, or Excel). sheet_name: of Excel, '' = the
    one with the most rows; is_known: whether a text looks like a header.

    Raises SheetError.
    """
    sheet = _sheet(path, sheet_name)
    if not sheet.rows:
        message = "the export has no rows"
        raise SheetError(
            Problem(sheet.name, None, None, "TABLE-4", message, cure="export it again")
        )
    number, head = _header_row(sheet, is_known)
    width = max(len(cells) for _, cells in sheet.rows if _ >= number)
    below = [(row, cells) for row, cells in sheet.rows if row > number]
    used = [
        any(clean(cells[place]) for _, cells in below if place < len(cells))
        for place in range(width)
    ]
    headers = _headers(head, width)
    kept = [
        place for place in range(width) if used[place] or (place < len(head) and clean(head[place]))
    ]
    rows, notes = [], []
    if sheet.encoding in ("cp1252", "latin-1"):
        notes.append("It is not UTF-8 and was read as Windows text; look at names with accents.")
    for row, cells in below:
        whole = tuple([*cells, *[""] * (width - len(cells))][place] for place in kept)
        why = _no_data(whole, tuple(head), len(kept))
        if why:
            first = next(clean(cell) for cell in whole if clean(cell))
            notes.append(f"Row {row} was passed over: {why} ('{first}').")
        else:
            rows.append((row, whole))
    return Export(
        sheet.name,
        tuple(headers[place] for place in kept),
        tuple(kept),
        tuple(rows),
        _style(sheet, rows),
        tuple(notes),
        sheet,
    )


def _sheet(path: Path, sheet_name: str) -> Sheet:
    if path.suffix.lower() not in XLSX_SUFFIXES:
        if sheet_name:
            message, cure = "a CSV file has no sheets", "leave --sheet out"
            raise SheetError(Problem(path.name, None, None, "TABLE-1", message, sheet_name, cure))
        return read_foreign_csv(path)
    # Imported here: a quarter of a second that most offices never need.
    from planner.tables.xlsx_files import read_xlsx_file

    sheets = {sheet.name: sheet for sheet in read_xlsx_file(path)}
    if not sheet_name:
        return max(sheets.values(), key=lambda sheet: len(sheet.rows))
    if sheet_name not in sheets:
        cure = did_you_mean(sheet_name, list(sheets), "look at its tabs")
        problem = Problem(
            path.name, None, None, "TABLE-1", "there is no such sheet", sheet_name, cure
        )
        raise SheetError(problem)
    return sheets[sheet_name]


def _header_row(sheet: Sheet, is_known: Callable[[str], bool]) -> tuple[int, tuple[str, ...]]:
    """The row with the most known headers, else the first with the most cells in words."""

    def score(row: tuple[int, tuple[str, ...]]) -> tuple[int, int]:
        texts = {clean(cell) for cell in row[1] if clean(cell)}
        words = sum(not re.fullmatch(r"[\d.,:/$%+-]+", text) for text in texts)
        return sum(map(is_known, texts)), words

    return max(sheet.rows[:ROWS_SEARCHED], key=score)


def _headers(head: tuple[str, ...], width: int) -> list[str]:
    names: list[str] = []
    seen: Counter[str] = Counter()
    for place in range(width):
        name = clean(head[place]) if place < len(head) else ""
        name = name or f"column {column_letters(place)}"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def _no_data(cells: tuple[str, ...], head: tuple[str, ...], width: int) -> str:
    """Why a row is none of the export's data; '' if it is."""
    filled = [clean(cell) for cell in cells if clean(cell)]
    if not filled:
        return "it is blank"
    if len(filled) <= width / 2 and any(_TOTAL.match(text) for text in filled[:2]):
        return "it is a total"
    if filled == [clean(cell) for cell in head if clean(cell)]:
        return "it is the header again"
    if width >= 4 and len(filled) == 1:
        return "a single cell is no customer"
    return ""


def _style(sheet: Sheet, rows: list[tuple[int, tuple[str, ...]]]) -> Style:
    """Semicolons alone do not make a comma a decimal one, where numbers show a decimal point."""
    texts = {clean(cell) for _, cells in rows for cell in cells if "," in cell or "." in cell}
    commas = sheet.separator == ";" and any(map(shows_decimal_comma, texts))
    points = any(map(_DECIMAL_POINT.fullmatch, texts))
    semicolons = sheet.separator == ";" and (commas or not points)
    return Style(semicolons, commas, sheet.epoch_1904)
