"""Totals of trucks and day, added up from the stops (rule 15)."""

from collections.abc import Iterable, Iterator
from dataclasses import fields

from planner.day.day import Day
from planner.plan.audit.case import (
    GALLON_TOLERANCE,
    MILE_TOLERANCE,
    MINUTE_TOLERANCE,
    MONEY_TOLERANCE,
    TruckCase,
    Violation,
    differs,
)
from planner.plan.audit.rules_works import counted_gal
from planner.plan.model import NotDone, Plan, Totals, Work


def check_truck_totals(case: TruckCase) -> Iterator[Violation]:
    """Every total of a truck is the sum of its stops."""
    for name, right in _right_totals(case).items():
        found = getattr(case.planned.totals, name)
        # A sum of many rounded figures may be off by each of them.
        if differs(found, right, _tolerance(name) * (1 + 0.1 * len(case.planned.stops))):
            yield case.found(
                "TOTAL-TRUCK", None, f"{_words(name)} {found:,.2f}, added up {right:,.2f}"
            )


def check_day_totals(plan: Plan, day: Day) -> Iterator[Violation]:
    """Every total of the day is the sum of the trucks', but that a lawn whose parts several trucks
    do is one order."""
    done = [
        _orders(day, [work for stop in one.stops for work in stop.orders]) for one in plan.trucks
    ]
    shared = sum(map(len, done)) - len(set().union(*done))
    for field in fields(Totals):
        found = getattr(plan.totals.totals, field.name)
        right = sum(getattr(truck.totals, field.name) for truck in plan.trucks)
        if field.name == "orders":
            right -= shared
        if differs(found, right, _tolerance(field.name)):
            yield Violation(
                "TOTAL-DAY",
                None,
                None,
                f"{_words(field.name)} {found:,.2f}, the trucks add up to {right:,.2f}",
            )
    for what, count, listed in (
        ("unserved", plan.totals.unserved, len(_orders(day, plan.unserved))),
        ("held", plan.totals.held, len(_orders(day, plan.held))),
    ):
        if count != listed:
            yield Violation("TOTAL-DAY", None, None, f"{count} orders {what}, {listed} are listed")


def _orders(day: Day, rows: Iterable[Work | NotDone]) -> set[str]:
    """Orders of the tables that the rows are of."""
    found = set()
    for row in rows:
        order = day.orders.get(row.order_id)
        found.add(row.order_id if order is None else order.part_of or row.order_id)
    return found


def _right_totals(case: TruckCase) -> dict[str, float]:
    stops, truck, settings = case.planned.stops, case.truck, case.day.workbook.settings
    right = {field.name: 0.0 for field in fields(Totals)}
    if not stops:
        return right
    before = stops[0]
    for row, stop in enumerate(stops):
        right["drive_min"] += stop.drive_min
        right["drive_miles"] += stop.drive_miles
        right["wait_min"] += stop.begin_min - stop.arrive_min
        if row and case.done:
            # What the crew stood before it went on, and what was recorded otherwise than planned.
            right["wait_min"] += stop.arrive_min - stop.drive_min - before.leave_min
        before = stop
        if stop.kind == "depart":
            # The morning in the yard is yard time, and no waiting on the way.
            right["wait_min"] -= stop.begin_min - stop.arrive_min
        if stop.kind == "refill":
            right["refills"] += 1
            right["refill_min"] += stop.leave_min - stop.begin_min
        elif stop.kind == "lunch":
            right["lunch_min"] += stop.leave_min - stop.begin_min
        elif stop.kind == "visit":
            right["visits"] += 1
            right["setup_min"] += settings.setup_min_per_visit
        ready = stop.begin_min + settings.setup_min_per_visit
        for work in stop.orders:
            right["gal"] += counted_gal(case, row, work)
            right["wait_min"] += work.begin_min - ready
            right["changeover_min"] += work.changeover_min
            right["spray_min"] += work.spray_min
            ready = work.end_min
            if stop.done:
                ready = work.begin_min + work.changeover_min + work.spray_min
        if stop.kind == "visit" and stop.done:
            right["wait_min"] += stop.leave_min - ready
    if case.done:
        right["wait_min"] += stops[0].arrive_min - case.depart_min
        right["wait_min"] = max(0.0, right["wait_min"])
    works = [work for stop in stops for work in stop.orders]
    right["orders"] = len(_orders(case.day, works))
    right["cleaning_min"] = sum(entry.minutes for entry in case.planned.cleaning)
    first, last = stops[0], stops[-1]
    # When a departure or a return that is not done should begin or end is rules_clock's to say.
    reports = first.arrive_min if first.done else case.depart_min
    back = last.arrive_min + truck.washdown_min + truck.paperwork_min
    if last.done:
        back = last.leave_min
    regular = min(back, truck.shift_end_min) - case.depart_min
    overtime = max(back - truck.shift_end_min, 0.0)
    right["overtime_min"] = overtime
    in_clock = right["cleaning_min"] if truck.yard_loading == "morning" else 0.0
    beside = right["cleaning_min"] - in_clock
    if truck.yard_loading == "evening":
        beside += case.first_fill_min
    worked = back - case.depart_min - right["lunch_min"] + beside
    unworked = max(0.0, 60 * truck.paid_hours_least - worked)
    right["unworked_min"], right["paid_min"] = unworked, worked + unworked
    right["yard_min"] = beside - right["cleaning_min"] + back - last.arrive_min
    right["yard_min"] += first.leave_min - reports
    if back < truck.shift_end_min:
        overtime = 0.0
    # Regular hours at regular pay, the hours after the shift's end at overtime pay.
    people_min = truck.crew * (
        regular - right["lunch_min"] + beside + unworked + overtime * settings.overtime_factor
    )
    right["cost"] = (
        people_min / 60 * truck.pay_per_hour
        + right["drive_miles"] * truck.cost_per_mile
        + truck.cost_per_day
    )
    return right


def _tolerance(name: str) -> float:
    if name.endswith("_min"):
        return MINUTE_TOLERANCE
    if name == "drive_miles":
        return MILE_TOLERANCE
    if name == "cost":
        return MONEY_TOLERANCE
    return GALLON_TOLERANCE


def _words(name: str) -> str:
    words = name.replace("_min", " minutes").replace("drive_miles", "miles driven")
    return {"gal": "gallons sprayed", "cost": "cost"}.get(name, words.replace("_", " "))
