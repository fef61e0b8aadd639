"""A comparison as files for spreadsheets and programs: CSV text, and all of it as JSON."""

import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Final

from planner.compare.model import (
    FIGURES,
    Comparison,
    DayResult,
    Difference,
    FleetResult,
    Paired,
    TankResult,
    TruckResult,
)
from planner.exports.text import table_text
from planner.plan.document import plain

DATA_FILE = "comparison.json"
"""Fields and units: planner.compare.model."""
VERDICT_FILE = "verdict.txt"


def asked_file(out: Path) -> Path:
    """Where it is kept, until the folder `out` is written, what it was asked for (JSON)."""
    out = out.resolve()
    return out.parent / f".{out.name}-asked.json"


def _short(number: float, decimals: int = 2) -> float:
    # + 0.0 turns -0.0 into 0.0.
    return round(number, decimals) + 0.0


def _maybe(number: float | None, decimals: int = 2) -> float | None:
    return None if number is None else _short(number, decimals)


DAYS: Final[Mapping[str, Callable[[FleetResult, DayResult], object]]] = {
    "fleet": lambda fleet, day: fleet.name,
    "date": lambda fleet, day: day.date,
    "orders_due": lambda fleet, day: day.orders,
    "orders_done": lambda fleet, day: day.totals.orders,
    "held": lambda fleet, day: len(day.held),
    "unserved": lambda fleet, day: len(day.unserved),
    "trucks_out": lambda fleet, day: day.trucks_out,
    "paid_min": lambda fleet, day: _short(day.totals.paid_min),
    "overtime_min": lambda fleet, day: _short(day.totals.overtime_min),
    "drive_min": lambda fleet, day: _short(day.totals.drive_min),
    "drive_miles": lambda fleet, day: _short(day.totals.drive_miles),
    "refill_min": lambda fleet, day: _short(day.totals.refill_min),
    "refills": lambda fleet, day: day.totals.refills,
    "spray_min": lambda fleet, day: _short(day.totals.spray_min),
    "wait_min": lambda fleet, day: _short(day.totals.wait_min),
    "yard_min": lambda fleet, day: _short(day.totals.yard_min),
    "unworked_min": lambda fleet, day: _short(day.totals.unworked_min),
    "gal": lambda fleet, day: _short(day.totals.gal),
    "done_ft2": lambda fleet, day: _short(day.done_ft2),
    "cost": lambda fleet, day: _short(day.totals.cost),
    "changeovers": lambda fleet, day: sum(truck.changeovers for truck in day.trucks),
    "cleanings_between_days": lambda fleet, day: day.between.cleanings,
    "cost_between_days": lambda fleet, day: _short(day.between.cost),
    "left_gal": lambda fleet, day: _short(
        sum(tank.left_gal for row in day.trucks for tank in row.tanks)
    ),
    "left_out": lambda fleet, day: " ".join(sorted(day.left_out)),
    "fault": lambda fleet, day: day.fault,
}
"""One day planned with one fleet. cost in the office's currency, without product; left_out: orders
that did not fit, joined by spaces."""


def _stat(figure: str, of: str) -> Callable[[FleetResult], object]:
    """A figure's statistic over all days."""
    return lambda fleet: getattr(fleet.stats[figure], of) if figure in fleet.stats else None


def _total(figure: str) -> Callable[[FleetResult], object]:
    return lambda fleet: _short(fleet.stats[figure].total) if figure in fleet.stats else None


def _money(figure: str) -> Callable[[FleetResult], object]:
    return lambda fleet: _maybe(getattr(fleet.money, figure))


FLEETS: Final[Mapping[str, Callable[[FleetResult], object]]] = {
    "fleet": lambda fleet: fleet.name,
    "what": lambda fleet: fleet.words,
    "rank": lambda fleet: fleet.rank,
    "why": lambda fleet: fleet.rank_words,
    "days": lambda fleet: len(fleet.days),
    "days_with_orders_left_out": lambda fleet: len(fleet.unserved_dates),
    "days_that_could_not_be_planned": lambda fleet: len(fleet.fault_dates),
    "late_orders": lambda fleet: fleet.late_orders,
    "orders_without_a_day": lambda fleet: fleet.without_day,
    "late_cost_per_day": lambda fleet: _maybe(fleet.late_cost),
    "trucks_needed_median": _stat("trucks_out", "median"),
    "trucks_needed_nine_days_in_ten": _stat("trucks_out", "ninety"),
    "trucks_needed_worst_day": _stat("trucks_out", "worst"),
    "paid_min": _total("paid_min"),
    "overtime_min": _total("overtime_min"),
    "drive_miles": _total("drive_miles"),
    "refills": _total("refills"),
    "refill_min": _total("refill_min"),
    "unserved": _total("unserved"),
    "held": _total("held"),
    "gal": _total("gal"),
    "left_gal": lambda fleet: _short(fleet.left_gal),
    "changeovers": lambda fleet: fleet.changeovers,
    "cleanings_between_days": lambda fleet: fleet.between.cleanings,
    "cleaning_between_days_min": lambda fleet: _short(fleet.between.cleaning_min),
    "lost_gal": lambda fleet: _short(fleet.between.lost_gal),
    "cost_between_days": lambda fleet: _short(fleet.between.cost),
    "yard_min": _total("yard_min"),
    "unworked_min": _total("unworked_min"),
    "cost_per_day": lambda fleet: (
        _short(fleet.stats["cost"].mean) if "cost" in fleet.stats else None
    ),
    "cost_per_order": lambda fleet: _maybe(fleet.cost_per_order),
    "cost_per_1000_ft2": lambda fleet: _maybe(fleet.cost_per_1000_ft2, 4),
    "yearly_running": _money("yearly_running"),
    "yearly_ownership": _money("yearly_ownership"),
    "yearly": _money("yearly"),
    "to_buy": _money("to_buy"),
    "life_years": _money("life_years"),
    "interest_percent": lambda fleet: fleet.money.interest_percent,
    "yearly_saving": _money("yearly_saving"),
    "yearly_gain": lambda fleet: _maybe(fleet.money.gain) if fleet.money.working_days else None,
    "payback_years": _money("payback_years"),
    "payback_low_years": _money("payback_low_years"),
    "payback_high_years": _money("payback_high_years"),
    "break_even_purchase": _money("break_even_purchase"),
    "break_even_days": _money("break_even_days"),
}
"""One fleet over all days; None = cannot be told. late_orders, orders_without_a_day,
late_cost_per_day: of fleets with a calendar of their own."""

TRUCKS: Final[Mapping[str, Callable[[FleetResult, TruckResult], object]]] = {
    "fleet": lambda fleet, truck: fleet.name,
    "truck": lambda fleet, truck: truck.truck_id,
    "title": lambda fleet, truck: truck.title,
    "days_out": lambda fleet, truck: truck.days_out,
    "empty_lb": lambda fleet, truck: _short(truck.empty_lb),
    "heaviest_lb": lambda fleet, truck: _short(truck.heaviest_lb),
    "heaviest_date": lambda fleet, truck: truck.heaviest_date,
    "gvwr_lb": lambda fleet, truck: _short(truck.gvwr_lb),
    "days_bound_by_weight": lambda fleet, truck: truck.bound_days,
    "thresholds_reached": lambda fleet, truck: "; ".join(
        threshold.line for threshold in truck.thresholds if threshold.reached
    ),
}
"""One truck over all days, with the thresholds that its heaviest day reaches."""

COMPARTMENTS: Final[Mapping[str, Callable[[FleetResult, TruckResult, TankResult], object]]] = {
    "fleet": lambda fleet, truck, tank: fleet.name,
    "truck": lambda fleet, truck, tank: truck.truck_id,
    "compartment": lambda fleet, truck, tank: tank.compartment_id,
    "capacity_gal": lambda fleet, truck, tank: tank.capacity_gal,
    "days_used": lambda fleet, truck, tank: tank.days_used,
    "mean_used_gal": lambda fleet, truck, tank: _short(tank.mean_used_gal),
    "most_used_gal": lambda fleet, truck, tank: _short(tank.most_used_gal),
    "mean_fullest_percent": lambda fleet, truck, tank: _short(100 * tank.mean_fullest_share),
    "most_fullest_percent": lambda fleet, truck, tank: _short(100 * tank.most_fullest_share),
    "days_it_bound": lambda fleet, truck, tank: tank.bound_days,
    "left_gal": lambda fleet, truck, tank: _short(tank.left_gal),
}
"""One compartment over all days."""

DIFFERENCES: Final[Mapping[str, Callable[[Difference, str, Paired], object]]] = {
    "fleet": lambda row, figure, paired: row.fleet,
    "less": lambda row, figure, paired: row.base,
    "figure": lambda row, figure, paired: FIGURES[figure],
    "days_compared": lambda row, figure, paired: len(row.dates),
    "days_not_compared": lambda row, figure, paired: len(row.other_days),
    "mean": lambda row, figure, paired: _short(paired.mean),
    "spread": lambda row, figure, paired: _maybe(paired.spread),
    "tie": lambda row, figure, paired: "tie" if paired.tie else "",
}
"""One figure of a fleet less that of another, a day. spread: the planner's own, None = not
measured."""


def comparison_files(comparison: Comparison) -> dict[str, str]:
    """File name -> text of everything but the page."""
    fleets = comparison.fleets
    trucks = [(fleet, truck) for fleet in fleets for truck in fleet.trucks]
    differences = [
        (row, name, paired)
        for row in comparison.differences
        for name, paired in row.figures.items()
    ]
    return {
        DATA_FILE: json.dumps(plain(comparison), indent=1, ensure_ascii=False) + "\n",
        VERDICT_FILE: "\n".join(comparison.verdict) + "\n",
        "days.csv": _text(DAYS, [(fleet, day) for fleet in fleets for day in fleet.days]),
        "fleets.csv": _text(FLEETS, [(fleet,) for fleet in fleets]),
        "trucks.csv": _text(TRUCKS, trucks),
        "compartments.csv": _text(
            COMPARTMENTS, [(fleet, truck, tank) for fleet, truck in trucks for tank in truck.tanks]
        ),
        "differences.csv": _text(DIFFERENCES, differences),
    }


def _text(columns: Mapping[str, Callable[..., object]], rows: Iterable[tuple[object, ...]]) -> str:
    """A table: each column's name and how it is read from what a row is about."""
    return table_text(list(columns), ([read(*row) for read in columns.values()] for row in rows))
