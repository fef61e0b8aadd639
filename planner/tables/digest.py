"""The fingerprint of a workbook's content."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from itertools import chain, islice, repeat
from typing import Final

from planner.tables.columns import FORMER_NAMES, SETTINGS, columns_of, settings_columns, table_names
from planner.tables.read_rows import blank_value
from planner.tables.rows import BAD, Cells, Tables

OF_NO_DAY: Final = ("programs", "property_programs", "temperatures", "climate")
"""Tables that make orders or calendars and have no part in a day's plan; a new line of temperatures
does not make the plan that was printed one of other tables."""

ROWS_AT_ONCE: Final = 5_000

_BARE: Final = ("usual_truck", "in_store", "trucks_at_once")
"""Each was the only one of its table: its value alone said which column it was in."""


def digest_of(tables: Tables) -> str:
    """SHA-256 of what the tables say, not of how they are written: the same for a folder of CSV
    files and for the same sheets in Excel, for '1,200' and '1200', and wherever a default is
    written out. A cell that cannot be read counts by its text."""
    sha = hashlib.sha256()
    settings = {FORMER_NAMES.get(name, name): value for name, value in tables.settings.items()}
    for name, value in sorted(settings.items()):
        column = settings_columns().get(name)
        if column is not None and column.later and value == blank_value(column):
            continue
        sha.update(f"settings\x1f{name}\x1f{value!r}\x1e".encode())
    for name in table_names():
        if name == SETTINGS or name in OF_NO_DAY:
            continue
        if name in tables.by_name:
            for text in _row_texts(name, tables.by_name[name].cells):
                sha.update(text.encode())
    return sha.hexdigest()


def _row_texts(name: str, cells: Cells) -> Iterator[str]:
    """The rows as text, many at once: cells column by column, and put together only then."""
    if not cells.numbers:
        return
    columns: list[Iterable[str]] = []
    blank = [""] * len(cells.numbers)
    for column, about in columns_of(name).items():
        later = about.later
        prefix = f"\x1f{column}=" if later and column not in _BARE else "\x1f"
        values, texts = cells.values.get(column), cells.texts.get(column, blank)
        if later and not any(texts):
            continue
        # Cells that say the same share their value.
        different = {id(value): value for value in values or ()}
        shown = {at: prefix + repr(value) for at, value in different.items()}
        if values is not None and not later and id(BAD) not in different:
            columns.append(map(shown.__getitem__, map(id, values)))
            continue
        columns.append(
            [
                "" if later and not text
                else f"{prefix}?{text}" if value is BAD
                else shown[id(value)]
                for value, text in zip(values or [BAD] * len(blank), texts, strict=True)
            ]
        )  # fmt: skip
    every = zip(repeat(name), *columns, repeat("\x1e"))  # these two never end
    while rows_text := "".join(chain.from_iterable(islice(every, ROWS_AT_ONCE))):
        yield rows_text
