"""Results of days -> one fleet over all of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields

from planner.compare.fleets import Fleet
from planner.compare.model import (
    FIGURES,
    BetweenDays,
    DayResult,
    FleetResult,
    Money,
    TankDay,
    TankResult,
    TruckOnDay,
    TruckResult,
)
from planner.compare.spread import MORE_STATS, stat, whole_left_out
from planner.compliance.thresholds import thresholds
from planner.day.fleet import Truck


def fleet_result(
    fleet: Fleet,
    days: Sequence[DayResult],
    others: Sequence[Sequence[DayResult]],
    money: Money,
    own_calendars: bool = False,
) -> FleetResult:
    """The fleet over its days, still without a place among the others. others: the same days with
    every fleet. own_calendars: an order may lie on another day with each."""
    good = [day for day in days if not day.fault]
    orders = sum(day.totals.orders for day in good)
    done_ft2 = sum(day.done_ft2 for day in good)
    cost = sum(day.totals.cost for day in good)
    return FleetResult(
        name=fleet.name,
        words=fleet.words,
        days=tuple(days),
        stats={name: stat(name, good) for name in (*FIGURES, *MORE_STATS)} if good else {},
        cost_per_order=cost / orders if orders else None,
        cost_per_1000_ft2=1000 * cost / done_ft2 if done_ft2 else None,
        unserved_dates=tuple(_unserved_dates(good, others, own_calendars)),
        fault_dates=tuple(day.date for day in days if day.fault),
        changeovers=sum(truck.changeovers for day in good for truck in day.trucks),
        between=BetweenDays(
            *(
                sum(getattr(day.between, field.name) for day in good)
                for field in fields(BetweenDays)
            )
        ),
        left_gal=sum(tank.left_gal for day in good for truck in day.trucks for tank in truck.tanks),
        trucks=tuple(_truck_result(truck, good) for truck in fleet.trucks.values()),
        money=money,
        against_present=None,
        rank=None,
        rank_words="",
    )


def _unserved_dates(
    days: Sequence[DayResult], others: Sequence[Sequence[DayResult]], own_calendars: bool
) -> Iterator[str]:
    """Days on which the fleet leaves an order out that another one does: an order that no fleet
    can do says nothing about any of them."""
    if own_calendars:
        nobody = frozenset.intersection(*map(whole_left_out, others))
        yield from (day.date for day in days if day.left_out - nobody)
        return
    by_date: dict[str, list[DayResult]] = {}
    for one in others:
        for day in one:
            if not day.fault:
                by_date.setdefault(day.date, []).append(day)
    for day in days:
        if any(day.left_out - other.left_out for other in by_date[day.date]):
            yield day.date


def _truck_result(truck: Truck, days: Sequence[DayResult]) -> TruckResult:
    rows = [(day.date, row) for day in days for row in day.trucks if row.truck_id == truck.truck_id]
    out = [(date, row) for date, row in rows if row.is_out]
    heaviest_lb, heaviest_date = max(
        ((row.heaviest_lb, date) for date, row in out), default=(truck.ready_lb, "")
    )
    return TruckResult(
        truck_id=truck.truck_id,
        title=truck.title,
        days_out=len(out),
        empty_lb=truck.ready_lb,
        heaviest_lb=heaviest_lb,
        heaviest_date=heaviest_date,
        gvwr_lb=truck.gvwr_lb,
        bound_days=sum(row.bound_by_weight > 0 for _, row in out),
        thresholds=thresholds(truck, heaviest_lb),
        tanks=tuple(_tank_results(truck, [row for _, row in out])),
    )


def _tank_results(truck: Truck, days: Sequence[TruckOnDay]) -> Iterator[TankResult]:
    by_name: Mapping[str, list[TankDay]] = {tank.compartment_id: [] for tank in truck.compartments}
    left_gal = dict.fromkeys(by_name, 0.0)
    for day in days:
        for row in day.tanks:
            left_gal[row.compartment_id] += row.left_gal
            if row.used_gal > 0:
                by_name[row.compartment_id].append(row)
    for tank in truck.compartments:
        used = by_name[tank.compartment_id]
        shares = [row.fullest_gal / row.capacity_gal for row in used]
        yield TankResult(
            compartment_id=tank.compartment_id,
            capacity_gal=tank.capacity_gal,
            days_used=len(used),
            mean_used_gal=sum(row.used_gal for row in used) / len(used) if used else 0.0,
            most_used_gal=max((row.used_gal for row in used), default=0.0),
            mean_fullest_share=sum(shares) / len(shares) if shares else 0.0,
            most_fullest_share=max(shares, default=0.0),
            bound_days=sum(row.bound > 0 for row in used),
            left_gal=left_gal[tank.compartment_id],
        )
