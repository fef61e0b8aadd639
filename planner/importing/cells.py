"""The text of an export's cell -> the text that the planner's table gets."""

from __future__ import annotations

import datetime as dt
import re

from planner.tables.cell_error import CellError
from planner.tables.cells import NOT_IN_IDS, NUMBER_KINDS, YES, Style, read_cell
from planner.tables.columns import Column
from planner.tables.text import harmless, letters, says_nothing

MONTH_FIRST, DAY_FIRST = "month first", "day first"

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
            "day and month may each be first",
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
