"""A filled-in actuals sheet -> rows of values, and every cell that cannot be read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from planner.problems import Problem
from planner.records.sheet import COLUMNS, SHOWN_ONLY, Actual
from planner.tables.cells import CellError, Style, UnitError, read_cell
from planner.tables.csv_files import read_csv_file
from planner.tables.sheets import Sheet, SheetError
from planner.tables.text import clean, did_you_mean, header_name
from planner.tables.xlsx_files import read_xlsx_file


def read_actuals(path: Path) -> tuple[list[Actual], list[Problem]]:
    """The rows of a filled-in sheet (CSV, or an .xlsx with one sheet or one named 'actuals'), and
    everything in it that cannot be read."""
    try:
        sheet = _open(path)
    except SheetError as error:
        return [], [error.problem]
    if not sheet.rows:
        return [], [_whole(sheet, "TABLE-4", "the sheet has no rows", "fill in the printed sheet")]
    head_row, head = sheet.rows[0]
    index, problems = _header(sheet, head_row, head)
    missing = [name for name, column in COLUMNS.items() if column.required and name not in index]
    for name in missing:
        cure = "print the sheet again with `planner packet`, and fill that one in"
        problems.append(Problem(sheet.name, head_row, name, "COL-2", "the column is missing", cure))
    if missing:
        return [], problems
    style = Style(semicolons=sheet.separator == ";", epoch_1904=sheet.epoch_1904)
    rows = []
    for number, cells in sheet.rows[1:]:
        texts = [_cell(cell) for cell in cells]
        filled = [text for text in texts if text]
        if filled and not (len(filled) == 1 and filled[0].startswith("#")):
            values, found = _values(sheet, number, texts, index, style)
            problems += found
            # A row with a bad cell is not judged any further: no echoes.
            if not found:
                rows.append(Actual(sheet.name, number, **values))
    return rows, problems


def _open(path: Path) -> Sheet:
    if path.suffix.lower() not in (".xlsx", ".xlsm"):
        return read_csv_file(path, COLUMNS.keys())
    sheets = [sheet for sheet in read_xlsx_file(path) if sheet.rows]
    named = [sheet for sheet in sheets if header_name(sheet.name) == "actuals"]
    if len(named or sheets) != 1:
        problem = Problem(
            path.name,
            None,
            None,
            "TABLE-1",
            "it is not clear which sheet holds the actuals",
            cure="name it 'actuals'",
        )
        raise SheetError(problem)
    return (named or sheets)[0]


def _header(sheet: Sheet, row: int, cells: tuple[str, ...]) -> tuple[dict[str, int], list[Problem]]:
    index: dict[str, int] = {}
    problems = []
    for place, cell in enumerate(cells):
        name = header_name(cell)
        if not name or clean(cell).startswith("_") or name in SHOWN_ONLY:
            continue
        if name not in COLUMNS:
            cure = did_you_mean(name, COLUMNS, "name it with _ in front if it is your own")
            message = "the actuals sheet has no such column"
            problems.append(Problem(sheet.name, row, None, "COL-1", message, clean(cell), cure))
        elif name in index:
            message = "the column is there twice"
            problems.append(Problem(sheet.name, row, name, "COL-3", message, cure="remove one"))
        else:
            index[name] = place
    return index, problems


def _cell(text: str) -> str:
    """The cell without strays, and without the apostrophe that keeps text from being a formula."""
    plain = clean(text)
    return plain[1:] if plain[:1] == "'" and plain[1:2] in ("=", "+", "-", "@") else plain


def _values(
    sheet: Sheet, number: int, texts: list[str], index: dict[str, int], style: Style
) -> tuple[dict[str, Any], list[Problem]]:
    values: dict[str, Any] = {}
    problems = []
    for name, place in index.items():
        column = COLUMNS[name]
        text = texts[place] if place < len(texts) else ""
        fault = sheet.faults.get((number, place))
        if fault is not None:
            cure = "write the value itself"
            message = "the cell holds no value of its own"
            problems.append(Problem(sheet.name, number, name, fault, message, text, cure))
        elif text:
            try:
                value = read_cell(text, column, style)
                values[name] = (
                    float(value)
                    if isinstance(value, (int, float)) and (column.kind == "number")
                    else value
                )
            except (CellError, UnitError) as error:
                problems.append(
                    Problem(sheet.name, number, name, error.code, error.message, text, error.cure)
                )
        elif column.required:
            cure = "write what the printed sheet has there"
            problems.append(
                Problem(sheet.name, number, name, "CELL-1", "the cell is blank", cure=cure)
            )
    return values, problems


def _whole(sheet: Sheet, code: str, message: str, cure: str) -> Problem:
    return Problem(sheet.name, None, None, code, message, cure=cure)
