"""Every column of every table, read from columns.csv; which cell of a row is which column.

columns.csv is the one place that says which columns there are; reading, checking, the starter
workbook and `planner columns` all read it from here.
"""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from importlib import resources
from typing import Final

from planner.problems import Problem
from planner.tables.sheets import ROWS_SEARCHED_FOR_HEADER, Sheet, column_letters
from planner.tables.text import clean, did_you_mean, header_name

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


ColumnMapping = Mapping[str, Mapping[str, str]]
"""Table -> the office's own header -> the planner's column, or IGNORE. Several headers of one
column are joined, in this order; EVERY_OTHER may be ignored."""


@dataclass(frozen=True)
class Header:
    """row: its row number. index: column -> cell index (the first of several that are joined).
    office: column -> the office's header, where it has another name. missing: required columns that
    are not there. width: cells up to the last header. joined: column -> its cell indexes, where it
    has several. ignored: headers that planner.toml says to pass over."""

    row: int
    index: Mapping[str, int]
    office: Mapping[str, str]
    missing: tuple[str, ...]
    width: int
    joined: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()

    def text(self, cells: Sequence[str], column: str) -> str:
        """A row's text of a column; '' where the row or the table has none."""
        places = self.joined.get(column)
        if places is None:
            place = self.index.get(column, len(cells))
            return cells[place] if place < len(cells) else ""
        return " ".join(cells[place] for place in places if place < len(cells) and cells[place])


def known_headers(mapping: ColumnMapping) -> frozenset[str]:
    """Every header that may stand in some table, in the planner's spelling."""
    own = {name for table in table_names() for name in columns_of(table)}
    office = {header_name(header) for table in mapping.values() for header in table}
    return frozenset(own | office | set(FORMER_NAMES.values()))


def read_header(
    table: str, sheet: Sheet, renamed: Mapping[str, str]
) -> tuple[Header | None, list[Problem]]:
    """The header of a sheet, and what is wrong in it: unknown, double and missing columns.

    None when the sheet has no rows at all."""
    if not sheet.rows:
        return None, []
    names = _names(table, renamed)
    number, cells = _header_row(sheet, names)
    parts = _parts(renamed)
    index: dict[str, int] = {}
    joined: dict[str, dict[str, int]] = {column: {} for column in parts}
    office: dict[str, str] = {}
    problems: list[Problem] = []
    unknown: list[str] = []
    ignored: list[str] = []
    for place, cell in enumerate(cells):
        shown = clean(cell)
        if not shown or shown.startswith("_"):
            continue
        if sheet.faults.get((number, place)) == "CELL-4":
            cure = "unmerge them, and give each column its own header"
            message = "the header is merged with other cells, whose column or row is not read"
            problems.append(Problem(sheet.name, number, None, "CELL-4", message, shown, cure))
        word = header_name(shown)
        column = names.get(word, names.get(EVERY_OTHER))
        if column is None:
            unknown.append(shown)
        elif column == IGNORE:
            ignored.append(shown)
        elif word in parts.get(column, ()) and word not in joined[column]:
            joined[column][word] = place
            index.setdefault(column, place)
            office[column] = f"{office[column]} + {shown}" if column in office else shown
        elif column in index:
            problems.append(
                Problem(
                    sheet.name,
                    number,
                    column,
                    "COL-3",
                    "the column is there twice; the first was read",
                    shown,
                    "remove one, or name it with _ in front",
                )
            )
        else:
            index[column] = place
            if header_name(shown) != column:
                office[column] = shown
    problems += [_unknown(table, sheet, number, shown, index) for shown in unknown]
    missing = tuple(
        name for name, column in columns_of(table).items() if column.required and name not in index
    )
    width = max((place + 1 for place, cell in enumerate(cells) if clean(cell)), default=0)
    problems += [_missing(table, sheet, number, name, cells) for name in missing]
    if names.get(EVERY_OTHER) != IGNORE:
        blank = [place for place in range(width) if not clean(cells[place])]
        problems += filter(None, (_nameless(sheet, number, place) for place in blank))
    places = {
        column: tuple(found[word] for word in parts[column] if word in found)
        for column, found in joined.items()
    }
    return Header(number, index, office, missing, width, places, tuple(ignored)), problems


def _parts(renamed: Mapping[str, str]) -> dict[str, list[str]]:
    """Columns that the office fills from several of its own -> those headers in its order."""
    parts: dict[str, list[str]] = {}
    for header, column in renamed.items():
        parts.setdefault(column, []).append(header_name(header))
    return {column: words for column, words in parts.items() if len(words) > 1 and column != IGNORE}


def _names(table: str, renamed: Mapping[str, str]) -> dict[str, str]:
    names = {name: name for name in columns_of(table)}
    names |= {FORMER_NAMES[name]: name for name in names.keys() & FORMER_NAMES}
    # The office's own word goes first: an office may call another thing by one of our names.
    names.update({header_name(header) or header: column for header, column in renamed.items()})
    return names


def _header_row(sheet: Sheet, names: Mapping[str, str]) -> tuple[int, tuple[str, ...]]:
    """The first row that names at least two columns (titles may stand above it), else the first."""
    for number, cells in sheet.rows[:ROWS_SEARCHED_FOR_HEADER]:
        if sum(header_name(cell) in names for cell in cells) >= 2:
            return number, cells
    return sheet.rows[0]


def _unknown(
    table: str, sheet: Sheet, number: int, shown: str, found: Mapping[str, int]
) -> Problem:
    free = [name for name in columns_of(table) if name not in found]
    cure = did_you_mean(header_name(shown), free, f"`planner columns {table}` lists them")
    stop = "" if cure.endswith("?") else "."
    return Problem(
        sheet.name,
        number,
        None,
        "COL-1",
        f"the table {table} has no such column",
        shown,
        f"{cure}{stop} Or map it in planner.toml under [columns.{table}], to 'ignore' if it is "
        "not for the planner, or name it with _ in front",
    )


def _nameless(sheet: Sheet, number: int, place: int) -> Problem | None:
    """A column with cells under a blank header; a merged header says so itself."""
    below = (row[place] for at, row in sheet.rows if at > number and place < len(row))
    found = next(filter(None, map(clean, below)), "")
    if not found or sheet.faults.get((number, place - 1)) == "CELL-4":
        return None
    message = f"column {column_letters(place)} has cells and no header; it is not read"
    cure = "give it a header, or name it with _ in front"
    return Problem(sheet.name, number, None, "COL-1", message, found, cure)


def _missing(table: str, sheet: Sheet, number: int, name: str, cells: tuple[str, ...]) -> Problem:
    column = columns_of(table)[name]
    meaning = column.meaning[:1].lower() + column.meaning[1:]
    return Problem(
        sheet.name,
        number,
        name,
        "COL-2",
        "the column is missing",
        cure=f"add it ({meaning}), or map your own header to it in planner.toml",
    )
