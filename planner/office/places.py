"""Where places lie: streets to click on, and addresses looked up for the tables' page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.day.day import Workbook
from planner.day_roads import open_book_roads, workbook_places
from planner.locating import LocatedTable, locate_places
from planner.maps.background import background
from planner.office.changes import Refused
from planner.problems import PlannerError
from planner.tables.address_rows import suggested


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
