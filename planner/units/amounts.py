"""Amounts, units and areas as offices write them: '24 fl oz', '2 gal 1 qt', '50 lb', '7,700 sq
ft', '6.7K', '0.51 ac', '1/4 acre'."""

import re
from typing import Final

from planner.units.model import NUMBER_PATTERN, Amount, UnitError, number, plain_text
from planner.units.registry import KINDS, base_amount, convert
from planner.units.spellings import (
    AMOUNT_SPELLINGS,
    AMOUNT_UNIT_PATTERN,
    AREA_SPELLINGS,
    AREA_UNIT_PATTERN,
    BARE_OUNCE,
    canonical,
    known_unit,
    settle_ounce,
)

_PART: Final = re.compile(
    rf"(?P<number>{NUMBER_PATTERN})\s*(?P<unit>{AMOUNT_UNIT_PATTERN})(?:\s*(?:,|and\b))?\s*"
)
_AMBIGUOUS: Final = re.compile(r"(?i)\b(survey|imperial|imp|uk|tons?|tonnes?)\b")

_OFFERED: Final = [unit for unit in AMOUNT_SPELLINGS if unit != BARE_OUNCE]

KNOWN_UNITS_TEXT: Final = f"{', '.join(_OFFERED[:-1])} or {_OFFERED[-1]}"
"""What to offer where a unit is not known: every unit of an amount."""


def refuse_ambiguous(text: str) -> None:
    """Raises UnitError UNIT-4 where a unit of that name has several sizes."""
    found = _AMBIGUOUS.search(text)
    if found:
        raise UnitError(
            "UNIT-4",
            f"'{found.group(0)}' units have more than one size",
            "use the acre of 43,560 sq ft, the US gallon and pounds",
        )


def parse_unit(text: str) -> tuple[str, str]:
    """Canonical spelling of a unit of product and its kind ('volume' or 'mass').

    '/gal' and 'per gal' are read as 'gal'. Raises UnitError: UNIT-1 unknown, UNIT-2 bare 'oz',
    UNIT-3 an area or a percentage, UNIT-4 a size that is ambiguous.
    """
    plain = re.sub(r"^(?:\$?\s*/|(?i:per)\s)\s*", "", plain_text(text))
    refuse_ambiguous(plain)
    unit = canonical(plain)
    if unit is None and plain == "%":
        raise UnitError("UNIT-3", "'%' is not a unit of product", f"use {KNOWN_UNITS_TEXT}")
    if unit is None:
        raise UnitError("UNIT-1", f"unit '{plain}' is not known", f"use {KNOWN_UNITS_TEXT}")
    if unit not in AMOUNT_SPELLINGS:
        raise UnitError("UNIT-3", f"'{plain}' is an area", f"use {KNOWN_UNITS_TEXT}")
    unit = settle_ounce(unit, None)
    return unit, KINDS[unit]


def parse_amount(text: str, *, zero: bool = False) -> Amount:
    """One amount of product, also in several units of one kind ('2 gal 1 qt 6 fl oz').

    zero: whether '0 gal' is an amount. The result is in the first unit named. An 'oz' after pounds
    is a weight. Raises UnitError: AMOUNT-1 not an amount (a range, nothing), UNIT-1, UNIT-2,
    UNIT-3, UNIT-4.
    """
    plain = plain_text(text)
    refuse_ambiguous(plain)
    parts: list[tuple[float, str]] = []
    at = 0
    while at < len(plain):
        found = _PART.match(plain, at)
        if found is None:
            raise _not_an_amount(plain, at)
        parts.append((_value(found.group("number")), _unit(found.group("unit"), parts)))
        at = found.end()
    if not parts:
        raise UnitError("AMOUNT-1", "there is no amount", "write a number and a unit: '2.5 gal'")
    return _sum(parts, plain, zero=zero)


def _value(text: str) -> float:
    try:
        return number(text)
    except ValueError as error:
        cure = "write a number and a unit: '2.5 gal'"
        raise UnitError("AMOUNT-1", str(error), cure) from None


def _unit(spelling: str, before: list[tuple[float, str]]) -> str:
    unit = known_unit(spelling)
    if unit == BARE_OUNCE and before and before[-1][1] == "lb":
        return "oz wt"
    return settle_ounce(unit, None)


def _sum(parts: list[tuple[float, str]], plain: str, *, zero: bool) -> Amount:
    kinds = {KINDS[unit] for _, unit in parts}
    if len(kinds) > 1:
        raise UnitError("UNIT-3", f"'{plain}' adds a volume to a weight", "write units of one kind")
    base = sum(base_amount(value, unit) for value, unit in parts)
    if base < 0 or (base == 0 and not zero):
        raise UnitError("AMOUNT-1", f"'{plain}' is nothing", "write an amount above 0")
    unit = parts[0][1]
    value = (
        parts[0][0]
        if len(parts) == 1
        else convert(base, "gal" if kinds == {"volume"} else "lb", unit)
    )
    return Amount(value, unit, kinds.pop(), base)


def _not_an_amount(plain: str, at: int) -> UnitError:
    rest = plain[at:]
    word = re.match(rf"{NUMBER_PATTERN}\s*(?P<word>[A-Za-z%#][A-Za-z0-9.]*)", rest)
    if word and canonical(word.group("word")) is None:
        return UnitError(
            "UNIT-1", f"unit '{word.group('word')}' is not known", f"use {KNOWN_UNITS_TEXT}"
        )
    return UnitError(
        "AMOUNT-1", f"'{plain}' is not an amount", "write a number and a unit: '2.5 gal'"
    )


_FRACTIONS: Final = (
    (re.compile(r"(?i)\b(?:one\s+)?half\s+(?:of\s+)?(?:an?\s+)?(?=ac)"), "1/2 "),
    (re.compile(r"(?i)\bthree\s+quarters?\s+(?:of\s+)?(?:an?\s+)?(?=ac)"), "3/4 "),
    (re.compile(r"(?i)\b(?:one\s+|a\s+)?quarter\s+(?:of\s+)?(?:an?\s+)?(?=ac)"), "1/4 "),
)
_NUMBER: Final = rf"(?P<number>-?(?:\d[\d.,]*,[\d.,]*\d|{NUMBER_PATTERN}))"
_SQUARE_FEET: Final = r"(?i:sq\.?\s*(?:ft|feet|foot)\.?|square\s+(?:ft|feet|foot)|ft2|sf)"
_THOUSANDS: Final = re.compile(rf"{_NUMBER}\s*(?i:k|thousand)(?:\s*{_SQUARE_FEET})?")
_AREA: Final = re.compile(rf"{_NUMBER}\s*(?P<unit>{AREA_UNIT_PATTERN})?")
_WORD: Final = re.compile(rf"{_NUMBER}\s*(?P<unit>[A-Za-z][A-Za-z0-9 .]*)")
_RANGE: Final = re.compile(r"\d\S*\s*[A-Za-z. ]*(?:-|\bto\b|\bor\b)\s*\d")
_SIDES: Final = re.compile(r"(?i)\d\s*(?:ft|feet|')?\s*(?:x|×|by|\*)\s*\d")
_MORE_OR_LESS: Final = re.compile(r"(?i)[~<>±?+]|\b(?:about|approx|around|over|under|ca|est)\b")


def split_area(text: str) -> tuple[str, str] | None:
    """The number of an area as it is written ('7,700', '1 1/2') and its canonical unit: 'sq ft'
    where none stands, '1000 sq ft' for a K. None for a text that is no area at all.

    Raises UnitError: AREA-1 a range, 'about', two sides or an M; UNIT-1 an unknown unit.
    """
    plain = plain_text(text, commas=True)
    for words, fraction in _FRACTIONS:
        plain = words.sub(fraction, plain)
    found = _THOUSANDS.fullmatch(plain)
    if found:
        return found["number"], "1000 sq ft"
    found = _AREA.fullmatch(plain)
    if found:
        unit = canonical(found["unit"]) if found["unit"] else "sq ft"
        assert unit in AREA_SPELLINGS, plain  # the pattern is built from the same list
        return found["number"], unit
    _refuse(plain)
    return None


def _refuse(plain: str) -> None:
    if _SIDES.search(plain):
        raise UnitError(
            "AREA-1", "these are the sides of a lot, not the area of a lawn", "write the area"
        )
    if _MORE_OR_LESS.search(plain) or _RANGE.search(plain):
        raise UnitError("AREA-1", "this is no single area", "write the one that is to be treated")
    word = _WORD.fullmatch(plain)
    if word and word["unit"].strip(" .").casefold() == "m":
        raise UnitError(
            "AREA-1",
            "M is thousands here and millions or meters there",
            f"write {word['number']}K for thousands of square feet",
        )
    if word:
        known = "use sq ft, K (1,000 sq ft), acre, sq yd, m2 or hectare"
        raise UnitError("UNIT-1", f"unit '{word['unit']}' is not known", known)
