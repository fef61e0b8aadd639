"""Checks that hold for every table: keys, references, pairs of limits, tables without rows."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterator

from planner.problems import MOST_SHOWN_PER_COLUMN, Problem
from planner.tables.columns import REQUIRED_TABLES, columns_of, key_columns
from planner.tables.rows import Tables
from planner.tables.text import did_you_mean
from planner.units import Rate

_WHOLE_NUMBER = re.compile(r"0*(\d+)(?:\.0*)?")

PAIRS = (
    ("sites", "open", "close"),
    ("trucks", "shift_start", "shift_end"),
    ("trucks", "lunch_earliest", "lunch_latest"),
    ("products", "carrier_least_gal_per_1000_ft2", "carrier_most_gal_per_1000_ft2"),
    ("products", "wind_least_mph", "wind_most_mph"),
    ("products", "temperature_least_f", "temperature_most_f"),
    ("products", "rate_least", "rate_most"),
    ("product_rates", "rate_least", "rate_most"),
    ("notify", "lead_least_h", "lead_most_h"),
    ("orders", "due_from", "due_to"),
    ("orders", "due_to", "last_day"),
    ("orders", "date", "last_day"),
    ("weather", "wind_mph", "gust_mph"),
    ("programs", "degree_days_from", "degree_days_to"),
    ("programs", "days_least", "days_most"),
    ("property_programs", "first_day", "last_day"),
    ("temperatures", "low_f", "high_f"),
)
"""(table, column of the lower or earlier value, column of the higher or later one)."""


def check_tables_have_rows(tables: Tables) -> Iterator[Problem]:
    """TABLE-4: a required table that is there but empty."""
    for name in REQUIRED_TABLES:
        table = tables.by_name.get(name)
        if table is not None and not table.cells.numbers:
            yield Problem(
                table.file,
                None,
                None,
                "TABLE-4",
                "the table has no rows",
                cure=f"fill it in; `planner columns {name}` explains its columns",
            )


def check_keys_are_unique(tables: Tables) -> Iterator[Problem]:
    """KEY-1: a second row with the key of an earlier one, or with one that a spreadsheet or an eye
    takes for the same: 500 and 500.0, A and a, one letter in two encodings."""
    for name, table in tables.by_name.items():
        keys = [key for key in table.cells.keys if key is not None]
        if len(set(map(_as_seen, keys))) == len(keys):
            continue
        first: dict[str, tuple[int, str]] = {}
        columns = key_columns(name)
        for row in table.rows:
            key = row.key
            if key is None:
                continue
            number, other = first.setdefault(_as_seen(key), (row.number, key))
            if number != row.number:
                what = columns[0] if len(columns) == 1 else " and ".join(columns)
                message = f"the same {what} is in row {number}"
                if other != key:
                    message = f"the {what} of row {number} is nearly the same: '{other}'"
                yield row.problem(
                    columns[-1],
                    "KEY-1",
                    message,
                    "give each row its own, or remove the one that is too many",
                    found=key.replace("/", " / "),
                )


def _as_seen(key: str) -> str:
    """A key as an eye or a spreadsheet takes it."""
    if not key.isascii():
        key = unicodedata.normalize("NFKC", key)
    plain = key.casefold()
    match = _WHOLE_NUMBER.fullmatch(plain) if plain[:1].isdigit() else None
    return match[1] if match else plain


def check_references(tables: Tables) -> Iterator[Problem]:
    """REF-1: a name that is not in the table that the column refers to."""
    asked: Counter[tuple[str, str]] = Counter()
    for row, column, name in tables.lost_refs():
        there = column.ref_table or ""
        if not tables.known(there):
            continue
        asked[row.table, column.column] += 1
        cure = f"add it to {there}"
        # The nearest name is looked for as often as problems of a column are shown.
        if asked[row.table, column.column] <= MOST_SHOWN_PER_COLUMN:
            cure = did_you_mean(name, sorted(tables.ids(there)), cure)
        yield row.problem(
            column.column, "REF-1", f"there is no '{name}' in the table {there}", cure
        )


def check_pairs(tables: Tables) -> Iterator[Problem]:
    """PAIR-1: a lower or earlier value that is above the higher or later one."""
    for table, low, high in PAIRS:
        rows = tables.rows(table)
        columns = [rows[0].cells.values.get(name, ()) if rows else () for name in (low, high)]
        # A large office has hundreds of thousands of rows, most of them blank here.
        for row, first, second in zip(rows, *columns, strict=False):
            blank = first is None or second is None
            if not blank and row.good(low, high) and _above(first, second):
                kind = columns_of(table)[high].kind
                where = "before" if kind in ("time", "date") else "below"
                yield row.problem(
                    high,
                    "PAIR-1",
                    f"this is {where} {low} ({row.written(low)})",
                    f"check both; {low} comes first",
                )


def _above(first: object, second: object) -> bool:
    if isinstance(first, Rate) and isinstance(second, Rate):
        like = (first.kind, first.basis, first.substance)
        # Pairs that a label states in two units may differ by rounding.
        return like == (second.kind, second.basis, second.substance) and (
            first.least_base > second.most_base * 1.005
        )
    return bool(first > second)  # type: ignore[operator]
