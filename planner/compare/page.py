"""The page on which an owner compares fleets: one HTML text that asks the network for nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.compare.model import PRESENT, Comparison, FleetResult
from planner.compare.page_charts import (
    PLOT_HEIGHT,
    DayAxis,
    PairedPlot,
    day_axis,
    left_out_rows,
    paired_plot,
)
from planner.compare.page_tables import day_table, other_pairs, tables
from planner.compare.page_text import money, sentence, span_text, spread_words
from planner.compare.page_trucks import fleet_trucks, tier_rows
from planner.compliance.thresholds import ADVISER_TEXT
from planner.day.life import brief_day
from planner.papers.render import render_in

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
    """One fleet's place. tie: shares its rank; sign: '' = not in the charts."""

    fleet: FleetResult
    sign: str
    tie: bool
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
    ranks = [fleet.rank for fleet in comparison.fleets]
    ordered = sorted(comparison.fleets, key=lambda fleet: (fleet.rank is None, fleet.rank or 0))
    return tuple(
        Verdict(
            fleet=fleet,
            sign=signs.get(fleet.name, ""),
            tie=fleet.rank is not None and ranks.count(fleet.rank) > 1,
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
