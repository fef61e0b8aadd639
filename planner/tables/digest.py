"""The fingerprint of a workbook's content."""

from __future__ import annotations

import hashlib

from planner.tables.columns import columns_of, table_names
from planner.tables.rows import Row, Tables


def digest_of(tables: Tables) -> str:
    """SHA-256 of what the tables say, not of how they are written: the same for a folder of CSV
    files and for the same sheets in Excel, for '1,200' and '1200', and wherever a default is
    written out. A cell that cannot be read counts by its text."""
    sha = hashlib.sha256()
    for name, value in sorted(tables.settings.items()):
        sha.update(f"settings\x1f{name}\x1f{value!r}\x1e".encode())
    for name in table_names():
        if name == "settings":
            continue
        for row in tables.rows(name):
            sha.update(_row_text(name, row).encode())
    return sha.hexdigest()


def _row_text(name: str, row: Row) -> str:
    cells = (
        repr(row.values[column]) if column in row.values else f"?{row.texts.get(column, '')}"
        for column in columns_of(name)
    )
    return "\x1f".join((name, *cells)) + "\x1e"
