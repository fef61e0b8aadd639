"""Another fleet's tables in a folder of their own, laid over a workbook's."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from planner.problems import Problem
from planner.tables.open_sheets import open_folder
from planner.tables.sheets import Sheet

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
