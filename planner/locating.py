"""Addresses of a workbook -> coordinates, wired in one place; what `planner locate` does.

A house number of the road extract goes first, then one between two of them, then the service (if
planner.toml names one), then the middle of a short street. What is in doubt gets suggestions, and
the suggestion that somebody picked in the sheet is taken.
"""

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from planner.problems import Problem, WorkbookError
from planner.roads.address_book import (
    MOST_SUGGESTED,
    AddressBook,
    AddressMatch,
    Suggestion,
    Sureness,
)
from planner.roads.address_read import read_address_book
from planner.roads.addresses import Question
from planner.roads.travel import RoadError
from planner.tables.address_rows import (
    AddressRow,
    AddressTable,
    Located,
    Point,
    located_copy,
    picked,
    read_address_tables,
    suggestion_text,
)
from planner.tables.checks_places import FARTHEST_FROM_YARD_MILES, miles_between
from planner.tables.office import load_office_file

Find = Callable[[Question], AddressMatch]


@dataclass(frozen=True)
class LocatedTable:
    """text: the copy of the table (CSV). located: by row; rows that had coordinates are not in
    it. problems: what was not found, is in doubt or was picked wrongly."""

    table: AddressTable
    located: dict[int, Located]
    problems: tuple[Problem, ...]

    @property
    def text(self) -> str:
        """The copy of the table, as CSV."""
        return located_copy(self.table, self.located)

    def counts(self) -> dict[str, int]:
        """How many places were found how surely, and how many were there already."""
        by_sure = Counter(located.sure for located in self.located.values())
        there = sum(row.is_located and row.row not in self.located for row in self.table.rows)
        names = ["picked", *map(str, Sureness)]
        return {"there already": there, **{name: by_sure[name] for name in names}}


@dataclass(frozen=True)
class Locating:
    """sites: None when all of them have coordinates. requests: that went to the service."""

    properties: LocatedTable
    sites: LocatedTable | None
    requests: int


def locate_places(
    path: Path, extract: Path | None, *, ask_service: bool, progress: Callable[[float, str], None]
) -> Locating:
    """Find the sites and properties of a workbook that have no coordinates. extract: goes before
    the one named in planner.toml. Raises WorkbookError when a table cannot be read, RoadError for
    a bad extract or when there is nothing to look in."""
    tables, problems = read_address_tables(path)
    if "properties" not in tables or problems:
        raise WorkbookError(problems)
    wanted = {name: _wanted(table) for name, table in tables.items()}
    office = load_office_file(path)
    folder = path if path.is_dir() else path.parent
    chosen = extract or (folder / office.roads if office.roads else None)
    if chosen is not None and chosen.suffix.lower() == ".csv":
        chosen = None  # A table of times holds no addresses.
    service = None
    if office.locate is not None and ask_service:
        from planner.roads.address_service import AddressService, ServiceConfig

        named = office.locate
        service = AddressService(
            ServiceConfig(named.service, named.user_agent, named.email, named.country)
        )
    any_wanted = any(not row.pick for rows in wanted.values() for row in rows)
    if any_wanted and chosen is None and service is None:
        raise RoadError(
            "nothing to look addresses up in: name a road extract (.osm.pbf) with --roads or in "
            "planner.toml, or a service under [locate] in planner.toml"
        )
    progress(0.0, "reading the addresses of the extract")
    book = read_address_book(chosen) if chosen and any_wanted else AddressBook([], [], {})
    ask = service.find if service else None
    yards = tables["sites"].points if "sites" in tables else ()
    sites = None
    if wanted.get("sites"):
        sites = _locate(tables["sites"], wanted["sites"], book, ask, yards, progress)
        yards += tuple(one.point for one in sites.located.values() if one.point)
    properties = _locate(tables["properties"], wanted["properties"], book, ask, yards, progress)
    return Locating(properties, sites, service.requests if service else 0)


def _wanted(table: AddressTable) -> list[AddressRow]:
    return [row for row in table.rows if row.pick or not row.is_located]


def _locate(
    table: AddressTable,
    wanted: list[AddressRow],
    book: AddressBook,
    ask: Find | None,
    yards: tuple[Point, ...],
    progress: Callable[[float, str], None],
) -> LocatedTable:
    located: dict[int, Located] = {}
    problems = []
    for done, row in enumerate(wanted):
        if row.pick:
            one = picked(row)
            if one is None:
                problems.append(_no_such_pick(table, row))
            else:
                located[row.row] = one
            continue
        question = Question(row.address, row.town, row.state, row.zip_code)
        progress(done / len(wanted), f"looking up {question.address}")
        found = _find(question, book, ask, yards)
        texts = [suggestion_text(one.text, one.point) for one in found.suggestions]
        located[row.row] = Located(found.point, str(found.sure), found.found_as, texts)
        if found.point is None:
            problems.append(_problem(table, row, question, found))
    return LocatedTable(table, located, tuple(problems))


def _find(
    question: Question, book: AddressBook, ask: Find | None, yards: tuple[Point, ...]
) -> AddressMatch:
    offline = _near_a_yard(book.find(question), yards)
    if ask is None or offline.sure in (Sureness.EXACT, Sureness.INTERPOLATED):
        return offline
    online = _near_a_yard(ask(question), yards)
    if online.sure is Sureness.SERVICE:
        return online
    if offline.sure is Sureness.NOT_FOUND:
        return offline if online.sure is Sureness.NOT_FOUND and not online.found_as else online
    more = [Suggestion(online.point, online.found_as)] if online.point else online.suggestions
    return replace(offline, suggestions=(*offline.suggestions, *more)[:MOST_SUGGESTED])


def _near_a_yard(found: AddressMatch, yards: tuple[Point, ...]) -> AddressMatch:
    """The place and suggestions, without those too far from every yard to be meant."""

    def away(point: Point) -> float:
        return min((miles_between(point, yard) for yard in yards), default=0.0)

    near = tuple(one for one in found.suggestions if away(one.point) <= FARTHEST_FROM_YARD_MILES)
    if found.point is not None:
        miles = away(found.point)
        if math.isfinite(miles) and miles <= FARTHEST_FROM_YARD_MILES:
            return replace(found, suggestions=near)
        why = f"{found.found_as} is {miles:,.0f} miles from the nearest yard"
        return AddressMatch(Sureness.NOT_FOUND, None, why)
    if found.suggestions and not near:
        return AddressMatch(
            Sureness.NOT_FOUND, None, f"{found.found_as}; nothing like it is near a yard"
        )
    return replace(found, suggestions=near)


def _problem(
    table: AddressTable, row: AddressRow, question: Question, found: AddressMatch
) -> Problem:
    if found.suggestions:
        code, said = "LOCATE-2", f"'{row.name}' is in doubt: {found.found_as}"
        likest = found.suggestions[0].text
        cure = f"write 1 ({likest}), 2 or 3 into _pick of the copy, or correct the address"
    else:
        code, said = "LOCATE-1", f"'{row.name}' cannot be found: {found.found_as}"
        cure = "check number, street, town and ZIP code, or write lat and lon from a map"
    return Problem(table.file, row.row, "address", code, said, question.text(), cure)


def _no_such_pick(table: AddressTable, row: AddressRow) -> Problem:
    return Problem(
        table.file,
        row.row,
        "_pick",
        "LOCATE-3",
        f"'{row.name}' has no suggestion of that number",
        row.pick,
        "write 1, 2 or 3 of a suggestion that is there, or leave the cell blank to look again",
    )
