"""Signs that turn the direction of writing around, taken out of customers' text.

Left in, they also turn around what the sheet prints after the name: 85 gal would read 58.
Right-to-left letters themselves need no such sign and stay.
"""

DIRECTION_SIGNS = "\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Marks, embeddings, overrides and isolates of the Unicode Bidirectional Algorithm
(https://www.unicode.org/reports/tr9/, section 2)."""

_WITHOUT = dict.fromkeys(map(ord, DIRECTION_SIGNS))


def plain_direction(text: str) -> str:
    """The text without signs that change the direction of writing."""
    return text.translate(_WITHOUT)
