"""Customers' text made harmless for files that other programs open; rows as CSV text that a
spreadsheet opens by a double click."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any

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


BYTE_ORDER_MARK = "\ufeff"
"""Without it Excel reads the file in the machine's own old character set."""


def csv_text(kind: type, rows: Sequence[Any]) -> str:
    """The rows (of that dataclass) as RFC 4180 text with a header; numbers stay numbers, and no
    text can run as a formula."""
    names = [field.name for field in fields(kind)]
    return table_text(names, ([getattr(row, name) for name in names] for row in rows))


def table_text(names: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """As csv_text, of plain rows under these names."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow(names)
    for row in rows:
        writer.writerow([no_formula(v) if isinstance(v, str) else v for v in row])
    return BYTE_ORDER_MARK + out.getvalue()
