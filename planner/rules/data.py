"""The rule tables, read once from the package's CSV files."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Final

from planner.day.day import Workbook
from planner.day.rules import DutyRule, FertilizerRule, MonthDay, RuleSource

STATE_NAMES: Final = {
    "CT": "Connecticut",
    "FL": "Florida",
    "IA": "Iowa",
    "IL": "Illinois",
    "IN": "Indiana",
    "MA": "Massachusetts",
    "MD": "Maryland",
    "ME": "Maine",
    "MI": "Michigan",
    "MN": "Minnesota",
    "NJ": "New Jersey",
    "NY": "New York",
    "OH": "Ohio",
    "PA": "Pennsylvania",
    "VA": "Virginia",
    "VT": "Vermont",
    "WI": "Wisconsin",
}
"""States that the tables know; of the others the papers say that they are not in them."""


@dataclass(frozen=True)
class RecordRule:
    """What must be written down about an application, within which time, kept how long."""

    rule_id: str
    state: str
    who: str
    fields: str
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
    return tuple(
        FertilizerRule(
            rule_id=row["rule"],
            state=row["state"],
            county=row["county"],
            kind=row["kind"],
            who=row["who"],
            products=row["products"],
            lawn=row["lawn"],
            basis=row["basis"],
            figure=_number(row["figure"]),
            unit=row["unit"],
            over=_number(row["over"]),
            slow_percent_least=_number(row["slow_percent_least"]),
            instead_of=row["instead_of"],
            first=_month_day(row["first"]),
            last=_month_day(row["last"]),
            grass=row["grass"],
            test_years=_number(row["test_years"]),
            ground=_names(row["ground"]),
            words=row["words"],
            origin=_origin(row),
            check_rows=_names(row["check_row"]),
        )
        for row in _rows("fertilizer.csv")
    )


@cache
def duty_rules() -> tuple[DutyRule, ...]:
    """Every duty of signs, notices and information, in the order of the table."""
    return tuple(
        DutyRule(
            duty_id=row["duty"],
            state=row["state"],
            counties=_names(row["county"]),
            kind=row["kind"],
            who=row["who"],
            applies_to=row["applies_to"],
            when=row["when"],
            lead_hours=_number(row["lead_hours"]),
            lead_business_days=int(row["lead_business_days"] or 0) or None,
            stays_hours=_number(row["stays_hours"]),
            stays_until=row["stays_until"],
            only_if=row["only_if"],
            words=row["words"],
            origin=_origin(row),
            check_rows=_names(row["check_row"]),
        )
        for row in _rows("duties.csv")
    )


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
    return tuple(
        RecordRule(
            rule_id=row["rule"],
            state=row["state"],
            who=row["who"],
            fields=row["fields"],
            write_within=row["write_within"],
            keep=row["keep"],
            origin=_origin(row),
            check_rows=_names(row["check_row"]),
        )
        for row in _rows("records.csv")
    )


@cache
def truck_rules() -> dict[str, TruckRule]:
    """Thresholds of trucks and drivers by their name in the table."""
    return {
        row["rule"]: TruckRule(
            rule_id=row["rule"],
            figure=_number(row["figure"]),
            unit=row["unit"],
            second_figure=_number(row["second_figure"]),
            second_unit=row["second_unit"],
            words=row["words"],
            origin=_origin(row),
            check_rows=_names(row["check_row"]),
        )
        for row in _rows("trucks.csv")
    }


@cache
def license_rules() -> tuple[LicenseRule, ...]:
    """License categories and supervision, in the order of the table."""
    return tuple(
        LicenseRule(
            row["rule"],
            row["state"],
            row["applies_to"],
            frozenset(_names(row["categories"])),
            row["supervised"] == "yes",
            _number(row["miles"]),
            _number(row["hours"]),
            row["words"],
            _origin(row),
        )
        for row in _rows("licenses.csv")
    )


def _rows(name: str) -> list[dict[str, str]]:
    text = files("planner.rules").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _origin(row: dict[str, str]) -> RuleSource:
    read = date.fromisoformat(row["read"]) if row["provenance"] == "read" else None
    return RuleSource(row["section"], read, row["url"])


def _number(text: str) -> float | None:
    return float(text) if text else None


def _month_day(text: str) -> MonthDay | None:
    if not text:
        return None
    month, day = text.split("-")
    return int(month), int(day)


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in text.split("|") if name)
