"""Phone numbers and email addresses as offices and spreadsheets write them; the only module that
imports phonenumbers."""

from __future__ import annotations

import re
from email.utils import parseaddr
from typing import TYPE_CHECKING

from planner.tables.cell_error import CellError
from planner.tables.text import says_nothing

if TYPE_CHECKING:
    from phonenumbers import PhoneNumber

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
        raise _no_number(text)
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


def _no_number(text: str) -> CellError:
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
