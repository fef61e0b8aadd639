"""The text of a cell -> the value that its column holds; the only module that imports
phonenumbers."""

from __future__ import annotations

import re
from email.utils import parseaddr
from typing import TYPE_CHECKING

from planner.tables.text import CellError, says_nothing

if TYPE_CHECKING:
    from phonenumbers import PhoneNumber
import math
from collections.abc import Callable
from dataclasses import dataclass

from planner.day.products import ANY_OTHER
from planner.tables.clock_cells import (
    read_date,
    read_dates,
    read_month_day,
    read_time,
    read_weekdays,
    read_windows,
)
from planner.tables.columns import Column
from planner.tables.text import did_you_mean, letters
from planner.units import UnitError, convert, parse_amount, parse_rate, parse_unit, split_area
from planner.units.model import number

HOME_COUNTRY = "US"

_FLOAT = re.compile(r"(\d+)\.0+")
_SCIENTIFIC = re.compile(r"(\d)[.,]?(\d*)E\+?(\d{1,2})", re.IGNORECASE)
_LOCAL = re.compile(r"\D*\d{3}\D?\d{4}\D*")
_PLAN = re.compile(r"[2-9]\d\d[2-9]\d{6}")
"""Area code and exchange never begin with 0 or 1 (North American Numbering Plan, NXX-NXX-XXXX)."""
_EMAIL = re.compile(
    r"[a-z0-9.!#$%&'*+/=?^_`{|}~-]+@[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
    r"(?:\.[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?)+",
    re.IGNORECASE,
)
"""The e-mail state of HTML's input element (WHATWG HTML, 4.10.5.1.5), with a dot in the domain."""
_AS_TEXT = "give the column the format Text and type the whole number again"


def read_phone(text: str) -> str:
    """A number as it is read aloud, '(614) 555-0123', foreign ones '+44 20 7946 0018'; an extension
    and words that stood with it behind it: '(614) 555-0123 ext. 4 (barn)'. '' for 'none' and 'n/a'.

    What spreadsheets do to a number (6145550123.0, 6.145550123E+09, a lost + or 0 in front) is
    undone. Raises CellError: PHONE-2 when they cut its last digits, PHONE-3 for two numbers,
    PHONE-1 for anything else that cannot be dialed."""
    if says_nothing(text):
        return ""
    text = _undone(text)
    found = _numbers(text)
    if len({number for _, number in found}) > 1:
        raise CellError(
            "PHONE-3", "there are two numbers in one cell", "write the second under phone_2"
        )
    if not found:
        raise _no_phone(text)
    for raw, _ in found:
        text = text.replace(raw, " ")
    words = " ".join(filter(None, (part.strip(":;,.-/'\"()") for part in text.split())))
    return f"{found[0][1]} ({words})" if words else found[0][1]


def _numbers(text: str) -> list[tuple[str, str]]:
    """What of the text is a number that can be dialed: (as written, as shown)."""
    # Here, for its tables take longer to load than most workbooks to read.
    from phonenumbers import Leniency, PhoneNumberMatcher, is_valid_number

    found = PhoneNumberMatcher(text, HOME_COUNTRY, leniency=Leniency.POSSIBLE)
    matches = [(item.raw_string, shown) for item in found if (shown := _shown(item.number))]
    if matches or not text.isdecimal():
        return matches
    for lost in ("+", "0"):
        guess = PhoneNumberMatcher(lost + text, HOME_COUNTRY, leniency=Leniency.VALID)
        matches = [(text, _shown(item.number)) for item in guess if is_valid_number(item.number)]
        if matches:
            return matches
    return []


def _shown(number: PhoneNumber) -> str:
    """'' if it lacks its area code or breaks the numbering plan. Whether an area code is in use is
    not asked: new ones come every year, faster than programs are renewed."""
    from phonenumbers import PhoneNumberFormat, format_number

    if number.country_code != 1:
        return format_number(number, PhoneNumberFormat.INTERNATIONAL)
    if not _PLAN.fullmatch(str(number.national_number)):
        return ""
    return format_number(number, PhoneNumberFormat.NATIONAL)


def _undone(text: str) -> str:
    whole = _FLOAT.fullmatch(text)
    if whole:
        return whole[1]
    short = _SCIENTIFIC.fullmatch(text)
    if not short:
        return text
    if len(short[2]) < int(short[3]):
        raise CellError("PHONE-2", "a spreadsheet has cut this number's last digits", _AS_TEXT)
    return short[1] + short[2][: int(short[3])]


def _no_phone(text: str) -> CellError:
    if _LOCAL.fullmatch(text):
        return CellError("PHONE-1", "the area code is missing", "write it like 614-555-0123")
    return CellError(
        "PHONE-1",
        "this is not a phone number that can be dialed",
        "write it like 614-555-0123, one from abroad with + and country code, or leave it blank",
    )


def read_email(text: str) -> str:
    """One address; a name or 'mailto:' in front of it is dropped, '' for 'none' and 'n/a'. Raises
    CellError EMAIL-1."""
    if says_nothing(text):
        return ""
    address = parseaddr(text.removeprefix("mailto:"))[1]
    if not _EMAIL.fullmatch(address) or text.count("@") > 1:
        raise CellError(
            "EMAIL-1",
            "this is not one email address",
            "write one like pat@example.com, or leave it blank",
        )
    return address


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
