"""The whole day: which tables it was made from, every due order in it exactly once, and which
orders are the day's, worked out again from the tables (rules 29, 30 and 32)."""

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import date, timedelta
from functools import cached_property

from planner.day.day import Day
from planner.day.orders import Order, Status
from planner.plan.audit.case import Violation
from planner.plan.model import PLAN_VERSION, Plan

HAND_MADE = ", changed by hand"
"""Ends the engine's name of a plan that a person changed."""
ENGINES = {"search", "ortools", "nearest-fit", "by hand"}


def check_figures_are_numbers(plan: Plan) -> Iterator[Violation]:
    """No figure of the plan is infinite or 'not a number', which would slip through comparisons."""
    for place in () if _all_numbers(plan) else _no_numbers(plan, "plan"):
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
    """Every truck of the plan is in service and planned once, and none goes out that the calendar
    keeps at home, unless the office said so (rule 32)."""
    for truck in plan.trucks:
        # One that is out already when a day is planned again is none that could stay.
        kept = truck.truck_id in day.kept_home and truck.truck_id not in plan.use_home
        if kept and truck.stops:
            message = f"goes out, and the calendar keeps it home on {day.date}"
            yield Violation("TRUCK-HOME", truck.truck_id, None, message)
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


def _all_numbers(value: object) -> bool:
    """Whether there is none; where is told by _no_numbers, which takes four times as long."""
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, str | int) or value is None:
        return True
    if isinstance(value, dict):
        return all(map(_all_numbers, value.values()))
    if isinstance(value, tuple):
        return all(map(_all_numbers, value))
    return not is_dataclass(value) or all(map(_all_numbers, vars(value).values()))


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


AREA_SLACK = 0.005
"""Of the lawn; areas are measured no better."""

FARTHEST = 399
"""Days ahead that a next day is looked for."""


class DueToday:
    """What the tables alone say of a day. due: its orders; aside: open orders that are kept out of
    it -> code; given_up; open_orders: all but cancelled ones."""

    def __init__(self, day: Day) -> None:
        self._day = day
        self._orders = day.workbook.orders
        self._homes = day.workbook.properties
        self.open_orders = {
            name for name, order in self._orders.items() if order.status is not Status.CANCELLED
        }
        self.due: set[str] = set()
        self.aside: dict[str, str] = {}
        self.given_up: set[str] = set()
        for name in self.open_orders:
            order = self._orders[name]
            why = self.why(order, day.date)
            if order.last_day is not None and order.last_day < day.date:
                self.given_up.add(name)
            elif why and (order.due_from <= day.date or "ON-HOLD" in why):
                self.aside[name] = why[0]
            elif order.due_from <= day.date:
                self.due.add(name)
        second = {name for name in self.due if self._comes_second(name)}
        self.aside |= dict.fromkeys(second, "SAME-MIX")
        self.due -= second

    def why(self, order: Order, when: date) -> list[str]:
        """Codes of all that keeps an open order out of a day, apart from its own due span."""
        home = self._homes[order.property_id]
        found = []
        if order.status is Status.ON_HOLD and not (order.hold_until and order.hold_until <= when):
            found.append("ON-HOLD")
        if home.hold_until is not None and when < home.hold_until:
            found.append("ACCOUNT")
        if home.hold_until is None and home.hold_reason:
            found.append("ACCOUNT")
        if home.serve_on is not None and when.isoweekday() - 1 not in home.serve_on:
            found.append("WEEKDAY")
        if [span for span in home.skip_dates if span.first <= when <= span.last]:
            found.append("SKIP-DATE")
        if order.repeats in self._orders:
            found.append("REPEAT")
        return found

    def next_day(self, order: Order) -> str:
        """The first later day on which nothing keeps the order out; '' without one."""
        first = max(self._day.date.toordinal() + 1, order.due_from.toordinal())
        last = first + FARTHEST
        if order.last_day is not None:
            last = min(last, order.last_day.toordinal() + 1)
        days = (date.fromordinal(number) for number in range(first, last))
        return next((day.isoformat() for day in days if not self.why(order, day)), "")

    def prices(self, order: Order) -> tuple[float, float]:
        """What leaving an order out is priced at on its last day, and on this day (rule 31)."""
        settings, today = self._day.workbook.settings, self._day.date
        by_priority = {
            1: settings.unserved_price_1,
            2: settings.unserved_price_2,
            3: settings.unserved_price_3,
        }
        worth = by_priority[order.priority] + (order.revenue or 0.0)
        overdue = (today - order.due_to).days
        if overdue > 0:
            return worth, worth + 0.2 * overdue * worth
        share, when = 1.0, max(today + timedelta(days=1), order.due_from)
        while when <= order.due_to and share > 1e-12:
            off = [span for span in settings.holidays if span.first <= when <= span.last]
            barred = [code for code in self.why(order, when) if code != "REPEAT"]
            if when.isoweekday() - 1 in settings.working_days and not off and not barred:
                share /= 4.0
            when += timedelta(days=1)
        return worth, worth / 5.0 + 0.8 * worth * share

    def not_ahead(self, name: str) -> str:
        """Why an order may not be done ahead of its first day, in words; '' = it may be."""
        order = self._orders.get(name)
        if order is None or name not in self.open_orders or name in self.given_up:
            return "it is not open"
        days = order.due_from.toordinal() - self._day.date.toordinal()
        if days <= 0:
            return "it is due today or before"
        why = self.why(order, self._day.date)
        if why:
            return f"it is kept out of the day ({why[0]})"
        settings = self._day.workbook.settings
        off = {
            day
            for day in (self._day.date + timedelta(days=n + 1) for n in range(days))
            if day.isoweekday() - 1 not in settings.working_days
            or [span for span in settings.holidays if span.first <= day <= span.last]
        }
        if days - len(off) > settings.work_ahead_days:
            return f"its first day is {days - len(off)} working days away"
        lawn_ft2 = self._homes[order.property_id].lawn_ft2
        for other in self._orders.values():
            if (
                (other.property_id, other.mix_id) == (order.property_id, order.mix_id)
                and other.order_id in self.open_orders - self.given_up
                and other.due_from < order.due_from
                and other.area_ft2 + order.area_ft2 - lawn_ft2 > AREA_SLACK * lawn_ft2
            ):
                return f"order {other.order_id} of its mix and lawn comes first"
        return ""

    def _comes_second(self, name: str) -> bool:
        """Whether a due order whose span had ended before this one's began puts the same mix on
        more than what this one leaves of the lawn."""
        mine = self._orders[name]
        lawn_ft2 = self._homes[mine.property_id].lawn_ft2
        for other in self._of_lawn.get((mine.property_id, mine.mix_id), ()):
            if other.due_to < mine.due_from:
                over_ft2 = other.area_ft2 + mine.area_ft2 - lawn_ft2
                if over_ft2 > AREA_SLACK * lawn_ft2:
                    return True
        return False

    @cached_property
    def _of_lawn(self) -> dict[tuple[str, str], list[Order]]:
        found: dict[tuple[str, str], list[Order]] = {}
        for name in self.due:
            order = self._orders[name]
            found.setdefault((order.property_id, order.mix_id), []).append(order)
        return found


def check_whose_day_it_is(plan: Plan, day: Day, tables: DueToday) -> Iterator[Violation]:
    """The plan's orders are those that are due; what is overdue, kept out and given up is said."""
    due, aside, given_up = tables.due, tables.aside, tables.given_up
    if plan.again is not None:
        # The office takes orders in and leaves orders out, whatever the tables say.
        added, skipped = set(plan.again.added), set(plan.again.skipped)
        due = (due | (added & tables.open_orders)) - skipped
        aside = {name: code for name, code in aside.items() if name not in added | skipped}
        given_up = given_up - added - skipped
    for name in plan.laid_later:
        if name not in tables.due:
            message = f"order {name} is laid on a later day, and it is not due"
            yield Violation("ORDER-NOT-DUE", None, None, message)
    due = due - set(plan.laid_later)
    for name in plan.ahead:
        reason = tables.not_ahead(name)
        if reason:
            yield Violation("AHEAD", None, None, f"order {name} is taken ahead, and {reason}")
    yield from _orders(plan, day, due | set(plan.ahead))
    yield from _overdue(plan, day, due)
    yield from _aside(plan, day, tables, aside)
    yield from _differ("GIVEN-UP", "given up", {row.order_id for row in plan.given_up}, given_up)
    yield from _said_twice(plan)
    yield from _reasons(plan)


def _orders(plan: Plan, day: Day, due: set[str]) -> Iterator[Violation]:
    planned = {
        work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders
    }
    planned |= {row.order_id for row in (*plan.held, *plan.unserved)}
    # One that the office left out for the day has a code of its own.
    skipped = {*plan.laid_later, *(plan.again.skipped if plan.again is not None else ())}
    for name in sorted(planned - due - skipped):
        if name in day.workbook.orders:
            message = f"order {name} is in the plan; by the tables it is not for this day"
            yield Violation("ORDER-NOT-DUE", None, None, message)
    for name in sorted(due - planned - day.orders.keys()):
        yield Violation("ORDER-MISSING", None, None, f"order {name} is due and not in the plan")


def _overdue(plan: Plan, day: Day, due: set[str]) -> Iterator[Violation]:
    said = {row.order_id: row.days for row in plan.overdue}
    orders = day.workbook.orders
    late = {name for name in due if orders[name].due_to < day.date}
    yield from _differ("OVERDUE", "overdue", set(said), late)
    for name in sorted(late & said.keys()):
        if orders[name].due_to + timedelta(days=said[name]) != day.date:
            message = f"the plan says order {name} is {said[name]} days overdue; its last due day "
            yield Violation("OVERDUE", None, None, message + f"was {orders[name].due_to}")


def _said_twice(plan: Plan) -> Iterator[Violation]:
    rows = (("OVERDUE", plan.overdue), ("NOT-TODAY", plan.not_today), ("GIVEN-UP", plan.given_up))
    for code, said in rows:
        for name, count in sorted(Counter(row.order_id for row in said).items()):
            if count > 1:
                yield Violation(code, None, None, f"order {name} is told {count} times")


def _reasons(plan: Plan) -> Iterator[Violation]:
    rows = [(row.order_id, row.code, row.reason) for row in plan.given_up]
    rows += [(row.order_id, row.code, row.reason) for row in plan.not_today]
    for name, code, reason in rows:
        if not code.strip() or not reason.strip():
            message = f"order {name} is not for this day, without a reason"
            yield Violation("REASON-MISSING", None, None, message)
    for row in plan.given_up:
        if row.code.strip() and row.code != "LAST-DAY":
            message = f"order {row.order_id} is given up for {row.code}; only LAST-DAY is a reason"
            yield Violation("GIVEN-UP", None, None, message)


def _aside(plan: Plan, day: Day, tables: DueToday, aside: dict[str, str]) -> Iterator[Violation]:
    said = {row.order_id: row for row in plan.not_today}
    yield from _differ("NOT-TODAY", "kept out of the day", set(said), set(aside))
    for name in sorted(said.keys() & aside.keys()):
        row, order = said[name], day.workbook.orders[name]
        right = "" if aside[name] == "SAME-MIX" else tables.next_day(order)
        if (row.code, row.next_day) != (aside[name], right):
            message = (
                f"order {name} is kept out for {row.code} until {row.next_day or 'some day'}; by "
                f"the tables it is {aside[name]}, until {right or 'some day'}"
            )
            yield Violation("NOT-TODAY", None, None, message)


def _differ(code: str, what: str, said: set[str], right: set[str]) -> Iterator[Violation]:
    for name in sorted(said - right):
        yield Violation(code, None, None, f"the plan says order {name} is {what}, and it is not")
    for name in sorted(right - said):
        yield Violation(code, None, None, f"order {name} is {what}, and the plan does not say so")
