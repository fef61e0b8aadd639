"""The fingerprint of a workbook's content."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from itertools import chain, islice, repeat
from typing import Final

from planner.tables.columns import FORMER_NAMES, SETTINGS, columns_of, settings_columns, table_names
from planner.tables.read_rows import blank_value
from planner.tables.rows import BAD, Cells, Tables

ADDED_LATER: Final = frozenset(
    {
        (SETTINGS, "usual_truck_price"),
        (SETTINGS, "keep_price"),
        (SETTINGS, "refill_price"),
        (SETTINGS, "balance_price"),
        (SETTINGS, "compact_price"),
        (SETTINGS, "told_within_min"),
        (SETTINGS, "told_price"),
        ("properties", "usual_truck"),
        ("products", "in_store"),
        ("sites", "trucks_at_once"),
        (SETTINGS, "working_days"),
        (SETTINGS, "holidays"),
        (SETTINGS, "work_ahead_days"),
        (SETTINGS, "work_ahead_price"),
        ("properties", "serve_on"),
        ("properties", "skip_dates"),
        ("properties", "hold_until"),
        ("properties", "hold_reason"),
        ("orders", "status"),
        ("orders", "hold_until"),
        ("orders", "status_reason"),
        ("orders", "last_day"),
        ("orders", "revenue"),
        ("orders", "repeats"),
        ("sites", "phone"),
        ("trucks", "phone"),
        ("trucks", "length_ft"),
        ("trucks", "width_ft"),
        ("properties", "phone"),
        ("properties", "phone_2"),
        ("properties", "email"),
        ("properties", "contact_by"),
        ("properties", "language"),
        (SETTINGS, "meter_error_percent"),
        (SETTINGS, "wind_most_mph"),
        (SETTINGS, "poison_center_phone"),
        (SETTINGS, "spill_phone"),
        ("products", "first_aid"),
        ("products", "mixing_ppe"),
        ("products", "water_note"),
        ("products", "packet"),
        ("products", "delivery_days"),
        ("compartments", "gauge_step_gal"),
        ("products", "smallest_measure"),
        ("properties", "shore_ft"),
        ("mixes", "targeted_liquid"),
        (SETTINGS, "business_license_until"),
        (SETTINGS, "leave_behind"),
        (SETTINGS, "time_zone"),
        ("product_rates", "rate_least"),
        ("product_rates", "annual_most"),
        ("products", "soil_temperature_least_f"),
        ("products", "not_in_bloom"),
        ("properties", "bloom"),
        ("properties", "hives_ft"),
        ("properties", "sensitive_side"),
        ("weather", "wind_from"),
        ("trucks", "inspection_until"),
        ("trucks", "backflow_test_until"),
        ("trucks", "calibration_until"),
        ("products", "restricted_use"),
        (SETTINGS, "hoses_overnight"),
        (SETTINGS, "license_categories"),
        ("applicators", "supervisor"),
        ("lines", "hose_mix"),
        (SETTINGS, "inspection_min"),
        (SETTINGS, "yard_loading"),
        (SETTINGS, "washdown_min"),
        (SETTINGS, "paperwork_min"),
        (SETTINGS, "paid_hours_least"),
        ("trucks", "inspection_min"),
        ("trucks", "yard_loading"),
        ("trucks", "washdown_min"),
        ("trucks", "paperwork_min"),
        ("trucks", "paid_hours_least"),
    }
)
"""Settings and columns that count only where they say something else than nothing or their
default, so that tables written before there was such a column keep their fingerprint, and plans
made from them stay theirs."""

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
        if (SETTINGS, name) in ADDED_LATER and _is_default(name, value):
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
    for column in columns_of(name):
        prefix = f"\x1f{column}=" if _named(name, column) else "\x1f"
        values, texts = cells.values.get(column), cells.texts.get(column, blank)
        later = (name, column) in ADDED_LATER
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


def _named(table: str, column: str) -> bool:
    return (table, column) in ADDED_LATER and column not in _BARE


def _is_default(setting: str, value: object) -> bool:
    return value == blank_value(settings_columns()[setting])
