"""Addresses of a workbook -> coordinates, wired in one place; what `planner locate` does.

A house number of the road extract goes first, then one between two of them, then the service (if
planner.toml names one), then the middle of a short street.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from planner.problems import Problem, WorkbookError
from planner.roads.address_book import AddressBook, Found, Sureness, read_address_book
from planner.roads.addresses import Question
from planner.roads.travel import RoadError
from planner.tables.address_rows import (
    AddressRow,
    AddressTable,
    Located,
    located_copy,
    read_address_table,
)
from planner.tables.checks_places import FARTHEST_FROM_YARD_MILES, miles_between
from planner.tables.office import load_office_file

LOCATE_CODES = {"LOCATE-1": "An address cannot be found"}

Find = Callable[[Question], Found]


@dataclass(frozen=True)
class Locating:
    """text: the copy of the properties table (CSV). found: by row; rows that had coordinates are
    not in it. problems: addresses that were not found. requests: that went to the service."""

    text: str
    table: AddressTable
    found: dict[int, Found]
    problems: tuple[Problem, ...]
    requests: int

    def counts(self) -> dict[str, int]:
        """How many properties were found how surely, and how many were there already."""
        by_sure = Counter(str(found.sure) for found in self.found.values())
        there = sum(row.is_located for row in self.table.rows)
        return {"there already": there, **{str(sure): by_sure[sure] for sure in Sureness}}


def locate_properties(
    path: Path,
    extract: Path | None,
    *,
    ask_service: bool,
    progress: Callable[[float, str], None],
) -> Locating:
    """Find the properties of a workbook that have no coordinates. extract: goes before the one
    named in planner.toml. Raises WorkbookError when the table cannot be read, RoadError for a bad
    extract or when there is nothing to look in."""
    table, problems = read_address_table(path)
    if table is None or problems:
        raise WorkbookError(problems)
    office = load_office_file(path)
    folder = path if path.is_dir() else path.parent
    chosen = extract or (folder / office.roads if office.roads else None)
    if chosen is not None and chosen.suffix.lower() == ".csv":
        chosen = None  # A table of times holds no addresses.
    missing = {row.row: row for row in table.rows if not row.is_located}
    questions = {number: _question(row) for number, row in missing.items()}
    service = None
    if office.locate is not None and ask_service:
        from planner.roads.address_service import AddressService, ServiceConfig

        named = office.locate
        service = AddressService(
            ServiceConfig(named.service, named.user_agent, named.email, named.country)
        )
    if missing and chosen is None and service is None:
        raise RoadError(
            "nothing to look addresses up in: name a road extract (.osm.pbf) with --roads or in "
            "planner.toml, or a service under [locate] in planner.toml"
        )
    progress(0.0, "reading the addresses of the extract")
    book = (
        read_address_book(chosen, questions.values())
        if chosen and missing
        else AddressBook([], [], {})
    )
    found: dict[int, Found] = {}
    for done, (number, question) in enumerate(questions.items()):
        progress(done / len(questions), f"looking up {question.address}")
        found[number] = _find(question, book, service.find if service else None, table)
    located = {
        number: Located(one.point, str(one.sure), one.found_as) for number, one in found.items()
    }
    return Locating(
        located_copy(table, located),
        table,
        found,
        tuple(_problem(table, missing[number], one) for number, one in _lost(found)),
        service.requests if service else 0,
    )


def _question(row: AddressRow) -> Question:
    return Question(row.address, row.town, row.state, row.zip_code)


def _find(question: Question, book: AddressBook, ask: Find | None, table: AddressTable) -> Found:
    offline = book.find(question)
    if offline.sure in (Sureness.EXACT, Sureness.INTERPOLATED) or ask is None:
        return _near_a_yard(offline, table)
    online = _near_a_yard(ask(question), table)
    if online.sure is Sureness.NOT_FOUND and offline.point is not None:
        return _near_a_yard(offline, table)
    return online


def _near_a_yard(found: Found, table: AddressTable) -> Found:
    """The place, unless it is too far from every yard to be meant."""
    point = found.point
    if point is None or not table.yards:
        return found
    away = min(miles_between(point, yard) for yard in table.yards)
    if math.isfinite(away) and away <= FARTHEST_FROM_YARD_MILES:
        return found
    why = f"{found.found_as} is {away:,.0f} miles from the nearest yard"
    return Found(Sureness.NOT_FOUND, None, why)


def _lost(found: dict[int, Found]) -> list[tuple[int, Found]]:
    return [(number, one) for number, one in found.items() if one.point is None]


def _problem(table: AddressTable, row: AddressRow, found: Found) -> Problem:
    return Problem(
        table.file,
        row.row,
        "address",
        "LOCATE-1",
        f"'{row.property_id}' cannot be found: {found.found_as}",
        _question(row).text(),
        "check number, street, town and ZIP code, or write lat and lon from a map",
    )
