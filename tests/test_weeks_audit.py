"""A good calendar, spoiled in every way that its audit knows: each is found, and each sentence that
the audit can say is said. What is wrong with one stands in its own figures beside the tables,
whatever made it.
"""

from __future__ import annotations

import ast
import functools
import inspect
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from planner.day.clock import DateSpan
from planner.day.day import Day
from planner.day.orders import Status
from planner.weeks import audit, audit_rows
from planner.weeks.audit import calendar_faults
from planner.weeks.lay import Horizon
from planner.weeks.model import Calendar
from tests.test_weeks import MONDAY, an_order, horizon, laid, office, with_orders

__all__ = ["horizon", "office"]

TUESDAY = "2027-05-04"
BEFORE, NEXT = MONDAY - timedelta(days=1), MONDAY + timedelta(days=1)
NEVER = MONDAY + timedelta(days=30)

Spoiled = tuple[Calendar, Day]
Spoil = Callable[[Calendar, Day], Spoiled]


def calendar(**more: Any) -> Spoil:
    return lambda made, day: (replace(made, **more), day)


def share(**more: Any) -> Spoil:
    """Its first truck-day with these fields."""
    return lambda made, day: (
        replace(made, shares=(replace(made.shares[0], **more), *made.shares[1:])),
        day,
    )


def row(**more: Any) -> Spoil:
    """The first order of its first truck-day."""

    def spoil(made: Calendar, day: Day) -> Spoiled:
        first, *others = made.shares[0].orders
        return share(orders=(replace(first, **more), *others))(made, day)

    return spoil


def waits(**more: Any) -> Spoil:
    """The first order without a day."""
    return lambda made, day: (
        replace(made, waiting=(replace(made.waiting[0], **more), *made.waiting[1:])),
        day,
    )


def tables(name: str, **more: Any) -> Spoil:
    """The tables: settings, or the row of its first truck, or of the first order's order,
    property."""

    def spoil(made: Calendar, day: Day) -> Spoiled:
        book, first = day.workbook, made.shares[0]
        if name == "settings":
            return made, replace(
                day, workbook=replace(book, settings=replace(book.settings, **more))
            )
        key = {
            "trucks": first.truck_id,
            "orders": first.orders[0].order_id,
            "properties": first.orders[0].property_id,
        }[name]
        rows = getattr(book, name)
        rows = {**rows, key: replace(rows[key], **more)}
        return made, replace(day, workbook=replace(book, **{name: rows}))

    return spoil


def both(*spoils: Spoil) -> Spoil:
    """One after another."""

    def spoil(made: Calendar, day: Day) -> Spoiled:
        return functools.reduce(lambda at, one: one(*at), spoils, (made, day))

    return spoil


def of_first(make: Callable[[Any], Spoil]) -> Spoil:
    """One that looks at the first truck-day before it says what is wrong."""
    return lambda made, day: make(made.shares[0])(made, day)


def holding(made: Calendar, day: Day) -> Spoiled:
    """Its first truck holds 20 gal of another mix in a tank that is loaded."""
    one = made.shares[0]
    at = next(place for place, mix_id in enumerate(one.loading) if mix_id)
    parts = list(day.workbook.trucks[one.truck_id].compartments)
    parts[at] = replace(parts[at], last_mix="other", leftover_gal=20.0)
    return tables("trucks", compartments=tuple(parts))(made, day)


SPOILED: dict[str, Spoil] = {
    # Each order once, with a reason where it has no day.
    "is told twice": of_first(lambda one: share(orders=(*one.orders, one.orders[0]))),
    "has neither a day nor a reason": of_first(lambda one: share(orders=one.orders[1:])),
    "is not open": tables("orders", last_day=BEFORE),
    "waits without a reason": waits(reason=""),
    # Truck-days.
    "on 2027-05-03 is told twice": lambda made, day: (
        replace(made, shares=(*made.shares, made.shares[0])),
        day,
    ),
    "is not in service": share(truck_id="T9"),
    "goes out though it stays home": of_first(
        lambda one: calendar(out=(f"{one.truck_id}@{one.date}",))
    ),
    "goes out on a day taken as lost": of_first(lambda one: calendar(wet=(one.date,))),
    "is no day of the calendar": share(date="2027-05-12"),
    "must stay in the yard: out of service": tables("trucks", out_on=(DateSpan(MONDAY, NEVER),)),
    "must stay in the yard: inspection": tables("trucks", inspection_until=BEFORE),
    "is no working day": tables("settings", working_days=(6,)),
    "goes out on a closed day": of_first(lambda one: calendar(closed={one.date: "?"})),
    # What a truck takes along.
    "is for other trucks": tables("orders", only_trucks=frozenset({"T9"})),
    "must not come with it": of_first(
        lambda one: tables("orders", never_trucks=frozenset({one.truck_id}))
    ),
    "is not on board": of_first(lambda one: share(loading=(None,) * len(one.loading))),
    "gal, not 1.00": row(gal=1.0),
    "do not add up": share(gal_by_mix={}),
    "compartments, not": share(loading=()),
    "there is no mix NONE": of_first(lambda one: share(loading=("NONE", *one.loading[1:]))),
    "holds 20 gal of other and cannot take": holding,
    "refills, not 0": of_first(
        lambda one: share(gal_by_mix={name: 1e4 for name in one.gal_by_mix})
    ),
    "no hose with": tables("properties", hose_run_ft=9_999.0),
    # Lateness.
    "days late, not": row(overdue_days=9),
    "counts for 0.00 only": both(
        tables("orders", due_to=MONDAY - timedelta(days=3)),
        row(overdue_days=3, due_to=str(MONDAY - timedelta(days=3)), late_cost=0.0),
    ),
    "being late brings nothing": row(late_cost=-1.0),
    "lateness counts for": calendar(late_cost=1e6),
    # Days.
    "is not due on": tables("orders", due_from=NEVER, due_to=NEVER),
    "must be held on": tables("settings", business_license_until=BEFORE),
    "its days are not the working days": calendar(days=("2027-05-03", "2027-05-05")),
    "their order": calendar(days=("2027-05-03", TUESDAY, TUESDAY, "2027-05-05")),
    "closed and not told so": tables("settings", holidays=(DateSpan(NEXT, NEXT),)),
    "told as closed": calendar(closed={"2027-05-09": "a Sunday"}),
    "the chances of rain are of other days": calendar(rain_by_day={TUESDAY: 10.0}),
    "a chance of rain is none": lambda made, day: (
        replace(made, rain_by_day=dict.fromkeys(made.days, 120.0)),
        day,
    ),
    # Clock and money.
    "longer than the shift": share(paid_min=2_000.0),
    "spraying and setting up take": share(paid_min=1.0),
    "its shift has": share(shift_min=1.0),
    "its overtime is more than": share(paid_min=590.0, overtime_min=0.0),
    "pay, miles and the truck cost": share(cost=1.0),
    "pay, miles and the truck cost ": share(miles=-1.0),
    "the cost of the shares is": calendar(cost=1.0),
    "the miles of the shares is": calendar(miles=1.0),
    "its way is .* miles, not": share(miles=0.5),
    "miles at least, not": share(refills=1, miles=0.1),
    # What was copied and told.
    "the trucks in service are": calendar(trucks=("T9",)),
    "its property is": row(property_id="P-9"),
    "its mix is": row(mix_id="edges"),
    "its first due day is": row(due_from="2027-05-02"),
    "its last due day is": row(due_to="2027-05-09"),
    "its last due day is ": waits(due_to="2027-05-01"),
    "its customer was told": row(told_other=TUESDAY),
    "its customer was told ": row(told=True),
    "days to spare, not": row(spare_days=9),
    "is no later day of the calendar": row(next_day="2027-05-01"),
    "a next day without room has no cost": row(
        next_day=TUESDAY, next_day_full=True, next_day_cost=1.0
    ),
    "it waits for no first day": waits(code="NOT-YET"),
    "it cannot be done in time later": waits(code="LATER"),
    "its last day in time is": waits(last_day="2027-05-01"),
    # The evening.
    "its evening is that of another truck": share(evening_mix=("spring-feed",)),
    "gal in the evening": of_first(lambda one: share(evening_gal=(9_999.0, *one.evening_gal[1:]))),
    "in the evening": of_first(lambda one: share(evening_mix=("weeds-2",) * len(one.evening_mix))),
    "for a hose to hold": of_first(
        lambda one: share(evening_hose=("NONE",) * len(one.evening_hose))
    ),
}
"""What the audit says (as a pattern) -> what is done to a good calendar, or to its tables."""


@pytest.fixture(scope="module")
def good(horizon: Horizon) -> tuple[Calendar, Horizon]:
    """Both trucks, an order that waits on every day."""
    names = ("1001", "1002", "1003", "1005", "1006")
    orders = [an_order(horizon, name, 0, 2, windows=None) for name in names]
    never = an_order(horizon, "1004", 0, 2, hold_until=NEVER, status=Status.ON_HOLD)
    some = with_orders(horizon, *orders, never, trucks=2)
    return laid(some), some


def faults(spoil: Spoil, good: tuple[Calendar, Horizon]) -> list[str]:
    made, at = good
    spoiled, day = spoil(made, at.day)
    return calendar_faults(spoiled, day, at.roads.travel_by_truck)


@pytest.mark.parametrize("said", SPOILED)
def test_each_spoiled_calendar_is_named(said: str, good: tuple[Calendar, Horizon]) -> None:
    found = faults(SPOILED[said], good)
    assert any(re.search(said.strip(), one) for one in found), found


def sentences() -> list[str]:
    """Patterns of all that the two modules of the audit can say."""
    found = []
    for module in (audit, audit_rows):
        for node in ast.walk(ast.parse(Path(inspect.getfile(module)).read_text())):
            if isinstance(node, ast.Yield) and isinstance(node.value, ast.JoinedStr | ast.Constant):
                parts = node.value.values if isinstance(node.value, ast.JoinedStr) else [node.value]
                texts = [
                    re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".*"
                    for part in parts
                ]
                found.append("".join(texts))
    return found


def test_no_sentence_of_the_audit_is_left_untried(good: tuple[Calendar, Horizon]) -> None:
    said = [one for spoil in SPOILED.values() for one in faults(spoil, good)]
    assert len(sentences()) > 40
    untried = [text for text in sentences() if not any(re.fullmatch(text, one) for one in said)]
    assert untried == []
