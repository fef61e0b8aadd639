"""Rows as CSV text that a spreadsheet opens by a double click."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any

from planner.exports.plain_text import no_formula

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
