"""The rule tables, read once from the package's CSV files."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Final

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

FROM_MEMORY: Final = "from memory: verify"
"""Stands beside every figure that nobody read in a source."""

MonthDay = tuple[int, int]


@dataclass(frozen=True)
class RuleSource:
    """Where a row comes from. read: the day it was read, None when it was written from memory."""

    section: str
    read: date | None
    url: str

    @property
    def cited(self) -> str:
        """The section, with the mark of a figure that must be verified."""
        return self.section if self.read else f"{self.section}, {FROM_MEMORY}"


@dataclass(frozen=True)
class FertilizerRule:
    """One state turf-fertilizer rule.

    kind: closed season, most per application, most per year, least slow share, phosphorus ban,
    setback, or (words only) caution and recommendation. who: anyone, professional or consumer.
    products: any, plain or enhanced (enhanced-efficiency or organic). lawn: any, new or
    established. basis: total N, readily available N, P2O5, P, 'N or P', or 'N, P or K' (any
    fertilizer). figure: in `unit` (lb per 1,000 ft2, ft, %). over: lb per 1,000 ft2 above which it
    begins to hold.
    slow_percent_least, instead_of: with that slow share its figure goes before the named rule's.
    first, last: (month, day), both closed or in force, may wrap the new year. grass: '' = any.
    ground: states of the ground that it bars, as in the table ground. test_years: age up to which
    a soil test lifts a phosphorus ban, None = any age, 0 = no test does.
    """

    rule_id: str
    state: str
    county: str
    kind: str
    who: str
    products: str
    lawn: str
    basis: str
    figure: float | None
    unit: str
    over: float | None
    slow_percent_least: float | None
    instead_of: str
    first: MonthDay | None
    last: MonthDay | None
    grass: str
    test_years: float | None
    ground: tuple[str, ...]
    words: str
    origin: RuleSource
    check_rows: tuple[str, ...]


@dataclass(frozen=True)
class DutyRule:
    """One duty around an application. kind: sign, notice or information. applies_to: any or
    pesticide. when: before, at or after. counties: () = the whole state. only_if: the condition
    that the office knows and the tables do not."""

    duty_id: str
    state: str
    counties: tuple[str, ...]
    kind: str
    who: str
    applies_to: str
    when: str
    lead_hours: float | None
    lead_business_days: int | None
    stays_hours: float | None
    stays_until: str
    only_if: str
    words: str
    origin: RuleSource
    check_rows: tuple[str, ...]


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
