"""Help for the tables' page: what may be written into a cell that is wrong (every offer is one
that the tables can read), where places lie, and addresses looked up."""

import contextlib
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from planner.day.day import Workbook
from planner.day_roads import open_book_roads, workbook_places
from planner.importing.cells import DAY_FIRST, MONTH_FIRST, table_text
from planner.locating import LocatedTable, locate_places
from planner.maps.background import background
from planner.office.changes import Refused
from planner.problems import PlannerError, Problem
from planner.tables.address_rows import suggested
from planner.tables.cells import Style, read_cell
from planner.tables.columns import Column
from planner.tables.text import CellError, nearest
from planner.units import UnitError


@dataclass(frozen=True)
class FoundPlace:
    """What was found for one row. sure: as `planner locate` says it; point: None = in doubt.
    offers: (words, (lat, lon)) of each suggestion; why: what is in doubt."""

    table: str
    row: int
    name: str
    address: str
    sure: str
    found_as: str
    point: tuple[float, float] | None
    offers: tuple[tuple[str, tuple[float, float]], ...]


class Places:
    """Of one workbook. extract: roads that go before those of planner.toml."""

    def __init__(self, workbook: Path, extract: Path | None) -> None:
        self._workbook, self._extract = workbook, extract
        self._drawn: dict[str, Any] | None = None

    def ground(self, book: Workbook | None) -> dict[str, Any]:
        """Streets as planner.maps.background packs them, and [lat, lon, name] of every place of
        the rows that read well."""
        if book is None:
            return {"streets": None, "places": []}
        places = workbook_places(book)
        if self._drawn is None:
            try:
                roads = open_book_roads(self._workbook, book, self._extract)
                drawn = background(roads.streets())
                self._drawn = {"names": drawn.names, "lines": drawn.lines, "credit": roads.credit}
            except PlannerError:
                # Without roads the places themselves show where one is.
                self._drawn = {"names": [""], "lines": {}, "credit": ""}
        return {
            "streets": self._drawn,
            "places": [[round(one.lat, 5), round(one.lon, 5)] for one in places],
        }

    def locate(
        self, progress: Callable[[float, str], None] = lambda _share, _text: None
    ) -> list[FoundPlace]:
        """Look up every place without coordinates among the house numbers of the extract; no
        service is asked. Raises Refused."""
        try:
            found = locate_places(
                self._workbook, self._extract, ask_service=False, progress=progress
            )
        except PlannerError as error:
            raise Refused(f"Addresses cannot be looked up: {error}") from error
        tables = [found.properties, *([found.sites] if found.sites else [])]
        return [row for table in tables for row in _rows(table)]


def _rows(found: LocatedTable) -> list[FoundPlace]:
    by_row = {row.row: row for row in found.table.rows}
    made = []
    for number, one in found.located.items():
        row = by_row[number]
        address = ", ".join(filter(None, (row.address, row.town, row.zip_code)))
        offers = tuple(filter(None, map(suggested, one.suggestions)))
        made.append(
            FoundPlace(
                found.table.name,
                number,
                row.name,
                address,
                one.sure,
                one.found_as,
                one.point,
                offers,
            )
        )
    return made


MOST_OFFERED: Final = 4
_MEANT: Final = re.compile(r"did you mean '([^']+)'\?")
_BARE_OUNCES: Final = re.compile(r"(?<!fl )\boz\b(?! wt)")
_SWAPPED: Final = "PLACE-2"
_FAR: Final = "PLACE-5"


def cures(
    problem: Problem,
    column: Column,
    row: Mapping[str, str],
    known: Collection[str],
    style: Style,
    formulation: str | None = None,
) -> list[dict[str, str]]:
    """Each a set of cells of the row, column -> text, likeliest first. row: its texts as they are;
    known: short names of the table that the column names, none = it names no table."""
    lat, lon = row.get("lat", ""), row.get("lon", "")
    if problem.code == _SWAPPED:
        return [{"lat": lon, "lon": lat}]
    if problem.code == _FAR:
        return [{"lon": f"-{lon}"}] if lon[:1].isdecimal() else []
    text = row.get(problem.column or "", "")
    found: list[str] = []
    for wanted in dict.fromkeys(_guesses(problem, column, text, known, style)):
        with contextlib.suppress(CellError, UnitError):
            read_cell(wanted, column, style, formulation)
            named = [part.strip() for part in wanted.split(";")] if column.is_list else [wanted]
            if wanted != text and (not known or all(name in known for name in named)):
                found.append(wanted)
    return [{problem.column or "": one} for one in found[:MOST_OFFERED]]


def _guesses(
    problem: Problem, column: Column, text: str, known: Collection[str], style: Style
) -> Iterator[str]:
    meant = _MEANT.search(problem.cure)
    if meant:
        yield text.replace(problem.found, meant[1]) if problem.found in text else meant[1]
        yield meant[1]
    if column.kind == "rate":
        for ounces in ("fl oz", "oz wt"):
            yield _BARE_OUNCES.sub(ounces, text)
    for dates in (("", None), (MONTH_FIRST, None), (DAY_FIRST, None)):
        with contextlib.suppress(CellError, UnitError):
            if text:
                yield table_text(text, column, "", style, "", dates)
    if column.item_kind in ("number", "whole", "money"):
        yield re.sub(r"[^\d.\-]", "", text.replace(",", ""))
    if known and (near := nearest(text, known)):
        yield near
    if column.item_kind == "yes_no":
        yield from ("yes", "no")
    if problem.code in ("CHOICE-1", "CELL-1"):
        yield from column.choices
