"""What a trade spelling is read into, what is refused with which code, and numbers as labels
print them: fractions, mixed numbers, thousands separators, unicode."""

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

from planner.problems import PlannerError

ACRE_FT2: Final = 43_560.0
"""Square feet of an acre on the international foot; NIST Handbook 44, Appendix C. A general units
library's acre is on the survey foot (43,560.174 of today's square feet)."""


class UnitError(PlannerError, ValueError):
    """A spelling that is refused. code: of planner/docs/codes.csv; cure: what to write instead."""

    def __init__(self, code: str, message: str, cure: str) -> None:
        self.code, self.message, self.cure = code, message, cure
        super().__init__(f"{message}; {cure}")


@dataclass(frozen=True)
class Amount:
    """A quantity of product. unit: canonical; kind: 'volume' or 'mass'; base: gallons or pounds."""

    value: float
    unit: str
    kind: str
    base: float


@dataclass(frozen=True)
class Rate:
    """A label rate.

    text: as written. least, most: amounts in `unit` per `per`. unit: canonical ('fl oz', 'pt',
    'gal', 'lb', 'oz wt', 'g', 'mL', '%'). kind: 'volume' or 'mass'. per: canonical ('acre',
    '1000 sq ft', 'hectare', '100 m2', 'gal', '100 gal' ...; 'finished mix' for a percentage).
    basis: 'area' or 'finished mix'. substance: 'product', 'N', 'ai' or 'ae'. least_base,
    most_base: gallons or pounds of the substance per 1,000 ft2 (basis 'area') or per gallon of
    finished mix.
    """

    text: str
    least: float
    most: float
    unit: str
    kind: str
    per: str
    basis: str
    substance: str
    least_base: float
    most_base: float


NUMBER_PATTERN: Final = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+\.\d+|\.\d+|\d+)"
"""Regular expression of one number in plain text."""

_DASHES: Final = dict.fromkeys(map(ord, "‐‑‒–—―−﹣－"), "-")


def plain_text(text: str, *, commas: bool = False) -> str:
    """The text in plain characters: '1½' -> '1 1/2', '1,000' -> '1000' (commas: those stay), dashes
    and spaces made alike, 'ft²' -> 'ft2'."""
    out = []
    for letter in text.translate(_DASHES):
        decomposed = unicodedata.normalize("NFKC", letter)
        if "⁄" in decomposed:
            # A space in front, or '1½' would turn into '11/2'.
            decomposed = " " + decomposed.replace("⁄", "/")
        out.append(decomposed)
    plain = "".join(out)
    if not commas:
        plain = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", plain)
    return re.sub(r"\s+", " ", plain).strip()


def number(text: str) -> float:
    """The value of a text that matches NUMBER_PATTERN. Raises ValueError, also for n/0 and for
    fractions of one and more: '4350/2' is a sum, which no sheet should hide."""
    total = 0.0
    for part in text.split():
        top, slash, bottom = part.partition("/")
        if slash and float(bottom) == 0:
            raise ValueError(f"'{text}' divides by zero")
        if slash and float(top) >= float(bottom):
            raise ValueError(f"'{part}' is a sum, not a fraction")
        total += float(top) / float(bottom) if slash else float(top)
    return total
