"""The rule tables, read once from the package's CSV files."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any, Final, TypeVar

from planner.day.day import DutyRule, FertilizerRule, MonthDay, RuleSource, Workbook

Rule = TypeVar("Rule", FertilizerRule, DutyRule, "RecordRule", "TruckRule", "LicenseRule")

STATE_NAMES: Final = {
    "CO": "Colorado",
    "CT": "Connecticut",
    "FL": "Florida",
    "GA": "Georgia",
    "IA": "Iowa",
    "IL": "Illinois",
    "IN": "Indiana",
    "KY": "Kentucky",
    "LA": "Louisiana",
    "MA": "Massachusetts",
    "MD": "Maryland",
    "ME": "Maine",
    "MI": "Michigan",
    "MN": "Minnesota",
    "NH": "New Hampshire",
    "NJ": "New Jersey",
    "NY": "New York",
    "OH": "Ohio",
    "PA": "Pennsylvania",
    "VA": "Virginia",
    "VT": "Vermont",
    "WA": "Washington",
    "WI": "Wisconsin",
}
"""States that the tables know; of the others the papers say that they are not in them."""


@dataclass(frozen=True)
class RecordRule:
    """What must be written down about an application, within which time, kept how long. needed: the
    columns of an ApplicationRow that hold its fields; of choices that a rule leaves, both."""

    rule_id: str
    state: str
    who: str
    fields: str
    needed: tuple[str, ...]
    write_within: str
    keep: str
    origin: RuleSource
    check_rows: tuple[str, ...]


@dataclass(frozen=True)
class TruckRule:
    """A published threshold of vehicle weight, tank size, license or hours."""

    rule_id: str
    figure: float | None
    unit: str
    second_figure: float | None
    second_unit: str
    words: str
    origin: RuleSource
    check_rows: tuple[str, ...]


@dataclass(frozen=True)
class LicenseRule:
    """What a state asks of the people on a truck. applies_to: pesticide, fertilizer, restricted (by
    a supervised person) or supervision (from how far); categories: one of them, in small
    letters."""

    rule_id: str
    state: str
    applies_to: str
    categories: frozenset[str]
    supervised: bool
    miles: float | None
    hours: float | None
    words: str
    origin: RuleSource


@cache
def fertilizer_rules() -> tuple[FertilizerRule, ...]:
    """Every state turf-fertilizer rule, in the order of the table."""
    return _records(FertilizerRule, "fertilizer.csv")


@cache
def duty_rules() -> tuple[DutyRule, ...]:
    """Every duty of signs, notices and information, in the order of the table."""
    return _records(DutyRule, "duties.csv")


def fertilizer_rules_of(book: Workbook) -> tuple[FertilizerRule, ...]:
    """The states' rules, then the local ones that the office wrote down."""
    return (*fertilizer_rules(), *book.local_fertilizer_rules)


def duty_rules_of(book: Workbook) -> tuple[DutyRule, ...]:
    """The states' duties, then the local ones that the office wrote down."""
    return (*duty_rules(), *book.local_duty_rules)


def place_of(rule: FertilizerRule | DutyRule) -> str:
    """Whose rule it is, in words: a state, or a town or county of the office's own table."""
    if not rule.local:
        return STATE_NAMES[rule.state]
    counties = (rule.county,) if isinstance(rule, FertilizerRule) else rule.counties
    return rule.town or county_name(counties[0])


def county_name(county: str) -> str:
    """'union' and 'Union County' are both 'Union County'."""
    bare = county.strip()
    return bare if bare.casefold().endswith("county") else f"{bare} County"


@cache
def record_rules() -> tuple[RecordRule, ...]:
    """Every rule on records of applications, in the order of the table."""
    return _records(RecordRule, "records.csv")


@cache
def truck_rules() -> dict[str, TruckRule]:
    """Thresholds of trucks and drivers by their name in the table."""
    return {row.rule_id: row for row in _records(TruckRule, "trucks.csv")}


@cache
def license_rules() -> tuple[LicenseRule, ...]:
    """License categories and supervision, in the order of the table."""
    return _records(LicenseRule, "licenses.csv")


def _records(kind: type[Rule], name: str) -> tuple[Rule, ...]:
    """A table's rows; a cell is read as its field's type asks."""
    text = files("planner.rules").joinpath(name).read_text(encoding="utf-8")
    asked = {one.name: (_COLUMNS.get(one.name, one.name), str(one.type)) for one in fields(kind)}
    return tuple(
        kind(
            **{field: _READ[read](row[at]) for field, (at, read) in asked.items() if at in row},
            origin=_origin(row),
        )
        for row in csv.DictReader(text.splitlines())
    )


def _origin(row: dict[str, str]) -> RuleSource:
    read = date.fromisoformat(row["read"]) if row["provenance"] == "read" else None
    return RuleSource(row["section"], read, row["url"])


def _month_day(text: str) -> MonthDay | None:
    if not text:
        return None
    month, day = text.split("-")
    return int(month), int(day)


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in text.split("|") if name)


_COLUMNS: Final = {
    "rule_id": "rule",
    "duty_id": "duty",
    "counties": "county",
    "check_rows": "check_row",
}
"""Field -> column, where the names differ."""

_READ: Final[dict[str, Callable[[str], Any]]] = {
    "str": str,
    "bool": lambda text: text == "yes",
    "float | None": lambda text: float(text) if text else None,
    "int | None": lambda text: int(text) if text else None,
    "MonthDay | None": _month_day,
    "tuple[str, ...]": _names,
    "frozenset[str]": lambda text: frozenset(_names(text)),
}
"""Type of a field -> how its cell is read."""
