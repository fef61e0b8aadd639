"""A workbook on disk -> the checked workbook and everything that is wrong in it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from planner.day.day import Workbook
from planner.plain_files import without_collecting
from planner.problems import Problem, Problems
from planner.tables import (
    checks_general,
    checks_mixes,
    checks_orders,
    checks_places,
    checks_trucks,
    local_rules,
)
from planner.tables.build import build_workbook
from planner.tables.cells import Style
from planner.tables.columns import (
    REQUIRED_TABLES,
    SETTINGS,
    ColumnMapping,
    Header,
    known_headers,
    read_header,
    table_names,
)
from planner.tables.office import load_office_file
from planner.tables.open_sheets import FLEET_TABLES, FleetFolder, fleet_sheets, open_sheets
from planner.tables.read_rows import read_settings, read_table, style_of
from planner.tables.rows import Cells, Table, Tables
from planner.tables.sheets import Sheet

CHECKS: tuple[Callable[[Tables], Iterator[Problem]], ...] = tuple(
    check
    for checks in (
        checks_general,
        checks_trucks,
        checks_places,
        checks_mixes,
        checks_orders,
        local_rules,
    )
    for name, check in vars(checks).items()
    if name.startswith("check_") and check.__module__ == checks.__name__
)
"""Every check_* of these modules, in their order; each finds one kind of fact."""


@dataclass(frozen=True)
class WorkbookReading:
    """workbook: of all rows that read well, None when a required table or column is missing.
    problems: in the order of file, row and column; none = the workbook may be planned. notes: what
    was passed over, in words."""

    workbook: Workbook | None
    problems: tuple[Problem, ...]
    notes: tuple[str, ...] = ()


def read_workbook(
    path: Path, mapping: ColumnMapping | None = None, fleet: FleetFolder | None = None
) -> WorkbookReading:
    """Read and check a folder of CSV files or an .xlsx.

    mapping: the office's own headers; None = as its planner.toml says, whose problems are then
    among the result's. fleet: its tables are read instead of the workbook's own; orders that name
    trucks which it does not have are no problem then. Whatever the files hold, problems come back
    and nothing is raised.
    """
    with without_collecting():
        return _read(path, mapping, fleet)


def _read(path: Path, mapping: ColumnMapping | None, fleet: FleetFolder | None) -> WorkbookReading:
    problems = Problems()
    if mapping is None:
        office = load_office_file(path)
        mapping = office.columns
        problems.extend(office.problems)
    sheets, unread, opening = open_sheets(path, known_headers(mapping))
    problems.extend(opening)
    if fleet is not None:
        own, own_unread, opening = fleet_sheets(fleet, known_headers(mapping))
        problems.extend(opening)
        shared = {name: sheet for name, sheet in sheets.items() if name not in FLEET_TABLES}
        sheets, unread = shared | own, unread.difference(FLEET_TABLES) | own_unread
    headers: dict[str, Header] = {}
    for name, sheet in sheets.items():
        header, found = read_header(name, sheet, mapping.get(name, {}))
        problems.extend(found)
        if header is not None:
            headers[name] = header
    names = {name: sheet.name for name, sheet in sheets.items()}
    tables, found = _read_tables(sheets, headers)
    found = checks_places.points_at_once(tables, found)
    found += [problem for check in CHECKS for problem in check(tables)]
    if fleet is not None:
        found = [problem for problem in found if not _names_other_trucks(problem, names)]
    problems.extend(_with_office_headers(found, names, headers))
    usable = all(
        name in tables.by_name and name not in unread and not _lacks_columns(headers.get(name))
        for name in REQUIRED_TABLES
    )
    notes = tuple(
        f"{names[name]}: not read, as planner.toml says: {', '.join(header.ignored)}"
        for name, header in headers.items()
        if header.ignored
    )
    return WorkbookReading(build_workbook(tables) if usable else None, tuple(problems), notes)


def _names_other_trucks(problem: Problem, names: dict[str, str]) -> bool:
    """Whether a table that all fleets share names what only another fleet has."""
    own = {names[name] for name in FLEET_TABLES if name in names}
    return problem.code == "REF-1" and problem.file not in own


def _lacks_columns(header: Header | None) -> bool:
    return header is not None and bool(header.missing)


def _read_tables(
    sheets: dict[str, Sheet], headers: dict[str, Header]
) -> tuple[Tables, list[Problem]]:
    """Every table that has a header, products before the mixes that need their formulations.
    Sheets are taken out of `sheets`: a large office's fill the memory twice otherwise."""
    by_name: dict[str, Table] = {}
    problems: list[Problem] = []
    formulations: dict[str, str] = {}

    def formulation_of(own: str, product: str) -> str | None:
        return own or formulations.get(product) or None

    style = Style()
    if SETTINGS in headers:
        style = style_of(SETTINGS, sheets[SETTINGS], headers[SETTINGS])
    for name in table_names():
        if name not in sheets:
            continue
        sheet, header = sheets.pop(name), headers.get(name)
        if header is None:
            by_name[name] = Table(Cells(name, sheet.name))
            continue
        by_name[name], found = read_table(name, sheet, header, formulation_of)
        problems += found
        if name == "products":
            formulations = {
                row.written("product"): row.written("formulation") for row in by_name[name].rows
            }
    settings, found = read_settings(by_name.get(SETTINGS), style)
    return Tables(by_name, settings), problems + found


def _with_office_headers(
    problems: list[Problem], names: dict[str, str], headers: dict[str, Header]
) -> Iterator[Problem]:
    """The problems, with the office's own header beside the planner's where they differ."""
    office = {names[name]: header.office for name, header in headers.items()}
    for problem in problems:
        own = office.get(problem.file, {}).get(problem.column or "")
        if own is None:
            yield problem
        else:
            yield replace(problem, message=f"(your '{own}') {problem.message}")
