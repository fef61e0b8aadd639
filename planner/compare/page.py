"""The page on which an owner compares fleets: one HTML text that asks the network for nothing.

Pictures by day are numbers and texts in SVG user units; the template turns them into inline SVG.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from planner.compare.model import PRESENT, Comparison, DayResult, FleetResult
from planner.compare.page_tables import day_table, other_pairs, tables
from planner.compare.page_trucks import fleet_trucks, tier_rows
from planner.compare.verdict import money, number, sentence, span_text, spread_words
from planner.compliance.thresholds import ADVISER_TEXT
from planner.day.life import brief_day
from planner.papers.render import render_in

WIDTH = 1000.0
"""Drawn width of a chart."""

LEFT, RIGHT = 78.0, 990.0
"""First and last place of a day."""

PLOT_HEIGHT = 122.0
"""Drawn height between the lowest and the highest line of a plot."""

MOST_DAY_LABELS = 32
"""More numbers than this run into each other."""

WEEK_GAP = 0.7
"""Widths of a day that are left free where days are missing between two days of the comparison."""


@dataclass(frozen=True)
class DayLabel:
    """A day's number below the axis, and the month where it changes."""

    x: float
    number: str
    month: str


@dataclass(frozen=True)
class DayAxis:
    """Where each day stands. x_of: date -> x; slot: width of one day; breaks: x of the lines
    between days that do not follow each other."""

    x_of: dict[str, float]
    slot: float
    labels: tuple[DayLabel, ...]
    breaks: tuple[float, ...]


def day_axis(dates: Sequence[str]) -> DayAxis:
    """The days side by side; a weekend or any other gap shows as a gap."""
    days = [date.fromisoformat(text) for text in dates]
    places, at = [], 0.0
    gaps = []
    for k, day in enumerate(days):
        if k and day - days[k - 1] > timedelta(days=1):
            gaps.append(at + WEEK_GAP / 2)
            at += WEEK_GAP
        places.append(at + 0.5)
        at += 1.0
    slot = (RIGHT - LEFT) / max(at, 1.0)
    step = math.ceil(len(days) / MOST_DAY_LABELS) if days else 1
    labels = []
    month = ""
    for k, (day, place) in enumerate(zip(days, places, strict=True)):
        if k % step == 0:
            new = f"{day:%b}"
            labels.append(
                DayLabel(_round(LEFT + place * slot), str(day.day), new if new != month else "")
            )
            month = new
    return DayAxis(
        x_of={text: _round(LEFT + place * slot) for text, place in zip(dates, places, strict=True)},
        slot=slot,
        labels=tuple(labels),
        breaks=tuple(_round(LEFT + gap * slot) for gap in gaps),
    )


@dataclass(frozen=True)
class Point:
    """A fleet on a day. left_out: orders were left out, so that the day is not compared; text:
    for a hover."""

    fleet: str
    x: float
    y: float
    left_out: bool
    text: str


@dataclass(frozen=True)
class PairedPlot:
    """A figure by day and fleet. joins: (x1, y1, x2, y2) from fleet to fleet of one day; ticks:
    (y, text); size: of the signs; words: the whole plot for those who cannot see it."""

    points: tuple[Point, ...]
    joins: tuple[tuple[float, float, float, float], ...]
    ticks: tuple[tuple[float, str], ...]
    size: float
    words: str


def paired_plot(
    fleets: Sequence[FleetResult], axis: DayAxis, figure: Callable[[DayResult], float]
) -> PairedPlot:
    """The figure of every fleet on every day, the fleets of a day next to each other and joined."""
    values = [figure(day) for fleet in fleets for day in fleet.days if not day.fault]
    ticks = nice_ticks(min(values), max(values)) if values else (0.0, 1.0)
    low, high = ticks[0], ticks[-1]

    def y(value: float) -> float:
        return _round(PLOT_HEIGHT * (high - value) / (high - low))

    aside = min(11.0, axis.slot / (len(fleets) + 0.5))
    points: list[Point] = []
    for k, fleet in enumerate(fleets):
        shift = (k - (len(fleets) - 1) / 2) * aside
        for day in fleet.days:
            if day.date in axis.x_of and not day.fault:
                value = figure(day)
                left = len(day.unserved)
                text = f"{fleet.name}, {brief_day(day.date)}: {number(value, 1)}"
                text += f", {left} left out" if left else ""
                x = _round(axis.x_of[day.date] + shift)
                points.append(Point(fleet.name, x, y(value), left > 0, text))
    return PairedPlot(
        points=tuple(points),
        joins=_joins(points, fleets, axis, aside),
        ticks=tuple((y(tick), number(tick)) for tick in ticks),
        size=_round(max(2.0, min(6.5, axis.slot / 5))),
        words=_words(fleets, figure),
    )


def _joins(
    points: list[Point], fleets: Sequence[FleetResult], axis: DayAxis, aside: float
) -> tuple[tuple[float, float, float, float], ...]:
    reach = aside * len(fleets) / 2
    joins = []
    for x in axis.x_of.values():
        of_day = sorted((p for p in points if abs(p.x - x) <= reach), key=lambda p: p.x)
        joins += [(a.x, a.y, b.x, b.y) for a, b in pairwise(of_day)]
    return tuple(joins)


def _words(fleets: Sequence[FleetResult], figure: Callable[[DayResult], float]) -> str:
    parts = []
    for fleet in fleets:
        values = [figure(day) for day in fleet.days if not day.fault]
        if values:
            parts.append(f"{fleet.name} {number(min(values))} to {number(max(values))}")
    return "; ".join(parts)


def nice_ticks(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Round figures that enclose low and high, about so many."""
    span = max(high - low, abs(high) * 0.02, 1e-6)
    rough = span / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough * 0.999)
    first, last = math.floor(low / step), math.ceil(high / step)
    last = max(last, first + 1)
    return tuple(round(step * k, 9) for k in range(first, last + 1))


@dataclass(frozen=True)
class LeftOutCell:
    """Orders left out on a day: a number, a dot for none, `!` for a day without a plan."""

    x: float
    text: str
    bad: bool


@dataclass(frozen=True)
class LeftOutRow:
    """One fleet's orders left out by day."""

    fleet: str
    cells: tuple[LeftOutCell, ...]


def left_out_rows(fleets: Sequence[FleetResult], axis: DayAxis) -> tuple[LeftOutRow, ...]:
    """Orders left out by day, one row a fleet."""
    rows = []
    for fleet in fleets:
        cells = [
            LeftOutCell(
                axis.x_of[day.date],
                "!" if day.fault else str(len(day.unserved) or "·"),
                bool(day.fault or day.unserved),
            )
            for day in fleet.days
            if day.date in axis.x_of
        ]
        rows.append(LeftOutRow(fleet.name, tuple(cells)))
    return tuple(rows)


def _round(value: float) -> float:
    return round(value, 1)


MOST_CHARTED = 4
"""So many signs can still be told apart on black-and-white paper; all fleets stand in the
tables."""

MOST_PRINTED = 3
"""Fleets whose trucks find room on the second sheet; the others' show on a screen."""

MOST_DAYS_LISTED = 12
"""Days named one by one for a fleet, before the file of days is named instead."""

SIGNS = ("circle", "square", "triangle", "diamond")
"""Shapes of the charted fleets, the present one first."""


@dataclass(frozen=True)
class Verdict:
    """One fleet's place. tie: names of those that share its rank; sign: '' = not in the charts."""

    fleet: FleetResult
    sign: str
    tie: str
    figures: str
    why: str


@dataclass(frozen=True)
class LeftOutDay:
    """Orders that a fleet left out on a day. fault: why it could not be planned at all."""

    date: str
    orders: str
    reasons: tuple[str, ...]
    fault: str


@dataclass(frozen=True)
class UnservedDays:
    """The days that a fleet could not serve whole. more: days beyond those listed."""

    fleet: str
    days: tuple[LeftOutDay, ...]
    orders: int
    more: int


@dataclass(frozen=True)
class Chart:
    """A paired plot with its title and what is said to those who cannot see it."""

    title: str
    plot: PairedPlot


def fleets_page(comparison: Comparison, files: Sequence[str] = ()) -> str:
    """The page. files: names of the CSV files beside it."""
    charted = charted_fleets(comparison)
    signs = dict(zip((fleet.name for fleet in charted), SIGNS, strict=False))
    axis = day_axis(comparison.dates)
    return render_in(
        "planner.compare",
        "fleets.html",
        dict(
            comparison=comparison,
            span=span_text(comparison.dates),
            answers=_answers(comparison, signs),
            spread=spread_words(comparison),
            tables=tables(comparison),
            pairs=other_pairs(comparison),
            by_day=day_table(comparison),
            signs=signs,
            uncharted=[f.name for f in comparison.fleets if f.name not in signs],
            axis=axis,
            plot_height=PLOT_HEIGHT,
            charts=_charts(comparison, charted, axis),
            strip=left_out_rows(charted, axis),
            left_out=left_out(comparison),
            trucks=fleet_trucks(charted),
            most_printed=MOST_PRINTED,
            tiers=tier_rows(comparison.fleets),
            adviser_text=ADVISER_TEXT,
            files=tuple(files),
            checksum=comparison.workbook_sha256[:10],
            footer=f"workbook {comparison.workbook_sha256[:10]}",
            present=PRESENT,
        ),
    )


def charted_fleets(comparison: Comparison) -> tuple[FleetResult, ...]:
    """The present fleet and the best ranked of the others, in the order of the comparison."""
    others = [fleet for fleet in comparison.fleets if fleet.name != PRESENT]
    others.sort(key=lambda fleet: (fleet.rank is None, fleet.rank or 0))
    wanted = {PRESENT, *(fleet.name for fleet in others[: MOST_CHARTED - 1])}
    return tuple(fleet for fleet in comparison.fleets if fleet.name in wanted)


def left_out(comparison: Comparison) -> tuple[UnservedDays, ...]:
    """Fleets with days that they could not serve whole, and these days by name."""
    found = []
    for fleet in comparison.fleets:
        days = [day for day in fleet.days if day.unserved or day.fault]
        if days:
            listed = tuple(
                LeftOutDay(
                    date=brief_day(day.date),
                    orders=", ".join(row.order_id for row in day.unserved),
                    reasons=tuple(f"{row.order_id}: {row.reason}" for row in day.unserved),
                    fault=day.fault,
                )
                for day in days[:MOST_DAYS_LISTED]
            )
            orders = sum(len(day.unserved) for day in days)
            found.append(UnservedDays(fleet.name, listed, orders, len(days) - len(listed)))
    return tuple(found)


def _answers(comparison: Comparison, signs: dict[str, str]) -> tuple[Verdict, ...]:
    ordered = sorted(comparison.fleets, key=lambda fleet: (fleet.rank is None, fleet.rank or 0))
    return tuple(
        Verdict(
            fleet=fleet,
            sign=signs.get(fleet.name, ""),
            tie=" and ".join(
                one.name
                for one in ordered
                if fleet.rank is not None and one.rank == fleet.rank and one.name != fleet.name
            ),
            figures=_figures(fleet, comparison.currency),
            why=sentence(fleet.rank_words),
        )
        for fleet in ordered
    )


def _figures(fleet: FleetResult, currency: str) -> str:
    parts = []
    if "cost" in fleet.stats:
        parts.append(f"{money(fleet.stats['cost'].mean, currency)} a day")
    if fleet.money.yearly is not None:
        parts.append(f"{money(fleet.money.yearly, currency)} a year, owning as if new included")
    return ", ".join(parts)


def _charts(
    comparison: Comparison, charted: tuple[FleetResult, ...], axis: DayAxis
) -> tuple[Chart, ...]:
    return (
        Chart(
            f"Cost of each day, {comparison.currency}",
            paired_plot(charted, axis, lambda day: day.totals.cost),
        ),
    )
