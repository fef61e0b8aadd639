"""What may be written into a cell that is wrong: every offer is one that the tables can read."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Collection, Iterator, Mapping
from typing import Final

from planner.importing.cells import DAY_FIRST, MONTH_FIRST, table_text
from planner.problems import Problem
from planner.tables.cells import Style, read_cell
from planner.tables.columns import Column
from planner.tables.text import CellError, nearest
from planner.units import UnitError

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
