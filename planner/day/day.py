"""A workbook as checked values with the rules of its state, county and town, and one day of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from planner.day.fleet import Applicator, Called, Registered, Settings, Truck
from planner.day.life import NoRecord, OrderState, standings
from planner.day.orders import (
    DayTemperatures,
    GroundDay,
    Order,
    PastApplication,
    ProgramRound,
    PropertyProgram,
    Status,
    WeatherHour,
)
from planner.day.places import Property, Site
from planner.day.products import KeepApart, Mix, Product, ProductRate

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
    that the office knows and the tables do not. lead_most_hours: no sooner than that. local: of the
    workbook; kind none is the office's word that the place has no rules of its own."""

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
    lead_most_hours: float | None = None


@dataclass(frozen=True)
class Source:
    """Where the rows came from. files: table -> file or sheet name; rows: table -> key -> row as
    the spreadsheet numbers it, of all but orders and history; keys of several columns are joined by
    '/'."""

    files: dict[str, str]
    rows: Mapping[str, Mapping[str | None, int]]

    def where(self, table: str, key: str) -> tuple[str, int | None]:
        """File (or sheet) and row of one record."""
        return self.files.get(table, table), self.rows.get(table, {}).get(key)


@dataclass(frozen=True)
class Workbook:
    """Every table of a workbook, checked. Dicts are keyed by id, in the order of the tables.

    trucks holds those in service only, out_of_service the others. sha256: of the tables' content.
    source: rows, for messages. climate: month -> percent of its working days lost to weather.
    """

    settings: Settings
    sites: dict[str, Site]
    trucks: dict[str, Truck]
    products: dict[str, Product]
    mixes: dict[str, Mix]
    keep_apart: tuple[KeepApart, ...]
    properties: dict[str, Property]
    orders: dict[str, Order]
    weather: tuple[WeatherHour, ...]
    history: tuple[PastApplication, ...]
    sha256: str
    source: Source
    out_of_service: dict[str, Truck] = field(default_factory=dict)
    product_rates: tuple[ProductRate, ...] = ()
    applicators: tuple[Applicator, ...] = ()
    programs: dict[str, ProgramRound] = field(default_factory=dict)
    property_programs: tuple[PropertyProgram, ...] = ()
    temperatures: tuple[DayTemperatures, ...] = ()
    climate: dict[int, float] = field(default_factory=dict)
    notify: tuple[Registered, ...] = ()
    ground: tuple[GroundDay, ...] = ()
    local_fertilizer_rules: tuple[FertilizerRule, ...] = ()
    local_duty_rules: tuple[DutyRule, ...] = ()


@dataclass(frozen=True)
class Day:
    """One date of a workbook. orders: those due on it; weather: the hours of that date and after
    (rain-free hours look into the next day). notes: what the records of earlier days changed in
    the tables, in words. done: orders of the tables that the records have as done; they are no
    orders of the workbook here. no_record: orders of earlier days of which nothing is recorded.
    ahead: orders due later that may be done today (rule 32). barred: trucks, among those out of
    service, that a license or an inspection keeps in the yard, with the reason (rule 35).
    laid_later: due orders that the calendar lays on a later day; they are none of the day's.
    called: what is logged of calls about the day's sprays. kept_home: trucks that the calendar
    keeps at home on the day; use_home: those of them that the office lets out all the same."""

    date: date
    workbook: Workbook
    orders: dict[str, Order]
    notes: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()
    no_record: tuple[NoRecord, ...] = ()
    ahead: dict[str, Order] = field(default_factory=dict)
    barred: dict[str, str] = field(default_factory=dict)
    laid_later: tuple[str, ...] = ()
    called: tuple[Called, ...] = ()
    kept_home: tuple[str, ...] = ()
    use_home: tuple[str, ...] = ()

    @property
    def at_home(self) -> tuple[str, ...]:
        """Trucks in service that the calendar keeps at home and nobody lets out."""
        kept = [name for name in self.kept_home if name not in self.use_home]
        return tuple(name for name in kept if name in self.workbook.trucks)

    @property
    def weather(self) -> tuple[WeatherHour, ...]:
        """Hours from this date on."""
        return tuple(hour for hour in self.workbook.weather if hour.day >= self.date)


def day_of(
    workbook: Workbook, when: date, added: Collection[str] = (), skipped: Collection[str] = ()
) -> Day:
    """The day's orders: all that are due on it (rule 29). added: taken in although they are due on
    other days or kept out; skipped: left out although they are due."""
    standing = standings(workbook.orders, workbook.properties, when)
    due = {
        name: order
        for name, order in workbook.orders.items()
        if name not in skipped
        and (
            standing[name].state is OrderState.DUE
            or (name in added and order.status is not Status.CANCELLED)
        )
    }
    return Day(when, workbook, due)
