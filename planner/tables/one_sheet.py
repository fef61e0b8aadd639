"""A single sheet that a person filled in or changed (CSV, or .xlsx) -> rows of values."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from planner.problems import Problem
from planner.tables.cells import CellError, Style, UnitError, read_cell
from planner.tables.columns import Column, present_name
from planner.tables.sheets import Sheet, SheetError, read_csv_file
from planner.tables.text import clean, did_you_mean, header_name


@dataclass(frozen=True)
class SheetKind:
    """A sheet that the planner writes and reads back. name: as an Excel sheet may be called;
    title: in messages; columns: those that are read; shown_only: printed and never read back; cure:
    how to get a good one."""

    name: str
    title: str
    columns: Mapping[str, Column]
    shown_only: Collection[str]
    cure: str


@dataclass(frozen=True)
class SheetValues:
    """One row. file, number: where it stands; values: column -> value, blank cells left out."""

    file: str
    number: int
    values: Mapping[str, object]


def read_one_sheet(path: Path, kind: SheetKind) -> tuple[list[SheetValues], list[Problem]]:
    """The rows of the sheet and everything in it that cannot be read. A row with a bad cell is
    left out: it is not judged any further. Blank rows and comments (one cell that begins with #)
    are passed over."""
    try:
        sheet = _open(path, kind)
    except SheetError as error:
        return [], [error.problem]
    if not sheet.rows:
        message = "the sheet has no rows"
        return [], [Problem(sheet.name, None, None, "TABLE-4", message, cure=kind.cure)]
    head_row, head = sheet.rows[0]
    index, problems = _header(sheet, head_row, head, kind)
    missing = [name for name, one in kind.columns.items() if one.required and name not in index]
    for name in missing:
        message = "the column is missing"
        problems.append(Problem(sheet.name, head_row, name, "COL-2", message, cure=kind.cure))
    if missing:
        return [], problems
    style = Style(semicolons=sheet.separator == ";", epoch_1904=sheet.epoch_1904)
    rows = []
    for number, cells in sheet.rows[1:]:
        texts = [_cell(cell) for cell in cells]
        filled = [text for text in texts if text]
        if filled and not (len(filled) == 1 and filled[0].startswith("#")):
            values, found = _values(sheet, number, texts, index, style, kind)
            problems += found
            if not found:
                rows.append(SheetValues(sheet.name, number, values))
    return rows, problems


def _open(path: Path, kind: SheetKind) -> Sheet:
    if path.suffix.lower() not in (".xlsx", ".xlsm"):
        return read_csv_file(path, kind.columns.keys())
    # Imported here: a quarter of a second that most offices never need.
    from planner.tables.xlsx_files import read_xlsx_file

    sheets = [sheet for sheet in read_xlsx_file(path) if sheet.rows]
    named = [sheet for sheet in sheets if header_name(sheet.name) == kind.name]
    if len(named or sheets) != 1:
        problem = Problem(
            path.name,
            None,
            None,
            "TABLE-1",
            f"it is not clear which sheet holds the {kind.title}",
            cure=f"name it '{kind.name}'",
        )
        raise SheetError(problem)
    return (named or sheets)[0]


def _header(
    sheet: Sheet, row: int, cells: tuple[str, ...], kind: SheetKind
) -> tuple[dict[str, int], list[Problem]]:
    index: dict[str, int] = {}
    problems = []
    for place, cell in enumerate(cells):
        name = present_name(header_name(cell))
        if not name or clean(cell).startswith("_") or name in kind.shown_only:
            continue
        if name not in kind.columns:
            cure = did_you_mean(name, kind.columns, "name it with _ in front if it is your own")
            message = f"the {kind.title} has no such column"
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
    sheet: Sheet,
    number: int,
    texts: list[str],
    index: Mapping[str, int],
    style: Style,
    kind: SheetKind,
) -> tuple[dict[str, object], list[Problem]]:
    values: dict[str, object] = {}
    problems = []
    for name, place in index.items():
        column = kind.columns[name]
        text = texts[place] if place < len(texts) else ""
        fault = sheet.faults.get((number, place))
        if fault is not None:
            cure = "write the value itself"
            message = "the cell holds no value of its own"
            problems.append(Problem(sheet.name, number, name, fault, message, text, cure))
        elif text:
            try:
                value = read_cell(text, column, style)
                number_kind = isinstance(value, (int, float)) and column.kind == "number"
                values[name] = float(value) if number_kind else value  # type: ignore[arg-type]
            except (CellError, UnitError) as error:
                problems.append(
                    Problem(sheet.name, number, name, error.code, error.message, text, error.cure)
                )
        elif column.required:
            message = "the cell is blank"
            problems.append(Problem(sheet.name, number, name, "CELL-1", message, cure=kind.cure))
    return values, problems
