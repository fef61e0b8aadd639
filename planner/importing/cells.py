"""The text of an export's cell, also of one that holds several things -> the text that the
planner's table gets."""

import datetime as dt
import re
from collections.abc import Sequence

from planner.tables.cells import NOT_IN_IDS, NUMBER_KINDS, YES, Style, read_cell
from planner.tables.columns import Column
from planner.tables.text import STATES, CellError, clean, harmless, letters, says_nothing

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


MONTH_FIRST, DAY_FIRST = "month first", "day first"
AMBIGUOUS_DAY = "day and month may each be first"

ANSWERS = ("gate_note", "dog_note", "notice", "note")
"""Columns of words in which a program may keep a mere yes or no."""

_WHOLE_FLOAT = re.compile(r"(\d+)\.0+")
_TIME = re.compile(r"[T ]+\d{1,2}:\d{2}.*$")
_THREE_NUMBERS = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](\d{4}|\d{2})")
_NO_YEAR = re.compile(r"\d{1,2}[-/.]\d{1,2}|\d{1,2}[-\s][a-z]{3,9}\.?|[a-z]{3,9}\.?\s\d{1,2}", re.I)
_BARE_NUMBER = re.compile(r"[\d.,\s]+")


def table_text(
    text: str, column: Column, header: str, style: Style, unit: str, dates: tuple[str, int | None]
) -> str:
    """What a cleaned cell that is not blank becomes in the column; '' where it says nothing.

    unit: of a bare number ('' = the column's own), or the area code of a phone number; dates: which
    of day and month stands first ('' = not known) and the year of dates without one. Raises
    CellError or UnitError as the tables do.
    """
    if column.column in ANSWERS:
        if says_nothing(text):
            return ""
        return header.rstrip(" ?") if text.casefold() in YES else harmless(text)
    kind = column.item_kind
    if kind in NUMBER_KINDS:
        return _number_text(text, column, style, unit)
    if kind == "date":
        plain = date_text(text, *dates)
        value = read_cell(plain, column, style)
        assert isinstance(value, dt.date)
        return value.isoformat()
    if kind == "phone" and unit and is_local(text):
        text = f"{unit}-{text}"
    if column.column == "zip":
        return zip_text(text)
    if kind == "id":
        whole = _WHOLE_FLOAT.fullmatch(text)
        return harmless(re.sub(f"[{re.escape(NOT_IN_IDS)}]+", "-", whole[1] if whole else text))
    value = read_cell(text, column, style)
    if kind == "yes_no":
        return "yes" if value else "no"
    if column.choices or kind in ("phone", "email"):
        return str(value)
    return harmless(text)


def is_local(text: str) -> bool:
    """Whether a phone number lacks its area code."""
    return len(letters(text)) == 7


def _number_text(text: str, column: Column, style: Style, unit: str) -> str:
    if unit and _BARE_NUMBER.fullmatch(text):
        text = f"{text} {unit}"
    value = read_cell(text, column, style)
    assert isinstance(value, (int, float))
    # Nobody measures a lawn to less than a square foot.
    return f"{round(value):d}" if column.unit == "ft2" else f"{value:.10g}"


def date_text(text: str, order: str, year: int | None) -> str:
    """A date in a way that the tables read: month first, with its year, without a time of day.
    Raises CellError where order or year would have to be guessed."""
    plain = _TIME.sub("", text).strip()
    whole = _WHOLE_FLOAT.fullmatch(plain)
    if whole:
        return whole[1]
    if _NO_YEAR.fullmatch(plain):
        if year is None:
            raise CellError(
                "DATE-1", "the year is missing", "write year = 2027 under [dates] of the mapping"
            )
        plain = plain.replace(".", "/") if plain[-1].isdecimal() else plain
        between = "/" if "/" in plain else ", " if plain[0].isalpha() else "-"
        plain = f"{plain}{between}{year}"
    found = _THREE_NUMBERS.fullmatch(plain)
    if found is None:
        return plain
    first, _, second, rest = found.groups()
    if not order and int(first) <= 12 and int(second) <= 12 and first != second:
        raise CellError(
            "DATE-1",
            AMBIGUOUS_DAY,
            f'write order = "{MONTH_FIRST}" or "{DAY_FIRST}" under [dates] of the mapping',
        )
    swapped = order == DAY_FIRST or (not order and int(first) > 12)
    return f"{second}/{first}/{rest}" if swapped else f"{first}/{second}/{rest}"


def zip_text(text: str) -> str:
    """A ZIP code with the zeros and the hyphen that spreadsheets take away. Raises CellError."""
    whole = _WHOLE_FLOAT.fullmatch(text)
    digits = (whole[1] if whole else text).replace("-", "").replace(" ", "")
    if not digits.isdecimal() or len(digits) not in (3, 4, 5, 8, 9):
        raise CellError("ZIP-1", "this is not a ZIP code", "write five digits, or 43210-1234")
    if len(digits) <= 5:
        return digits.zfill(5)
    digits = digits.zfill(9)
    return f"{digits[:5]}-{digits[5:]}"
