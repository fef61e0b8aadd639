"""Excel workbooks -> rows of text, and back; the only module that imports openpyxl."""

import datetime as dt
import io
import re
import warnings
import zipfile
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import openpyxl
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import coordinate_to_tuple, get_column_letter
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.worksheet import Worksheet

from planner.problems import Problem
from planner.tables.sheets import (
    Sheet,
    SheetError,
    check_archive,
    check_cells,
    check_file,
    check_merged,
    check_place,
)


def read_xlsx_file(path: Path) -> list[Sheet]:
    """Every sheet. Raises SheetError when the file is no Excel workbook."""
    try:
        with warnings.catch_warnings():
            # openpyxl warns of drawings and rules of Excel that it leaves out; no cell is lost.
            warnings.simplefilter("ignore")
            check_file(path)
            check_archive(path)
            has_formulas = _has_formulas(path)
            book = openpyxl.load_workbook(path, data_only=True)
            formulas = openpyxl.load_workbook(path) if has_formulas else None
            return [
                _sheet(sheet, formulas[sheet.title] if formulas else None, book.epoch)
                for sheet in book.worksheets
            ]
    except SheetError:
        raise
    except OSError as error:
        raise _cannot_open(path, error.strerror or str(error)) from error
    except Exception as error:
        # A damaged file fails in openpyxl's and zipfile's many ways (KeyError, BadZipFile,
        # ParseError, TypeError ...); for the office all of them mean the same.
        raise _cannot_open(path, "it is damaged, locked with a password or no .xlsx") from error


def _cannot_open(path: Path, why: str) -> SheetError:
    return SheetError(
        Problem(
            path.name,
            None,
            None,
            "FILE-1",
            f"the workbook cannot be opened: {why}",
            cure="close it in Excel, remove its password, or save it again as .xlsx",
        )
    )


def _has_formulas(path: Path) -> bool:
    """Whether any cell has one. Raises SheetError for cells merged over a sheet: openpyxl would
    make every one of them."""
    found = False
    with zipfile.ZipFile(path) as archive:
        if _STRICT in archive.read("xl/workbook.xml"):
            raise _cannot_open(path, "it was saved as 'Strict Open XML', not as 'Excel Workbook'")
        for name in archive.namelist():
            if name.startswith("xl/worksheets/"):
                content = archive.read(name)
                found = found or any(mark in content for mark in (b"<f>", b"<f ", b"<f/>"))
                for match in _MERGED.finditer(content):
                    first, last = (coordinate_to_tuple(part.decode()) for part in match.groups())
                    cells = (last[0] - first[0] + 1) * (last[1] - first[1] + 1)
                    check_merged(path.name, cells, f"{match[1].decode()}:{match[2].decode()}")
    return found


_STRICT: Final = b"http://purl.oclc.org/ooxml/"
"""Names of ISO/IEC 29500-1 Strict, which openpyxl takes for a workbook without cells."""
_MERGED: Final = re.compile(rb'<mergeCell [^>]*ref="([A-Z]{1,3}[0-9]{1,7}):([A-Z]{1,3}[0-9]{1,7})"')


def _sheet(sheet: Worksheet, formulas: Worksheet | None, epoch: dt.datetime) -> Sheet:
    rows: list[tuple[int, tuple[str, ...]]] = []
    faults: dict[tuple[int, int], str] = {}
    # Only cells that are there: a stray one in the last row would make thousands of millions.
    by_row: dict[int, list[Any]] = defaultdict(list)
    every: Iterable[Any] = sheet._cells.values()  # noqa: SLF001 openpyxl has no other way
    for cell in every:
        by_row[cell.row].append(cell)
    for number, cells in sorted(by_row.items()):
        texts: list[str] = []
        for cell in sorted(cells, key=lambda cell: cell.column):
            text, index = _text(cell), cell.column - 1
            if cell.data_type == "e":
                faults[number, index] = "CELL-3"
            elif formulas is not None and _no_result(cell, formulas):
                faults[number, index] = "CELL-2"
                text = str(formulas.cell(number, index + 1).value)
            if text.strip():
                check_place(sheet.title, number, cell.column, cell.coordinate)
                texts += [""] * (cell.column - len(texts))
                texts[index] = text
        if texts:
            check_cells(sheet.title, number, texts)
            rows.append((number, tuple(texts)))
    for merged in sheet.merged_cells.ranges:
        faults[merged.min_row, merged.min_col - 1] = "CELL-4"
    return Sheet(sheet.title, tuple(rows), epoch_1904=epoch == CALENDAR_MAC_1904, faults=faults)


def _no_result(cell: Any, formulas: Worksheet) -> bool:
    # A result that is an empty text comes as type 'str' without a value; it is no fault.
    return (
        cell.value is None
        and cell.data_type != "str"
        and formulas.cell(cell.row, cell.column).data_type == "f"
    )


def _text(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if "%" in (cell.number_format or ""):
            return _number_text(value * 100) + "%"
        return _number_text(value)
    if isinstance(value, dt.datetime):
        return _datetime_text(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dt.time):
        clock = _clock(value.hour * 3600 + value.minute * 60 + value.second, value.microsecond)
        # Shown with AM or PM, 1:00 AM is meant; shown as 1:00 it may be a forgotten PM, and is
        # asked about like any text.
        shows_half = value.hour < 12 and "AM/PM" in (cell.number_format or "").upper()
        return f"{clock} AM" if shows_half and value.hour else clock
    if isinstance(value, dt.timedelta):
        return _clock(value.days * 86400 + value.seconds, value.microseconds)
    return str(value)


def _number_text(value: float) -> str:
    # 15 digits are what Excel keeps and shows: 0.1 + 0.2 is 0.3 there.
    text = f"{value:.15g}"
    if "e" in text and abs(value) < 1e15:
        return f"{value:.15f}".rstrip("0").rstrip(".")
    return text


def _clock(seconds: int, microseconds: int) -> str:
    # Fractions of a day are seldom whole seconds: 8:30 may come as 8:29:59.999999.
    whole = seconds + round(microseconds / 1e6)
    hours, rest = divmod(whole, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}" + (f":{second:02d}" if second else "")


def _datetime_text(value: dt.datetime) -> str:
    seconds = value.hour * 3600 + value.minute * 60 + value.second
    if value.date() in _DAY_0:
        return _clock(seconds, value.microsecond)
    if value == _DAY_1:
        return "24:00"
    if seconds == 0 and value.microsecond == 0:
        return value.date().isoformat()
    return f"{value.date().isoformat()} {_clock(seconds, value.microsecond)}"


_DAY_0: Final = (dt.date(1899, 12, 30), dt.date(1899, 12, 31))
"""A time may come with Excel's day 0; with a later one, a number was typed into a cell of times."""
_DAY_1: Final = dt.datetime(1900, 1, 1)


def xlsx_bytes(
    tables: Mapping[str, Sequence[Sequence[object]]], comments: Mapping[str, Mapping[str, str]]
) -> bytes:
    """A workbook with one sheet per table; the first row of each is its header.

    comments: table -> header -> what to write in the column. Cells are written as they are:
    numbers as numbers, dates and times as Excel's own.
    """
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        if rows:
            _dress(sheet, rows, comments.get(name, {}))
    whole = io.BytesIO()  # openpyxl leaves a file open that it cannot write to its end.
    book.save(whole)
    return whole.getvalue()


def _dress(sheet: Worksheet, rows: Sequence[Sequence[object]], comments: Mapping[str, str]) -> None:
    for cell in _header_cells(sheet):
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="DDE8D5")
        note = comments.get(str(cell.value))
        if note:
            cell.comment = Comment(note, "planner", width=320, height=120)
    for index in range(len(rows[0])):
        longest = max(len(str(row[index])) for row in rows if index < len(row))
        sheet.column_dimensions[get_column_letter(index + 1)].width = min(longest + 2, 40)
    sheet.freeze_panes = "A2"


def _header_cells(sheet: Worksheet) -> Iterable[Cell]:
    return [cell for cell in sheet[1] if isinstance(cell, Cell)]
