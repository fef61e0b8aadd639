"""The tables of a workbook that an import writes into, as they are now."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from planner.importing.mapping import TABLES
from planner.importing.merge import TableNow
from planner.plain_files import bytes_of
from planner.problems import Problem
from planner.records.current import CORRECTED, SKIPPED, SPRAYED, current, kind_of
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.tables.cell_error import CellError
from planner.tables.cells import NUMBER_KINDS, Style, read_cell
from planner.tables.columns import IGNORE, columns_of, key_columns
from planner.tables.edit_csv import edited_csv
from planner.tables.edit_xlsx import edited_xlsx
from planner.tables.edits import EditError, TableEdit, placed
from planner.tables.headers import Header, known_headers, read_header
from planner.tables.office import load_office_file
from planner.tables.open_sheets import open_sheets
from planner.tables.read_rows import data_rows, style_of
from planner.tables.sheets import Sheet
from planner.tables.text import header_name
from planner.units import UnitError


@dataclass
class WorkbookNow:
    """now: by table. sheets, headers: of the tables that have some. mixes: short name -> name.
    trucks: their short names. problems: that keep the tables from being written. read: the files
    that are written into, as they were before anything of them was read."""

    path: Path
    now: dict[str, TableNow] = field(default_factory=dict)
    sheets: dict[str, Sheet] = field(default_factory=dict)
    headers: dict[str, Header] = field(default_factory=dict)
    mixes: dict[str, str] = field(default_factory=dict)
    trucks: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    read: dict[Path, bytes] = field(default_factory=dict)

    def files(self, edits: Collection[TableEdit]) -> dict[Path, bytes]:
        """Path -> whole content with the edits in it. Raises EditError, also where a file was
        changed since it was read (its rows are known by their numbers), and OSError."""
        edits = [edit for edit in edits if edit]
        places = {
            edit.table: placed(edit, self.sheets.get(edit.table), self.headers.get(edit.table))
            for edit in edits
        }
        if not self.path.is_dir():
            by_sheet = {self.sheets[table].name: place for table, place in places.items()}
            return {self.path: edited_xlsx(self._still(self.path), by_sheet)} if edits else {}
        made = {}
        for table, place in places.items():
            sheet = self.sheets.get(table)
            file = self.path / (sheet.name if sheet else f"{table}.csv")
            made[file] = edited_csv(self._still(file) if sheet else b"", sheet, place)
        return made

    def _still(self, file: Path) -> bytes:
        content = file.read_bytes()
        if content != self.read.get(file):
            raise EditError(f"{file} was changed meanwhile; do it again")
        return content


def read_tables(path: Path) -> WorkbookNow:
    """The tables as they are; what else is wrong in the workbook does not matter here."""
    office = load_office_file(path)
    found = WorkbookNow(path)
    for file in path.iterdir() if path.is_dir() else (path,):
        if file.is_file() and (file == path or header_name(file.stem) in TABLES):
            found.read[file] = bytes_of(file)
    sheets, _, opening = open_sheets(path, known_headers(office.columns))
    found.problems += office.problems
    names = {f"{table}.csv" for table in TABLES} | {*TABLES, path.name}
    found.problems += [p for p in opening if p.file in names and not _may_be_made(p, path)]
    for table in (*TABLES, "mixes", "trucks"):
        sheet = sheets.get(table)
        if sheet is None:
            if table in TABLES:
                found.now[table] = _table_now(table, Style(), {})
            continue
        header, wrong = read_header(table, sheet, office.columns.get(table, {}))
        keys = [name for name in key_columns(table) if header and name not in header.index]
        found.problems += [p for p in wrong if p.code == "COL-3" or p.column in keys]
        if header is None or keys:
            rows: dict[str, tuple[int, dict[str, str]]] = {}
            found.sheets[table] = sheet
        else:
            rows = _rows(table, sheet, header, found.problems)
            found.sheets[table], found.headers[table] = sheet, header
        if table in TABLES:
            style = style_of(table, sheet, header) if header else Style()
            found.now[table] = _table_now(table, style, rows)
        elif table == "mixes":
            found.mixes = {key: texts.get("name", "") for key, (_, texts) in rows.items()}
        else:
            found.trucks = list(rows)
    return found


def _may_be_made(problem: Problem, path: Path) -> bool:
    """Whether a missing table can be made: a file can, a sheet of Excel is not."""
    return problem.code == "TABLE-1" and path.is_dir()


def _rows(
    table: str, sheet: Sheet, header: Header, problems: list[Problem]
) -> dict[str, tuple[int, dict[str, str]]]:
    rows: dict[str, tuple[int, dict[str, str]]] = {}
    (key_name,) = key_columns(table)
    for number, cells in data_rows(sheet, header):
        texts = {name: header.text(cells, name) for name in header.index if name != IGNORE}
        key = texts.get(key_name, "")
        if len(cells) > header.width and any(cells[header.width :]):
            message = "the row has more cells than the header has columns"
            cure = 'a cell that holds a comma must stand in quotation marks ("...")'
            problems.append(Problem(sheet.name, number, None, "ROW-1", message, "", cure))
        if key in rows and table in TABLES:
            message = f"row {rows[key][0]} has the same short name"
            cure = "give each its own, or remove one"
            problems.append(Problem(sheet.name, number, key_name, "KEY-1", message, key, cure))
        elif key:
            rows[key] = number, texts
    return rows


def _table_now(table: str, style: Style, rows: dict[str, tuple[int, dict[str, str]]]) -> TableNow:
    columns = columns_of(table)

    def same(name: str, in_table: str, imported: str) -> bool:
        if in_table == imported or not (in_table and imported):
            return in_table == imported
        try:
            values = (
                read_cell(in_table, columns[name], style),
                read_cell(imported, columns[name], Style()),
            )
        except (CellError, UnitError):
            return False
        if columns[name].unit == "ft2":
            # An area in acres is no whole number of square feet, and is written as one.
            return round(values[0]) == round(values[1])  # type: ignore[call-overload, no-any-return]
        return values[0] == values[1]

    def written(name: str, text: str) -> str:
        number = columns[name].kind in NUMBER_KINDS
        return text.replace(".", ",") if number and style.decimal_commas else text

    return TableNow(table, rows, same, written)


def recorded_orders(workbook: Path) -> set[str]:
    """Orders of which something is recorded as sprayed. Raises StoreError."""
    file = store_path(workbook)
    if not file.exists():
        return set()
    with Store(file) as store:
        events = store.events(kinds=(SPRAYED, SKIPPED, CORRECTED), only=("is", "order_id"))
    return {
        str(event.body["order_id"])
        for event in current(events).values()
        if kind_of(event) == SPRAYED
    }
