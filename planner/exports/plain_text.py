"""Customers' text made harmless for files that other programs open."""

from __future__ import annotations

import re

from planner.papers.direction import plain_direction

_FORMULA = re.compile(r"(^|;)(\s*)(?=[=+\-@＝＋－＠])")
"""Where a spreadsheet could begin a formula: at the start of a cell, or after a semicolon, which
parts cells where the decimal sign is a comma. Signs: OWASP, 'CSV Injection',
https://owasp.org/www-community/attacks/CSV_Injection (full-width forms included)."""


def one_line(text: str) -> str:
    """The text on one line: every control sign (tab and line break too) becomes a space, and signs
    that turn writing around go, for they would turn the figures after them."""
    plain = "".join(sign if sign.isprintable() or sign == " " else " " for sign in _joined(text))
    return plain.strip()


def no_formula(text: str) -> str:
    """A cell that no spreadsheet runs: an apostrophe stands before a sign that could begin a
    formula. The rest is as written."""
    return _FORMULA.sub(r"\1\2'", one_line(text))


def _joined(text: str) -> str:
    # A joiner holds the parts of one emoji together; Python counts it as not printable.
    return plain_direction(text).replace("\u200d", "")
