"""Which files or sheets of a workbook, or of another fleet's folder laid over it, are which
tables."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from planner.problems import Problem
from planner.tables.columns import REQUIRED_TABLES, table_names
from planner.tables.sheets import Sheet, SheetError, read_csv_file
from planner.tables.text import did_you_mean, header_name

CSV_SUFFIXES = (".csv", ".tsv")
XLSX_SUFFIXES = (".xlsx", ".xlsm")
SPREADSHEET_SUFFIXES = (*XLSX_SUFFIXES, ".xls", ".ods", ".numbers")

IGNORED_PREFIXES = ("_", ".", "~")
"""Files and sheets named so are the office's own notes or a program's lock files."""


def holds_tables(folder: Path) -> bool:
    """Whether any file of a folder is named as a table or holds the records."""
    return any(
        file.suffix.lower() == ".sqlite"
        or (
            file.suffix.lower() in (*CSV_SUFFIXES, *SPREADSHEET_SUFFIXES)
            and header_name(file.stem) in table_names()
        )
        for file in folder.iterdir()
    )


def open_sheets(
    path: Path, known_headers: Collection[str]
) -> tuple[dict[str, Sheet], frozenset[str], list[Problem]]:
    """Tables of a folder or an Excel workbook: (sheets by table, tables that are there but cannot
    be read, problems)."""
    if path.is_dir():
        sheets, unread, problems = open_folder(path, known_headers)
    else:
        sheets, unread, problems = _open_xlsx(path)
    if sheets or unread or not problems:
        problems += check_required_tables(path, {*sheets, *unread})
    return sheets, unread, problems


def check_required_tables(path: Path, found: Collection[str]) -> list[Problem]:
    """TABLE-1 for every required table that is not there."""
    suffix = ".csv" if path.is_dir() else ""
    what = "file" if path.is_dir() else "sheet"
    return [
        Problem(
            f"{table}{suffix}",
            None,
            None,
            "TABLE-1",
            f"the {what} is missing",
            cure=f"add it; `planner columns {table}` lists its columns",
        )
        for table in REQUIRED_TABLES
        if table not in found
    ]


def open_folder(
    path: Path, known_headers: Collection[str]
) -> tuple[dict[str, Sheet], frozenset[str], list[Problem]]:
    """The tables that a folder's CSV files are: as open_sheets, whatever tables are missing."""
    sheets: dict[str, Sheet] = {}
    unread: set[str] = set()
    problems: list[Problem] = []
    first_of: dict[str, str] = {}
    try:
        files = sorted(path.iterdir())
    except OSError as error:
        return {}, frozenset(), [_unopened(path, error.strerror or str(error))]
    for file in files:
        table = header_name(file.stem)
        if file.name.startswith(IGNORED_PREFIXES):
            continue
        if file.suffix.lower() in SPREADSHEET_SUFFIXES and table in table_names():
            problems.append(_spreadsheet_in_folder(file, table))
        if file.suffix.lower() not in CSV_SUFFIXES:
            continue
        problem = _name_problem(file.name, table, first_of, "file")
        if problem is not None:
            problems.append(problem)
            continue
        first_of[table] = file.name
        try:
            sheets[table] = read_csv_file(file, known_headers)
        except SheetError as error:
            unread.add(table)
            problems.append(error.problem)
    return sheets, frozenset(unread), problems


def _open_xlsx(path: Path) -> tuple[dict[str, Sheet], frozenset[str], list[Problem]]:
    if path.suffix.lower() not in XLSX_SUFFIXES:
        return {}, frozenset(), [_unopened(path, "it is neither a folder nor an .xlsx file")]
    # Half a second to import: only where it is asked.
    from planner.tables.xlsx_files import read_xlsx_file

    try:
        found = read_xlsx_file(path)
    except SheetError as error:
        return {}, frozenset(), [error.problem]
    sheets: dict[str, Sheet] = {}
    problems: list[Problem] = []
    first_of: dict[str, str] = {}
    for sheet in found:
        table = header_name(sheet.name)
        blank = table not in table_names() and not sheet.rows
        if blank or sheet.name.startswith(IGNORED_PREFIXES):
            continue
        problem = _name_problem(sheet.name, table, first_of, "sheet")
        if problem is not None:
            problems.append(problem)
            continue
        first_of[table] = sheet.name
        sheets[table] = sheet
    return sheets, frozenset(), problems


def _name_problem(name: str, table: str, first_of: dict[str, str], what: str) -> Problem | None:
    if table not in table_names():
        cure = did_you_mean(table, table_names(), f"the tables are {', '.join(table_names())}.")
        return Problem(
            name,
            None,
            None,
            "TABLE-2",
            f"no table has the name of this {what}",
            name,
            f"{cure} A {what} that is not for the planner may be named with _ in front",
        )
    if table in first_of:
        return Problem(
            name,
            None,
            None,
            "TABLE-3",
            f"the table {table} is also in '{first_of[table]}'; this {what} was not read",
            cure=f"keep one of the two, or name this {what} with _ in front",
        )
    return None


def _spreadsheet_in_folder(file: Path, table: str) -> Problem:
    # What is typed into it would never be planned with.
    return Problem(
        file.name,
        None,
        None,
        "TABLE-3",
        f"in a folder the table {table} is read from {table}.csv; this file was not read",
        cure=f"save it as {table}.csv (CSV UTF-8), or name it with _ in front",
    )


def _unopened(path: Path, why: str) -> Problem:
    return Problem(
        path.name,
        None,
        None,
        "FILE-1",
        f"the workbook cannot be opened: {why}",
        cure="give a folder of CSV files or one .xlsx file; save an .xls again as .xlsx",
    )


FLEET_TABLES: Final = ("trucks", "lines", "compartments")
"""Tables that make a fleet; everything else is shared by all fleets of a comparison."""


@dataclass(frozen=True)
class FleetFolder:
    """A fleet by name and the folder that holds its tables. Problems in it name the fleet."""

    name: str
    folder: Path


def fleet_sheets(
    fleet: FleetFolder, known_headers: Collection[str]
) -> tuple[dict[str, Sheet], frozenset[str], list[Problem]]:
    """The fleet's tables: (sheets by table, tables that cannot be read, problems). Names of sheets
    and of files in problems begin with the fleet's name."""
    sheets, unread, found = open_folder(fleet.folder, known_headers)
    problems = [replace(problem, file=f"{fleet.name}/{problem.file}") for problem in found]
    for table in FLEET_TABLES:
        if table not in sheets and table not in unread:
            message = f"the fleet's folder has no {table} table"
            cure = f"copy {table}.csv of the workbook into it and change what is different"
            problems.append(_problem(fleet, f"{table}.csv", message, cure))
    for table, sheet in sheets.items():
        if table not in FLEET_TABLES:
            message = f"a fleet's folder holds only {', '.join(FLEET_TABLES)}"
            cure = "remove it: all fleets share the workbook's, or put _ in front of its name"
            problems.append(_problem(fleet, sheet.name, message, cure))
    named = {
        table: replace(sheet, name=f"{fleet.name}/{sheet.name}")
        for table, sheet in sheets.items()
        if table in FLEET_TABLES
    }
    return named, unread, problems


def _problem(fleet: FleetFolder, file: str, message: str, cure: str) -> Problem:
    return Problem(f"{fleet.name}/{file}", None, None, "FLEET-1", message, cure=cure)
