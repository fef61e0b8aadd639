"""The whole day: which tables it was made from, and every due order in it exactly once."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from planner.day.day import Day
from planner.day.orders import Order
from planner.plan.audit.case import Violation
from planner.plan.model import PLAN_VERSION, Plan

HAND_MADE = ", changed by hand"
"""Ends the engine's name of a plan that a person changed."""
ENGINES = {"search", "ortools", "nearest-fit", "by hand"}


def check_figures_are_numbers(plan: Plan) -> Iterator[Violation]:
    """No figure of the plan is infinite or 'not a number', which would slip through comparisons."""
    for place in _no_numbers(plan, "plan"):
        yield Violation("PLAN-FIGURE", None, None, f"{place} is no number")


def check_origin(plan: Plan, day: Day) -> Iterator[Violation]:
    """Version, date and tables are those of the day."""
    if plan.version != PLAN_VERSION:
        yield Violation(
            "PLAN-VERSION", None, None, f"version {plan.version}, should be {PLAN_VERSION}"
        )
    if plan.date != day.date.isoformat():
        yield Violation("PLAN-DATE", None, None, f"for {plan.date}, the day is {day.date}")
    if plan.workbook_sha256 != day.workbook.sha256:
        yield Violation(
            "PLAN-WORKBOOK",
            None,
            None,
            "the tables have changed since the plan was made (their checksum is "
            f"{day.workbook.sha256[:10]}, the plan's {plan.workbook_sha256[:10]})",
        )


def check_how_it_was_made(plan: Plan, roads: tuple[str, str] | None) -> Iterator[Violation]:
    """Engine, effort and seed are such as there are; roads and their warning are those that the day
    has. roads: description and warning of where the drive times come from, None = not known here.
    Which of the engines made it with which seed, no table tells."""
    if plan.engine.removesuffix(HAND_MADE) not in ENGINES:
        yield Violation("PLAN-MADE", None, None, f"there is no engine '{plan.engine}'")
    if not re.fullmatch(r"count \d+|seconds \d+(\.\d+)?(e[+-]?\d+)?", plan.effort):
        yield Violation("PLAN-MADE", None, None, f"'{plan.effort}' is no effort")
    if plan.seed < 0:
        yield Violation("PLAN-MADE", None, None, f"a seed of {plan.seed}")
    said = (("roads", plan.roads), ("roads_warning", plan.roads_warning))
    for (name, found), right in zip(said, roads or (), strict=False):
        if found != right:
            message = f"{name} is '{found}'; the drive times are of '{right}'"
            yield Violation("PLAN-MADE", None, None, message)


def check_trucks(plan: Plan, day: Day) -> Iterator[Violation]:
    """Every truck of the plan is in service and planned once."""
    counts = Counter(truck.truck_id for truck in plan.trucks)
    for truck_id, count in counts.items():
        if truck_id not in day.workbook.trucks:
            yield Violation("ID-TRUCK", truck_id, None, "not among the trucks in service")
        if count > 1:
            yield Violation("TRUCK-TWICE", truck_id, None, f"planned {count} times")


def check_every_order_once(plan: Plan, day: Day) -> Iterator[Violation]:
    """Each order due is done, held or unserved, exactly once; no other order is in the plan."""
    places: dict[str, list[str]] = {}
    for truck in plan.trucks:
        for stop in truck.stops:
            for work in stop.orders:
                places.setdefault(work.order_id, []).append(f"done by truck {truck.truck_id}")
    for what, rows in (("held", plan.held), ("unserved", plan.unserved)):
        for row in rows:
            places.setdefault(row.order_id, []).append(what)
            if row.order_id not in day.orders:
                yield Violation(
                    "ID-ORDER", None, None, f"order {row.order_id} ({what}) is not due on this day"
                )
            if not row.reason.strip() or not row.code.strip():
                yield Violation(
                    "REASON-MISSING", None, None, f"order {row.order_id} is {what} without a reason"
                )
    for order_id in day.orders:
        found = places.get(order_id, [])
        if not found:
            yield Violation(
                "ORDER-MISSING", None, None, f"order {order_id} is due and not in the plan"
            )
    for order_id, found in places.items():
        if len(found) > 1:
            yield Violation("ORDER-TWICE", None, None, f"order {order_id} is {' and '.join(found)}")


def check_parts(plan: Plan, day: Day) -> Iterator[Violation]:
    """Parts of an order are all planned or none, and add up to it (rule 39). A plan that is made
    again may find some of them done."""
    out = {row.order_id for row in (*plan.held, *plan.unserved)}
    parts: dict[str, list[Order]] = {}
    for order in day.orders.values():
        if order.part_of:
            parts.setdefault(order.part_of, []).append(order)
    for name, some in parts.items():
        missing = [one.order_id for one in some if one.order_id in out]
        if missing and len(missing) < len(some) and plan.again is None:
            words = f"order {name} is done in part: {', '.join(missing)} left out"
            yield Violation("PARTS", None, None, words)
        numbers = {f"{name} part {number} of {len(some)}" for number in range(1, len(some) + 1)}
        whole = abs(sum(one.share for one in some) - 1.0) < 1e-6
        if numbers != {one.order_id for one in some} or not whole:
            words = f"the parts of order {name} are not the whole of it"
            yield Violation("PARTS", None, None, words)


def check_pins(plan: Plan) -> Iterator[Violation]:
    """Orders that are pinned to their truck are done by one, and each pin stands once."""
    for order_id, count in Counter(plan.pinned).items():
        if count > 1:
            yield Violation("PIN-UNKNOWN", None, None, f"order {order_id} is pinned {count} times")
    done = {work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders}
    for order_id in plan.pinned:
        if order_id not in done:
            message = f"order {order_id} is pinned to its truck, and no truck does it"
            yield Violation("PIN-UNKNOWN", None, None, message)


def _no_numbers(value: object, place: str) -> Iterator[str]:
    if isinstance(value, float):
        if not math.isfinite(value):
            yield place
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from _no_numbers(getattr(value, field.name), f"{place}.{field.name}")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _no_numbers(item, f"{place}.{key}")
    elif isinstance(value, tuple):
        for number, item in enumerate(value):
            yield from _no_numbers(item, f"{place}[{number}]")
