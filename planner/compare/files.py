"""A comparison as files for spreadsheets and programs: CSV text, and all of it as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from planner.compare.model import FIGURES, Comparison
from planner.exports.csv_text import csv_text
from planner.plan.document import plain

DATA_FILE = "comparison.json"
"""Fields and units: planner.compare.model."""
VERDICT_FILE = "verdict.txt"


@dataclass(frozen=True)
class DayRow:
    """One day planned with one fleet. cost in the office's currency, without product. left_out:
    orders that did not fit, joined by spaces."""

    fleet: str
    date: str
    orders_due: int
    orders_done: int
    held: int
    unserved: int
    trucks_out: int
    paid_min: float
    overtime_min: float
    drive_min: float
    drive_miles: float
    refill_min: float
    refills: int
    spray_min: float
    wait_min: float
    yard_min: float
    unworked_min: float
    gal: float
    done_ft2: float
    cost: float
    changeovers: int
    cleanings_between_days: int
    cost_between_days: float
    left_gal: float
    left_out: str
    fault: str


@dataclass(frozen=True)
class FleetRow:
    """One fleet over all days; None = cannot be told. late_orders, orders_without_a_day: of fleets
    with a calendar of their own."""

    fleet: str
    what: str
    rank: int | None
    why: str
    days: int
    days_with_orders_left_out: int
    days_that_could_not_be_planned: int
    late_orders: int | None
    orders_without_a_day: int | None
    trucks_needed_median: float | None
    trucks_needed_nine_days_in_ten: float | None
    trucks_needed_worst_day: float | None
    paid_min: float | None
    overtime_min: float | None
    drive_miles: float | None
    refills: float | None
    refill_min: float | None
    unserved: float | None
    held: float | None
    gal: float | None
    left_gal: float
    changeovers: int
    cleanings_between_days: int
    cleaning_between_days_min: float
    lost_gal: float
    cost_between_days: float
    yard_min: float | None
    unworked_min: float | None
    cost_per_day: float | None
    cost_per_order: float | None
    cost_per_1000_ft2: float | None
    yearly_running: float | None
    yearly_ownership: float | None
    yearly: float | None
    to_buy: float | None
    life_years: float | None
    interest_percent: float
    yearly_saving: float | None
    yearly_gain: float | None
    payback_years: float | None
    payback_low_years: float | None
    payback_high_years: float | None
    break_even_purchase: float | None
    break_even_days: float | None


@dataclass(frozen=True)
class TruckRow:
    """One truck over all days, with the thresholds that its heaviest day reaches."""

    fleet: str
    truck: str
    title: str
    days_out: int
    empty_lb: float
    heaviest_lb: float
    heaviest_date: str
    gvwr_lb: float
    days_bound_by_weight: int
    thresholds_reached: str


@dataclass(frozen=True)
class CompartmentRow:
    """One compartment over all days."""

    fleet: str
    truck: str
    compartment: str
    capacity_gal: float
    days_used: int
    mean_used_gal: float
    most_used_gal: float
    mean_fullest_percent: float
    most_fullest_percent: float
    days_it_bound: int
    left_gal: float


@dataclass(frozen=True)
class DifferenceRow:
    """One figure of a fleet less that of another, a day. spread: the planner's own, None = not
    measured."""

    fleet: str
    less: str
    figure: str
    days_compared: int
    days_not_compared: int
    mean: float
    spread: float | None
    tie: str


def comparison_files(comparison: Comparison) -> dict[str, str]:
    """File name -> text of everything but the page."""
    return {
        DATA_FILE: json.dumps(plain(comparison), indent=1, ensure_ascii=False) + "\n",
        VERDICT_FILE: "\n".join(comparison.verdict) + "\n",
        "days.csv": csv_text(DayRow, list(_days(comparison))),
        "fleets.csv": csv_text(FleetRow, list(_fleets(comparison))),
        "trucks.csv": csv_text(TruckRow, list(_trucks(comparison))),
        "compartments.csv": csv_text(CompartmentRow, list(_compartments(comparison))),
        "differences.csv": csv_text(DifferenceRow, list(_differences(comparison))),
    }


def _days(comparison: Comparison) -> Iterator[DayRow]:
    for fleet in comparison.fleets:
        for day in fleet.days:
            sums = day.totals
            yield DayRow(
                fleet=fleet.name,
                date=day.date,
                orders_due=day.orders,
                orders_done=sums.orders,
                held=len(day.held),
                unserved=len(day.unserved),
                trucks_out=day.trucks_out,
                paid_min=_short(sums.paid_min),
                overtime_min=_short(sums.overtime_min),
                drive_min=_short(sums.drive_min),
                drive_miles=_short(sums.drive_miles),
                refill_min=_short(sums.refill_min),
                refills=sums.refills,
                spray_min=_short(sums.spray_min),
                wait_min=_short(sums.wait_min),
                yard_min=_short(sums.yard_min),
                unworked_min=_short(sums.unworked_min),
                gal=_short(sums.gal),
                done_ft2=_short(day.done_ft2),
                cost=_short(sums.cost),
                changeovers=sum(truck.changeovers for truck in day.trucks),
                cleanings_between_days=day.between.cleanings,
                cost_between_days=_short(day.between.cost),
                left_gal=_short(sum(tank.left_gal for row in day.trucks for tank in row.tanks)),
                left_out=" ".join(sorted(day.left_out)),
                fault=day.fault,
            )


def _fleets(comparison: Comparison) -> Iterator[FleetRow]:
    for fleet in comparison.fleets:
        stats, money = fleet.stats, fleet.money
        total = {name: _short(row.total) for name, row in stats.items()}
        out = stats.get("trucks_out")
        cost = stats.get("cost")
        yield FleetRow(
            fleet=fleet.name,
            what=fleet.words,
            rank=fleet.rank,
            why=fleet.rank_words,
            days=len(fleet.days),
            days_with_orders_left_out=len(fleet.unserved_dates),
            days_that_could_not_be_planned=len(fleet.fault_dates),
            late_orders=fleet.late_orders,
            orders_without_a_day=fleet.without_day,
            trucks_needed_median=out.median if out else None,
            trucks_needed_nine_days_in_ten=out.ninety if out else None,
            trucks_needed_worst_day=out.worst if out else None,
            paid_min=total.get("paid_min"),
            overtime_min=total.get("overtime_min"),
            drive_miles=total.get("drive_miles"),
            refills=total.get("refills"),
            refill_min=total.get("refill_min"),
            unserved=total.get("unserved"),
            held=total.get("held"),
            gal=total.get("gal"),
            left_gal=_short(fleet.left_gal),
            changeovers=fleet.changeovers,
            cleanings_between_days=fleet.between.cleanings,
            cleaning_between_days_min=_short(fleet.between.cleaning_min),
            lost_gal=_short(fleet.between.lost_gal),
            cost_between_days=_short(fleet.between.cost),
            yard_min=total.get("yard_min"),
            unworked_min=total.get("unworked_min"),
            cost_per_day=_short(cost.mean) if cost else None,
            cost_per_order=_maybe(fleet.cost_per_order),
            cost_per_1000_ft2=_maybe(fleet.cost_per_1000_ft2, 4),
            yearly_running=_maybe(money.yearly_running),
            yearly_ownership=_maybe(money.yearly_ownership),
            yearly=_maybe(money.yearly),
            to_buy=_maybe(money.to_buy),
            life_years=_maybe(money.life_years),
            interest_percent=money.interest_percent,
            yearly_saving=_maybe(money.yearly_saving),
            yearly_gain=_maybe(money.gain) if money.working_days else None,
            payback_years=_maybe(money.payback_years),
            payback_low_years=_maybe(money.payback_low_years),
            payback_high_years=_maybe(money.payback_high_years),
            break_even_purchase=_maybe(money.break_even_purchase),
            break_even_days=_maybe(money.break_even_days),
        )


def _trucks(comparison: Comparison) -> Iterator[TruckRow]:
    for fleet in comparison.fleets:
        for truck in fleet.trucks:
            yield TruckRow(
                fleet=fleet.name,
                truck=truck.truck_id,
                title=truck.title,
                days_out=truck.days_out,
                empty_lb=_short(truck.empty_lb),
                heaviest_lb=_short(truck.heaviest_lb),
                heaviest_date=truck.heaviest_date,
                gvwr_lb=_short(truck.gvwr_lb),
                days_bound_by_weight=truck.bound_days,
                thresholds_reached="; ".join(
                    threshold.line for threshold in truck.thresholds if threshold.reached
                ),
            )


def _compartments(comparison: Comparison) -> Iterator[CompartmentRow]:
    for fleet in comparison.fleets:
        for truck in fleet.trucks:
            for tank in truck.tanks:
                yield CompartmentRow(
                    fleet=fleet.name,
                    truck=truck.truck_id,
                    compartment=tank.compartment_id,
                    capacity_gal=tank.capacity_gal,
                    days_used=tank.days_used,
                    mean_used_gal=_short(tank.mean_used_gal),
                    most_used_gal=_short(tank.most_used_gal),
                    mean_fullest_percent=_short(100 * tank.mean_fullest_share),
                    most_fullest_percent=_short(100 * tank.most_fullest_share),
                    days_it_bound=tank.bound_days,
                    left_gal=_short(tank.left_gal),
                )


def _differences(comparison: Comparison) -> Iterator[DifferenceRow]:
    for row in comparison.differences:
        for name, paired in row.figures.items():
            yield DifferenceRow(
                fleet=row.fleet,
                less=row.base,
                figure=FIGURES[name],
                days_compared=len(row.dates),
                days_not_compared=len(row.other_days),
                mean=_short(paired.mean),
                spread=_maybe(paired.spread),
                tie="tie" if paired.tie else "",
            )


def _short(number: float, decimals: int = 2) -> float:
    # + 0.0 turns -0.0 into 0.0.
    return round(number, decimals) + 0.0


def _maybe(number: float | None, decimals: int = 2) -> float | None:
    return None if number is None else _short(number, decimals)
