"""The text of a cell -> the value that its column holds."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from planner.day.products import ANY_OTHER
from planner.tables.cell_error import CellError
from planner.tables.clock_cells import read_date, read_time, read_windows
from planner.tables.columns import Column
from planner.tables.contact_cells import read_email, read_phone
from planner.tables.date_lists import read_dates, read_month_day, read_weekdays
from planner.tables.text import did_you_mean, letters
from planner.units import UnitError, convert, parse_amount, parse_rate, parse_unit, split_area
from planner.units.numbers import number

YES = frozenset({"yes", "y", "true", "t", "1", "x", "✓", "✔"})
NO = frozenset({"no", "n", "false", "f", "0"})

NUMBER_KINDS = ("number", "whole", "money")

NOT_IN_IDS = ",;/|"
"""Lists are cut at the first two, keys of several columns are joined by the third."""

ALSO_WRITTEN = {"canceled": "cancelled", "hold": "onhold"}
"""Letters of a choice as offices also write it -> its letters."""

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d{1,3})?", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")
_ONE_GROUP = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_DECIMAL_COMMA = re.compile(r"[+-]?(\d{1,3}(\.\d{3})+|\d*),(\d{1,2}|\d{4,})")
_GROUPED_DECIMAL_COMMA = re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?0,\d+")
_COMMA_IN_RATE = re.compile(r"(?<![\d.,])(\d+),(\d{1,2}|\d{4,})(?![\d.,])")
_BARE = re.compile(r"[+-]?[\d.,]*")
_MINUS = str.maketrans("−–", "--")
_GROUPS = re.compile(r"(?<=\d)[ '](?=\d{3}(?!\d))|(?<=^[+-]) |^'")
"""What groups thousands; '43 50' is no number: it may be one lawn or two."""
_OUTSIDE_BRACKETS = re.compile(r"[;,](?![^(]*\))")


@dataclass(frozen=True)
class Style:
    """How a file writes its cells. semicolons: it is cut at semicolons, so that a comma may be a
    decimal comma; decimal_commas: and at least one number certainly holds one; epoch_1904: Excel
    day numbers count from 1904."""

    semicolons: bool = False
    decimal_commas: bool = False
    epoch_1904: bool = False


def shows_decimal_comma(text: str) -> bool:
    """Whether a number can only have been written with a decimal comma."""
    return bool(_DECIMAL_COMMA.fullmatch(text) or _GROUPED_DECIMAL_COMMA.fullmatch(text))


def read_cell(text: str, column: Column, style: Style, formulation: str | None = None) -> object:
    """The value of a cell that is not blank; a tuple for lists.

    formulation: code of the product that a rate belongs to; it decides a bare 'oz'. Raises
    CellError, or UnitError for rates, amounts and units.
    """
    if column.is_list:
        cut = _OUTSIDE_BRACKETS if text.count("(") == text.count(")") else re.compile("[;,]")
        items = [part.strip() for part in cut.split(text)]
        return tuple(dict.fromkeys(item for item in items if item))
    if column.choices:
        return _choice(text, column)
    if column.item_kind in NUMBER_KINDS:
        return _ranged(_number(text, column, style), column)
    reader = _READERS.get(column.item_kind)
    if reader is not None:
        return reader(text)
    if column.item_kind == "date":
        return read_date(text, style.epoch_1904)
    if column.item_kind == "dates":
        return read_dates(text, style.epoch_1904)
    if column.item_kind == "month_day":
        return read_month_day(text, style.epoch_1904)
    if column.item_kind in ("rate", "amount", "stock"):
        plain = _COMMA_IN_RATE.sub(r"\1.\2", text) if style.semicolons else text
        if column.item_kind == "rate":
            return parse_rate(plain, formulation)
        return parse_amount(plain, zero=column.item_kind == "stock")
    return text


def _choice(text: str, column: Column) -> str:
    written = letters(text)
    for word in column.choices:
        if letters(word) == ALSO_WRITTEN.get(written, written):
            return word
    raise CellError(
        "CHOICE-1",
        "this is none of the allowed words",
        did_you_mean(text, column.choices, "write one of: " + ", ".join(column.choices)),
    )


def _yes_no(text: str) -> bool:
    word = text.casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    raise CellError("CHOICE-2", "this is neither yes nor no", "write yes or no")


def _id(text: str) -> str:
    for letter in NOT_IN_IDS:
        if letter in text:
            raise CellError(
                "ID-1",
                f"a short name may not hold '{letter}'",
                "use a space, a point or a hyphen instead",
            )
    if text.casefold() == ANY_OTHER:
        raise CellError(
            "ID-1", f"'{ANY_OTHER}' has a meaning of its own in keep_apart", "use another name"
        )
    return text


def _unit(text: str) -> str:
    return parse_unit(text)[0]


_READERS: dict[str, Callable[[str], object]] = {
    "yes_no": _yes_no,
    "id": _id,
    "time": read_time,
    "windows": read_windows,
    "unit": _unit,
    "weekdays": read_weekdays,
    "phone": read_phone,
    "email": read_email,
}


def _number(text: str, column: Column, style: Style) -> float:
    plain = text.translate(_MINUS)
    if column.kind == "money":
        plain = plain.removeprefix("$").strip()
    if column.unit and plain.casefold().endswith(column.unit.casefold()):
        plain = plain[: -len(column.unit)].strip()
    plain = _GROUPS.sub("", plain)
    if column.unit == "ft2" and not (_PLAIN.fullmatch(plain) or _BARE.fullmatch(plain)):
        return _area(text, column, style)
    value = float(_with_point(plain, column, style))
    if not math.isfinite(value):
        raise _no_number(column)
    return value


def _area(text: str, column: Column, style: Style) -> float:
    found = split_area(text)
    if found is None:
        raise _no_number(column)
    written, unit = found
    if "/" not in written:
        value = float(_with_point(written, column, style))
    else:
        try:
            value = number(written)
        except ValueError as error:
            raise _no_number(column, str(error)) from None
    # Converting loads the units library, which most workbooks never need for an area.
    return value if unit == "sq ft" else convert(value, unit, "sq ft")


def _no_number(column: Column, why: str = "this is not a number") -> CellError:
    unit = f" in {column.unit}" if column.unit else ""
    cure = f"write a number{unit} and nothing else"
    if column.unit == "ft2":
        cure = "write square feet, or the area with its unit (6.7K; 0.51 acre)"
    return CellError("NUM-1", why, cure)


def _with_point(plain: str, column: Column, style: Style) -> str:
    unclear = style.semicolons and _ONE_GROUP.fullmatch(plain)
    if unclear and ("," in plain or style.decimal_commas):
        whole = plain.replace(",", "").replace(".", "")
        raise CellError(
            "NUM-4",
            "this may be thousands or decimals",
            f"write {whole}, or {float(plain.replace(',', '.')):g} with a decimal point",
        )
    if _PLAIN.fullmatch(plain):
        return plain
    if _THOUSANDS.fullmatch(plain) and not _GROUPED_DECIMAL_COMMA.fullmatch(plain):
        return plain.replace(",", "")
    if style.semicolons and shows_decimal_comma(plain):
        return plain.replace(".", "").replace(",", ".")
    raise _no_number(column)


def _ranged(value: float, column: Column) -> float | int:
    if column.kind == "whole" and value != int(value):
        raise CellError("NUM-2", "this is not a whole number", "write it without a fraction")
    unit = f" {column.unit}" if column.unit else ""
    if column.least is not None and value < column.least:
        raise _out_of_range(f"below the least of {column.least:,.10g}{unit}", column)
    if column.most is not None and value > column.most:
        raise _out_of_range(f"above the most of {column.most:,.10g}{unit}", column)
    return int(value) if column.kind == "whole" else value


def _out_of_range(where: str, column: Column) -> CellError:
    if column.column == "lat":
        cure = "check it; latitude and longitude may be swapped"
    elif column.unit == "ft2":
        cure = "check it; write K behind thousands of square feet and acre behind acres"
    else:
        cure = f"check it and its unit ({column.meaning[:1].lower()}{column.meaning[1:]})"
    return CellError("NUM-3", f"this is {where}", cure)


__all__ = ["CellError", "Style", "UnitError", "read_cell", "shows_decimal_comma"]
