"""Every column of every table, read from columns.csv.

columns.csv is the one place that says which columns there are; reading, checking, the starter
workbook and `planner columns` all read it from here.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import resources
from typing import Final

SETTINGS = "settings"
"""The one tall table: a row is a setting, and its rows in columns.csv are the known settings."""

IGNORE = "ignore"
EVERY_OTHER = "*"
"""In an office's mapping: what a header that is not for the planner is mapped to, and the word for
every header that the table does not have."""

FORMER_NAMES: Final = {
    "business_license": "business_licence",
    "applicator_license": "applicator_licence",
    "license": "licence",
}
"""Columns, settings and fields of records -> what they were called in earlier files, which stay
readable: tables, mappings, actuals sheets, records, fingerprints."""

_PRESENT_NAMES: Final = {former: name for name, former in FORMER_NAMES.items()}

REQUIRED_TABLES = (
    "sites",
    "trucks",
    "lines",
    "compartments",
    "products",
    "mixes",
    "mix_products",
    "properties",
    "orders",
)
"""Without one of these there is no day to plan; the other tables may be missing or empty."""

ROW_IS = {
    "settings": "a row is one setting",
    "sites": "a row is a yard or a water point",
    "trucks": "a row is a truck",
    "applicators": "a row is a person with license, training and medical card",
    "lines": "a row is one line (pump, hose and gun) of a truck",
    "compartments": "a row is one compartment of a truck",
    "products": "a row is a product as its label states it; blank = the label sets no such limit",
    "product_rates": "a row is a label's rates on one grass or for one target",
    "mixes": "a row is a mix",
    "mix_products": "a row is one product in a mix",
    "keep_apart": "a row is a pair of groups or mixes that must not meet",
    "properties": "a row is a customer's property",
    "edges": "a row is one border of a lawn, other than water, along which a strip stays unsprayed",
    "notify": "a row is someone who must be told before a spray nearby",
    "local_rules": "a row is one rule of a county or town, in the columns of the states' rules",
    "orders": "a row is one mix due at one property",
    "weather": "a row is one hour of forecast, everywhere or in one weather area",
    "ground": "a row is how the ground is on one day, everywhere or in one weather area",
    "history": "a row is one product applied at one property on one day",
    "programs": "a row is one round of a program: its mix, its window and its price",
    "property_programs": "a row is one program that a property has",
    "temperatures": "a row is one day's low and high, everywhere or in one weather area",
    "climate": "a row is how many working days of a month are lost to weather",
}
"""What a row of each table is."""


@dataclass(frozen=True)
class Column:
    """One column of a table, or one setting of the settings table.

    kind: 'text', 'id', 'number', 'whole', 'money', 'time', 'date', 'yes_no', 'rate', 'amount',
    'stock' (an amount that may be 0), 'unit', 'windows', 'weekdays', 'dates' (dates and spans of
    them), 'month_day' (of any year), 'phone', 'email', 'choice:A|B', 'ref:TABLE' or 'list:KIND'.
    unit: of the number. key: part of what makes a row unique. default: what a blank cell means
    ('' = nothing). least, most: limits that belong to the allowed range, None = no limit. meaning:
    for people. later: it counts in the tables' fingerprint only where it says something else than
    nothing or its default, so that tables written before there was such a column keep theirs, and
    plans made from them stay theirs.
    """

    table: str
    column: str
    kind: str
    unit: str
    required: bool
    key: bool
    default: str
    least: float | None
    most: float | None
    meaning: str
    later: bool = False

    @cached_property
    def item_kind(self) -> str:
        """Kind of one item: of the cell itself, or of what a list holds."""
        return self.kind.removeprefix("list:")

    @property
    def is_list(self) -> bool:
        """Whether a cell may hold several items."""
        return self.kind.startswith("list:")

    @property
    def ref_table(self) -> str | None:
        """Table that the cell's items must be found in, or None."""
        name = self.item_kind
        return name.removeprefix("ref:") if name.startswith("ref:") else None

    @property
    def choices(self) -> tuple[str, ...]:
        """Allowed words of a choice; empty for other kinds."""
        if not self.kind.startswith("choice:"):
            return ()
        return tuple(self.kind.removeprefix("choice:").split("|"))


def present_name(name: str) -> str:
    """A column, setting or field by its name of today; other words as they are."""
    return _PRESENT_NAMES.get(name, name)


@cache
def all_columns() -> tuple[Column, ...]:
    """Every row of columns.csv, in its order."""
    text = resources.files("planner.tables").joinpath("columns.csv").read_text(encoding="utf-8")
    return tuple(_column(row) for row in csv.DictReader(text.splitlines()))


@cache
def table_names() -> tuple[str, ...]:
    """Names of all tables, settings first."""
    return tuple(dict.fromkeys(column.table for column in all_columns()))


@cache
def settings_columns() -> dict[str, Column]:
    """The known settings by name."""
    return {column.column: column for column in all_columns() if column.table == SETTINGS}


@cache
def columns_of(table: str) -> dict[str, Column]:
    """The columns that a table's header may name; those of settings are setting, value, note.

    Raises KeyError for an unknown table.
    """
    if table not in table_names():
        raise KeyError(table)
    if table == SETTINGS:
        return {column.column: column for column in _SETTINGS_HEADER}
    return {column.column: column for column in all_columns() if column.table == table}


@cache
def key_columns(table: str) -> tuple[str, ...]:
    """The columns that together make a row unique."""
    return tuple(name for name, column in columns_of(table).items() if column.key)


def _limit(text: str) -> float | None:
    return float(text) if text else None


def _column(row: dict[str, str]) -> Column:
    return Column(
        table=row["table"],
        column=row["column"],
        kind=row["kind"],
        unit=row["unit"],
        required=row["required"] == "yes",
        key=row["key"] == "yes",
        default=row["default"],
        least=_limit(row["least"]),
        most=_limit(row["most"]),
        meaning=row["meaning"],
        later=row["later"] == "yes",
    )


_SETTINGS_HEADER = (
    Column(SETTINGS, "setting", "text", "", True, True, "", None, None, "Name of the setting"),
    Column(SETTINGS, "value", "text", "", False, False, "", None, None, "Blank = the default"),
    Column(SETTINGS, "note", "text", "", False, False, "", None, None, "For the office only"),
)
