"""The tables of the comparison page: cells with the value that they are sorted by."""

from collections.abc import Callable
from dataclasses import dataclass

from planner.compare.model import FIGURES, PRESENT, Comparison, DayResult, Difference, FleetResult
from planner.compare.verdict import (
    DAYS_OF_A_YEAR,
    NONE_TEXT,
    cents,
    money,
    number,
    paired_text,
    years_text,
)
from planner.day.life import brief_day
from planner.problems import counted

IN_DIFFERENCES = ("cost", "paid_min", "overtime_min", "drive_miles", "refills", "trucks_out")
"""Figures of FIGURES that have room in the table of differences; the CSV files have all."""


@dataclass(frozen=True)
class Cell:
    """What stands in a cell. sort: number or text to sort by, None = always last; tag: a word in
    a frame behind it."""

    text: str
    sort: float | str | None
    tag: str = ""

    @property
    def is_number(self) -> bool:
        """Whether it stands at the right edge."""
        return not isinstance(self.sort, str)


@dataclass(frozen=True)
class CellRow:
    """One row. name: of the fleet, pair or day at its head."""

    name: Cell
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class SortedTable:
    """A table that can be sorted by every column. heads: the first is that of the names."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[CellRow, ...]
    note: str = ""


def tables(comparison: Comparison) -> tuple[SortedTable, ...]:
    """The tables of fleets: a day, differences from the present, all days together, a year."""
    order = {fleet.name: k for k, fleet in enumerate(comparison.fleets)}
    against = [row for row in comparison.differences if row.base == PRESENT]
    return (
        _a_day(comparison),
        _differences(comparison, sorted(against, key=lambda row: order[row.fleet])),
        _in_all(comparison),
        _a_year(comparison),
    )


def day_table(comparison: Comparison) -> SortedTable:
    """Every day with cost, hours and orders not done of each fleet."""
    heads = ["Day"]
    for fleet in comparison.fleets:
        heads += [f"{fleet.name}: cost", f"{fleet.name}: hours", f"{fleet.name}: left out"]
    by_fleet = [{day.date: day for day in fleet.days} for fleet in comparison.fleets]
    rows = [
        CellRow(
            Cell(brief_day(date), date),
            tuple(
                cell
                for days in by_fleet
                for cell in _day_cells(days.get(date), comparison.currency)
            ),
        )
        for date in comparison.dates
    ]
    return SortedTable("Day by day", tuple(heads), tuple(rows))


def _day_cells(day: DayResult | None, currency: str) -> tuple[Cell, Cell, Cell]:
    if day is None or day.fault:
        missing = Cell("no plan" if day else NONE_TEXT, None)
        return missing, missing, missing
    hours = day.totals.paid_min / 60
    left = len(day.unserved)
    return (
        Cell(money(day.totals.cost, currency), day.totals.cost),
        Cell(number(hours, 1), hours),
        Cell(str(left), left),
    )


def _fleet_rows(
    comparison: Comparison, cells: Callable[[FleetResult], tuple[Cell, ...]]
) -> tuple[CellRow, ...]:
    return tuple(CellRow(Cell(fleet.name, fleet.name), cells(fleet)) for fleet in comparison.fleets)


def _a_day(comparison: Comparison) -> SortedTable:
    def cells(fleet: FleetResult) -> tuple[Cell, ...]:
        return (
            _trucks_out(fleet),
            _mean(fleet, "cost", lambda v: money(v, comparison.currency)),
            _mean(fleet, "paid_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "overtime_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "drive_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "drive_miles", number),
            _mean(fleet, "refills", lambda v: number(v, 1)),
            _mean(fleet, "refill_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "yard_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "unworked_min", lambda v: number(v / 60, 1)),
            _mean(fleet, "gal", number),
        )

    heads = (
        "Fleet", "Trucks out: median / 90 % / worst day", "Cost", "Paid hours", "Overtime hours",
        "Driving hours", "Miles", "Refill stops", "Refill hours", "Yard hours", "Paid, not worked",
        "Gallons",
    )  # fmt: skip
    return SortedTable(
        "A day, on average",
        heads,
        _fleet_rows(comparison, cells),
        "Over the days that could be planned. Fleets that leave orders out do less work: compare "
        "them by the paired differences.",
    )


def _mean(fleet: FleetResult, name: str, text: Callable[[float], str]) -> Cell:
    if name not in fleet.stats:
        return Cell(NONE_TEXT, None)
    mean = fleet.stats[name].mean
    return Cell(text(mean), mean)


def _trucks_out(fleet: FleetResult) -> Cell:
    if "trucks_out" not in fleet.stats:
        return Cell(NONE_TEXT, None)
    out = fleet.stats["trucks_out"]
    figures = (f"{figure:g}" for figure in (out.median, out.ninety, out.worst))
    return Cell(f"{' / '.join(figures)} of {len(fleet.trucks)}", out.median)


def other_pairs(comparison: Comparison) -> SortedTable | None:
    """The differences among the other fleets, each pair once; None when there is no such pair."""
    order = {fleet.name: k for k, fleet in enumerate(comparison.fleets)}
    rows = [
        row
        for row in comparison.differences
        if row.base != PRESENT and order[row.fleet] > order[row.base]
    ]
    rows.sort(key=lambda row: (order[row.base], order[row.fleet]))
    return _differences(comparison, rows) if rows else None


def _differences(comparison: Comparison, pairs: list[Difference]) -> SortedTable:
    heads = ("Fleets", "Days compared", *(_figure_title(name) for name in IN_DIFFERENCES))
    return SortedTable(
        "Differences a day, paired by day",
        heads,
        tuple(_difference_row(row, comparison) for row in pairs),
        "Only days on which both fleets do the same orders. A minus: the first fleet needs less.",
    )


def _figure_title(name: str) -> str:
    title = FIGURES[name].removesuffix(" a day")
    return title[0].upper() + title[1:]


def _difference_row(row: Difference, comparison: Comparison) -> CellRow:
    def cell(name: str) -> Cell:
        pair = row.figures.get(name)
        if pair is None:
            return Cell(NONE_TEXT, None)
        text = paired_text(name, pair, comparison.currency)
        return Cell(text, pair.mean, "tie" if pair.tie else "")

    name = f"{row.fleet} less {row.base}"
    compared = Cell(f"{len(row.dates)} of {len(comparison.dates)}", len(row.dates))
    return CellRow(Cell(name, name), (compared, *(cell(figure) for figure in IN_DIFFERENCES)))


def _in_all(comparison: Comparison) -> SortedTable:
    def cells(fleet: FleetResult) -> tuple[Cell, ...]:
        days_left = sum(1 for day in fleet.days if day.unserved)
        unserved = sum(len(day.unserved) for day in fleet.days)
        held = sum(len(day.held) for day in fleet.days)
        between = fleet.between
        return (
            Cell(f"{unserved} on {counted(days_left, 'day')}" if unserved else "0", unserved),
            Cell(str(len(fleet.fault_dates)), len(fleet.fault_dates)),
            Cell(str(held), held),
            *(
                Cell(str(count), count)
                for count in (fleet.late_orders, fleet.without_day)
                if count is not None
            ),
            *(
                Cell(money(price, comparison.currency), price)
                for price in (fleet.late_cost,)
                if price is not None
            ),
            Cell(cents(fleet.cost_per_order, comparison.currency), fleet.cost_per_order),
            Cell(cents(fleet.cost_per_1000_ft2, comparison.currency), fleet.cost_per_1000_ft2),
            Cell(str(fleet.changeovers), fleet.changeovers),
            Cell(
                f"{between.cleanings} ({number(between.cleaning_min / 60, 1)} h)", between.cleanings
            ),
            Cell(f"{number(between.lost_gal)} of {number(fleet.left_gal)} gal", between.lost_gal),
            Cell(money(between.cost, comparison.currency), between.cost),
        )

    calendars = any(fleet.without_day is not None for fleet in comparison.fleets)
    heads = (
        "Fleet", "Orders left out", "Days without a plan", "Orders held by rules",
        *(
            ("Late orders", "Orders without a day", "Price of being late, a day")
            if calendars
            else ()
        ),
        "Cost per order", "Cost per 1,000 sq ft", "Hose changeovers", "Cleanings between days",
        "Lost of what was left", "Both, cost",
    )  # fmt: skip
    return SortedTable("All days together", heads, _fleet_rows(comparison, cells))


def _days_text(days: float | None, pays: bool) -> str:
    """Break-even days a year, or in words that no year has so many."""
    if days is None:
        return NONE_TEXT
    if days <= DAYS_OF_A_YEAR:
        return number(days)
    return "always" if pays else "never"


def _a_year(comparison: Comparison) -> SortedTable:
    currency = comparison.currency

    def cell(value: float | None) -> Cell:
        return Cell(NONE_TEXT if value is None else money(value, currency), value)

    def cells(fleet: FleetResult) -> tuple[Cell, ...]:
        own = fleet.money
        days = own.break_even_days
        return (
            cell(own.to_buy),
            cell(own.yearly_running),
            cell(own.yearly_ownership),
            cell(own.yearly),
            cell(own.yearly_saving),
            cell(own.gain if own.working_days else None),
            _payback(fleet),
            Cell(years_text(own.life_years), own.life_years),
            cell(own.break_even_purchase),
            Cell(_days_text(days, own.pays), days),
        )

    heads = (
        "Fleet", "To buy, less what is sold", "Running a year", "Owning a year", "Both a year",
        "Saved a year", "Gained a year", "Paid back in", "Life", "Break-even price",
        "Break-even days a year",
    )  # fmt: skip
    why_not = [f"{fleet.name}: {fleet.money.why_not}" for fleet in comparison.fleets
               if fleet.money.why_not]  # fmt: skip
    days = max((fleet.money.working_days for fleet in comparison.fleets), default=0.0)
    percent = max((fleet.money.interest_percent for fleet in comparison.fleets), default=0.0)
    return SortedTable(
        f"A year of {number(days)} working days, interest {percent:g} %",
        heads,
        _fleet_rows(comparison, cells),
        " ".join(why_not),
    )


def _payback(fleet: FleetResult) -> Cell:
    own = fleet.money
    if own.payback_years is None:
        # Nothing stands in the way of a figure, and still there is none: it never pays back.
        never = not own.why_not and fleet.name != PRESENT
        return Cell("never" if never else NONE_TEXT, None)
    text = years_text(own.payback_years)
    low, high = own.payback_low_years, own.payback_high_years
    if own.payback_years > 0 and (low is not None or high is not None):
        ends = (NONE_TEXT if low is None else number(low, 1),
                "never" if high is None else number(high, 1))  # fmt: skip
        text += f" ({ends[0]} to {ends[1]})"
    return Cell(text, own.payback_years)
