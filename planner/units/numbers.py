"""Numbers as labels print them: fractions, mixed numbers, thousands separators, unicode."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

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
