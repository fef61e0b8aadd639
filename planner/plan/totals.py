"""Sums over a truck's stops and over the day."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from planner.day.fleet import Settings, Truck
from planner.day.orders import Order
from planner.day.parts import whole_id, whole_ids
from planner.plan.model import NotDone, Plan, Stop, Totals

_ZEROS: dict[str, Any] = {one.name: 0 if one.type == "int" else 0.0 for one in fields(Totals)}
NOTHING = Totals(**_ZEROS)
"""Totals of a truck that stays in the yard."""


def truck_totals(
    settings: Settings,
    truck: Truck,
    stops: Sequence[Stop],
    cleaning_min: float,
    orders: Mapping[str, Order],
    evening_min: float = 0.0,
) -> Totals:
    """Sums of one truck that goes out (rules 15 and 35). orders: of the day, whose parts of a
    lawn are one; evening_min: of loading it the evening before. A truck whose crew was quicker than
    planned before its day was planned again has not waited (rule 22)."""
    works = [work for stop in stops for work in stop.orders]
    visits = [stop for stop in stops if stop.kind == "visit"]
    lunch_min = sum(stop.leave_min - stop.begin_min for stop in stops if stop.kind == "lunch")
    refills = [stop for stop in stops if stop.kind == "refill"]
    drive_min = sum(stop.drive_min for stop in stops)
    drive_miles = sum(stop.drive_miles for stop in stops)
    refill_min = sum(stop.leave_min - stop.begin_min for stop in refills)
    spray_min = sum(work.spray_min for work in works)
    changeover_min = sum(work.changeover_min for work in works)
    setup_min = settings.setup_min_per_visit * len(visits)
    morning_min = stops[0].leave_min - stops[0].arrive_min
    closing_min = stops[-1].leave_min - stops[-1].arrive_min
    out_min = stops[-1].arrive_min - truck.shift_start_min - morning_min
    yard_min = morning_min + closing_min + evening_min
    if truck.yard_loading == "morning":
        yard_min -= cleaning_min
    worked_min = out_min - lunch_min + cleaning_min + yard_min
    paid_min = max(worked_min, truck.paid_hours_least * 60)
    overtime_min = max(0.0, stops[-1].leave_min - truck.shift_end_min)
    pay_per_min = truck.pay_per_hour * truck.crew / 60
    wait_min = out_min - drive_min - refill_min - spray_min - changeover_min - setup_min - lunch_min
    if any(stop.done for stop in stops):
        wait_min = max(0.0, wait_min)
    return Totals(
        drive_min=drive_min,
        drive_miles=drive_miles,
        refill_min=refill_min,
        spray_min=spray_min,
        setup_min=setup_min,
        changeover_min=changeover_min,
        wait_min=wait_min,
        lunch_min=lunch_min,
        cleaning_min=cleaning_min,
        paid_min=paid_min,
        overtime_min=overtime_min,
        refills=len(refills),
        visits=len(visits),
        orders=len(whole_ids(orders, (work.order_id for work in works))),
        gal=sum(work.gal for work in works),
        cost=paid_min * pay_per_min
        + overtime_min * pay_per_min * (settings.overtime_factor - 1)
        + drive_miles * truck.cost_per_mile
        + truck.cost_per_day,
        yard_min=yard_min,
        unworked_min=paid_min - worked_min,
    )


def by_order(rows: Iterable[NotDone], orders: Mapping[str, Order]) -> tuple[NotDone, ...]:
    """Parts of one lawn, which wait together, as a row of their order; the first one's words."""
    found: dict[str, NotDone] = {}
    for row in rows:
        name = whole_id(orders, row.order_id)
        found.setdefault(name, replace(row, order_id=name))
    return tuple(found.values())


def orders_out(plan: Plan, orders: Mapping[str, Order]) -> int:
    """Orders of the day that a plan does not do; one in parts is one. orders: of the day."""
    return len(by_order(plan.unserved, orders)) + len(by_order(plan.held, orders))


def add_totals(parts: Iterable[Totals]) -> Totals:
    """Field by field sum."""
    every = [NOTHING, *parts]
    return Totals(*(sum(getattr(part, field.name) for part in every) for field in fields(Totals)))
