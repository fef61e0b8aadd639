"""The tables of a workbook that an import writes into, as they are now, and what changes in
them.

A cell changes only where the export says something else than last time and the table still says
what was imported then; everything that somebody typed since stays.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from planner.importing.mapping import TABLES
from planner.plain_files import bytes_of
from planner.problems import Problem
from planner.records.current import CORRECTED, SKIPPED, SPRAYED, current, kind_of
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.tables.cells import NUMBER_KINDS, Style, read_cell
from planner.tables.columns import (
    IGNORE,
    Header,
    columns_of,
    key_columns,
    known_headers,
    read_header,
)
from planner.tables.edits import EditError, TableEdit, edited_csv, edited_xlsx, placed
from planner.tables.office import load_office_file
from planner.tables.open_sheets import open_sheets
from planner.tables.read_rows import data_rows, style_of
from planner.tables.sheets import Sheet
from planner.tables.text import CellError, header_name
from planner.units import UnitError

Cells = Mapping[str, str]

FOUND_LATER = ("lat", "lon")
"""Columns that a new property may lack: `planner locate` fills them."""


@dataclass(frozen=True)
class TableNow:
    """A table as it is. rows: key -> (row number, column -> text). same: whether two texts of a
    column say the same. written: an imported text as the table writes it (decimal commas)."""

    name: str
    rows: Mapping[str, tuple[int, Cells]]
    same: Callable[[str, str, str], bool]
    written: Callable[[str, str], str]


@dataclass(frozen=True)
class CellChange:
    """old: what the table said, new: what the export says."""

    table: str
    key: str
    column: str
    old: str
    new: str


@dataclass
class Merged:
    """What an import does to a table. new: keys. changed: cells that are written. kept: cells that
    somebody typed and the export says otherwise. gone: keys that the export no longer has. removed:
    keys that somebody took out of the table. lacking: key -> columns that a new row would need;
    they are left out. cells: row number -> column -> text and new_rows: all of it for the file.
    memory: what is remembered for the next time."""

    table: str
    cells: dict[int, dict[str, str]] = field(default_factory=dict)
    new_rows: list[Cells] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    changed: list[CellChange] = field(default_factory=list)
    kept: list[CellChange] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    lacking: dict[str, list[str]] = field(default_factory=dict)
    memory: dict[str, dict[str, str]] = field(default_factory=dict)

    @property
    def edit(self) -> TableEdit:
        """What is to be written."""
        return TableEdit(self.table, self.cells, self.new_rows)


def merged(
    now: TableNow,
    before: Mapping[str, Cells],
    wanted: Mapping[str, Cells],
    *,
    tell_gone: bool,
    take_export: bool,
    bring_back: bool,
) -> Merged:
    """Lay the wanted rows over a table. tell_gone: whether all rows of the export are among them.
    take_export: what somebody typed gives way; bring_back: rows that somebody took out of the table
    come again."""
    found = Merged(now.name)
    for key, row in wanted.items():
        if key in now.rows:
            number, texts = now.rows[key]
            old = before.get(key, {})
            for column, text in row.items():
                change = CellChange(now.name, key, column, texts.get(column, ""), text)
                if _is_written(now, change, old, take_export, found):
                    found.cells.setdefault(number, {})[column] = now.written(column, text)
        elif key in before and not bring_back:
            found.removed.append(key)
        else:
            lacking = _lacking(now.name, row)
            if lacking:
                found.lacking[key] = lacking
                continue
            found.new.append(key)
            found.new_rows.append(
                {name: now.written(name, text) for name, text in row.items() if text}
            )
        found.memory[key] = dict(row)
    for key, row in before.items():
        if key in wanted:
            continue
        found.memory[key] = dict(row)
        if key in now.rows and tell_gone:
            found.gone.append(key)
    return found


def _is_written(
    now: TableNow, change: CellChange, old: Cells, take_export: bool, found: Merged
) -> bool:
    column, mine, theirs = change.column, change.old, change.new
    if column in key_columns(now.name) or now.same(column, mine, theirs):
        return False
    if not theirs and (column not in old or columns_of(now.name)[column].required):
        return False
    before = old.get(column)
    untyped = mine == "" if before is None else now.same(column, mine, before)
    if untyped or take_export:
        found.changed.append(change)
        return True
    if before is None or before != theirs:
        found.kept.append(change)
    return False


def _lacking(table: str, row: Cells) -> list[str]:
    return [
        name
        for name, column in columns_of(table).items()
        if column.required and not row.get(name) and name not in FOUND_LATER
    ]


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
