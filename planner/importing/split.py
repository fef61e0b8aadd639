"""One cell that holds several things -> the text of each."""

from __future__ import annotations

import re
from collections.abc import Sequence

from planner.tables.cell_error import CellError
from planner.tables.states import STATES
from planner.tables.text import clean

_COUNTRY = re.compile(r"[,\s]+(?:USA?|U\.S\.A?\.?|United States(?: of America)?)$", re.IGNORECASE)
_ZIP = re.compile(r"[,\s]*\b(\d{5}(?:-?\d{4})?)$")
_STATE = re.compile(r"(?:^|[,\s]+)([A-Za-z]{2})\.?,?$")
_BETWEEN_DATES = re.compile(r"\s+(?:-|–|—|to|thru|through)\s+|\s*[–—]\s*|\s*-\s*(?=\d{1,2}/\d)")
_BETWEEN_PHONES = re.compile(r"[;,/|&]|\bor\b|\band\b", re.IGNORECASE)
_BETWEEN_DEGREES = re.compile(r"[,;\s]+")

PLACE = ("address", "town", "state", "zip")


def split_cell(text: str, columns: Sequence[str]) -> dict[str, str]:
    """Column -> its part of a cell. columns: names without their table; parts of an address, lat
    and lon, two dates or two phone numbers. Raises CellError SPLIT-1."""
    if set(columns) <= set(PLACE):
        return _place(text, columns)
    if columns[0].startswith("phone"):
        return _in_order(_BETWEEN_PHONES, text, columns, least=1)
    if columns[0] == "lat":
        return _in_order(_BETWEEN_DEGREES, text.strip("()"), columns, least=2)
    found = _in_order(_BETWEEN_DATES, text, columns, least=1)
    # A single day is both ends.
    return {name: found.get(name, text) for name in columns}


def can_split(columns: Sequence[str]) -> bool:
    """Whether one cell may hold these columns."""
    known = (("lat", "lon"), ("due_from", "due_to"), ("phone", "phone_2"))
    return len(columns) > 1 and (set(columns) <= set(PLACE) or tuple(columns) in known)


def _in_order(
    between: re.Pattern[str], text: str, columns: Sequence[str], least: int
) -> dict[str, str]:
    parts = [part.strip() for part in between.split(text) if part.strip()]
    if not least <= len(parts) <= len(columns):
        raise CellError(
            "SPLIT-1", f"these are not {' and '.join(columns)}", f"write {len(columns)} of them"
        )
    return dict(zip(columns, parts, strict=False))


def _place(text: str, columns: Sequence[str]) -> dict[str, str]:
    """The parts are peeled off from the end: ZIP code, state, town."""
    # An address in two lines has its comma there.
    rest = clean(", ".join(line.strip(" ,") for line in text.splitlines() if line.strip(" ,")))
    rest = _COUNTRY.sub("", rest)
    found: dict[str, str] = {}
    if "zip" in columns:
        match = _ZIP.search(rest)
        if match:
            found["zip"], rest = match[1], rest[: match.start()]
    if "state" in columns:
        match = _STATE.search(rest.rstrip(" ,"))
        if match and match[1].upper() in STATES:
            found["state"], rest = match[1].upper(), rest[: match.start()]
    rest = rest.strip(" ,")
    if "town" in columns and "address" in columns:
        rest, comma, town = rest.rpartition(",")
        if not comma:
            raise CellError(
                "SPLIT-1",
                "there is no comma between street and town",
                "write it like '12 Oak St, Town, OH 43210'",
            )
        found["town"] = town.strip()
        rest = rest.strip(" ,")
    name = "address" if "address" in columns else "town"
    if not re.search(r"[A-Za-z]", rest):
        raise CellError(
            "SPLIT-1", f"there is no {name}", "write it like '12 Oak St, Town, OH 43210'"
        )
    found[name] = rest
    return found
