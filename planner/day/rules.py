"""One rule of a state, a county or a town on what a lawn may get, or on whom to tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

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
    """One turf-fertilizer rule of a state, or of a county or town that the office wrote down.

    kind: closed season, most per application, most per year, least slow share, phosphorus ban,
    setback, or (words only) caution and recommendation. who: anyone, professional or consumer.
    products: any, plain or enhanced (enhanced-efficiency or organic). lawn: any, new or
    established. basis: total N, readily available N, P2O5, P, 'N or P', or 'N, P or K' (any
    fertilizer). figure: in `unit` (lb per 1,000 ft2, ft, %). over: lb per 1,000 ft2 above which it
    begins to hold.
    slow_percent_least, instead_of: with that slow share its figure goes before the named rule's.
    first, last: (month, day), both closed or in force, may wrap the new year. grass: '' = any.
    ground: states of the ground that it bars, as in the table ground. test_years: age up to which
    a soil test lifts a phosphorus ban, None = any age, 0 = no test does. local: of the workbook.
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
    check_rows: tuple[str, ...] = ()
    town: str = ""
    local: bool = False


@dataclass(frozen=True)
class DutyRule:
    """A duty around an application. kind: sign, notice, information or caution. applies_to: any or
    pesticide. when: before, at or after. counties: () = the whole state. only_if: the condition
    that the office knows and the tables do not. local: of the workbook; kind none is the office's
    word that the place has no rules of its own."""

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
    check_rows: tuple[str, ...] = ()
    town: str = ""
    local: bool = False
