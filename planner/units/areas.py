"""Areas as customer lists write them: '7,700 sq ft', '6.7K', '0.51 ac', '1/4 acre'."""

from __future__ import annotations

import re
from typing import Final

from planner.units.model import UnitError
from planner.units.numbers import NUMBER_PATTERN, plain_text
from planner.units.spellings import AREA_SPELLINGS, AREA_UNIT_PATTERN, canonical

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
