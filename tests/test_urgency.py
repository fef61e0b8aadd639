"""Deadlines count: days left and the price of leaving an order out (rule 31).

The shares and the price by priority are the office's and ours; there is no outside source. Dates
are of 2027: April 14 is a Wednesday.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.day.clock import DateSpan
from planner.day.life import days_left, leaving_out_price, urgency
from planner.day.orders import Status
from tests import days

WEDNESDAY = days.DAY
HOME = days.home("P1", 40.0, -83.0, 5000.0)
ORDER = days.order("O1", HOME, "WEED")
ANY_DAY = days.settings(working_days=tuple(range(7)))


def at(month: int, day: int) -> date:
    return date(2027, month, day)


def left(due_to: date, when: date = WEDNESDAY, **changes: object) -> int:
    settings = days.settings(
        **{k: v for k, v in changes.items() if k in ("working_days", "holidays")}
    )
    home = replace(
        HOME, **{k: v for k, v in changes.items() if k in ("serve_on", "skip_dates", "hold_reason")}
    )  # type: ignore[arg-type]
    held = {k: v for k, v in changes.items() if k in ("status", "hold_until", "due_from")}
    order = replace(ORDER, **{"due_from": at(4, 1), "due_to": due_to, **held})  # type: ignore[arg-type]
    return days_left(order, home, settings, when)


@pytest.mark.parametrize(
    ("due_to", "changes", "expected"),
    [
        (at(4, 14), {}, 0),
        (at(4, 15), {}, 1),
        (at(4, 19), {}, 3),  # Thursday, Friday, Monday
        (at(4, 17), {"working_days": (0, 1, 2, 3, 4, 5)}, 3),
        (at(4, 19), {"holidays": (DateSpan(at(4, 16), at(4, 16)),)}, 2),
        (at(4, 21), {"serve_on": (0, 2)}, 2),  # Monday and Wednesday of the next week
        (at(4, 21), {"serve_on": (5, 6)}, 0),  # only days on which nobody works: today at the last
        (at(4, 20), {"skip_dates": (DateSpan(at(4, 15), at(4, 18)),)}, 2),
        (at(4, 20), {"status": Status.ON_HOLD, "hold_until": at(4, 20)}, 1),
        # Taken in although nobody knows when its hold ends: today or who knows when.
        (at(4, 20), {"status": Status.ON_HOLD}, 0),
        (at(4, 20), {"hold_reason": "prepayment"}, 0),
        (at(4, 16), {"due_from": at(4, 16)}, 1),  # taken in before its first day
        (at(4, 13), {}, -1),
        (at(4, 10), {}, -4),
    ],
)  # fmt: skip
def test_days_left(due_to: date, changes: dict[str, object], expected: int) -> None:
    assert left(due_to, **changes) == expected


def test_the_last_working_day_before_a_weekend_is_the_last_day() -> None:
    assert left(at(4, 18), when=at(4, 16)) == 0
    assert left(at(4, 18), when=at(4, 17)) == 0


@given(st.integers(-400, 19))
def test_urgency_rises_to_the_last_day_and_beyond(days_before: int) -> None:
    assert urgency(days_before) > urgency(days_before + 1) > 0.2


def test_urgency_of_known_days() -> None:
    assert [urgency(n) for n in (0, 1, 2, 3)] == pytest.approx([1.0, 0.4, 0.25, 0.2125])
    assert [urgency(-n) for n in (1, 2, 10)] == pytest.approx([1.2, 1.4, 3.0])
    # Two orders with a day left go before one on its last day in no case.
    assert 2 * urgency(1) < urgency(0)


def price(when: date, settings: object = ANY_DAY, **changes: object) -> float:
    return leaving_out_price(replace(ORDER, **changes), HOME, settings, when)  # type: ignore[arg-type]


def test_an_order_of_one_day_keeps_its_price_by_priority_to_the_cent() -> None:
    assert [price(WEDNESDAY, priority=priority) for priority in (1, 2, 3)] == [
        3000.0,
        1200.0,
        500.0,
    ]


span = st.integers(0, 15)


@given(
    span, span, st.floats(0.0, 5000.0), st.floats(0.0, 5000.0), st.integers(1, 3), st.integers(1, 3)
)
def test_price_is_monotone(
    day: int, later: int, revenue: float, more: float, priority: int, lower: int
) -> None:
    """In days left, overdue ones included, in revenue and in priority; a revenue that is not known
    counts as none."""
    when, after = (WEDNESDAY + timedelta(days=n) for n in sorted((day, day + later)))
    due = {"due_to": WEDNESDAY + timedelta(days=7), "priority": priority}
    assert price(when, **due, revenue=revenue) <= price(after, **due, revenue=revenue)
    assert price(when, **due, revenue=None) <= price(when, **due, revenue=revenue)
    assert price(when, **due, revenue=revenue) <= price(when, **due, revenue=revenue + more)
    due["priority"] = max(priority, lower)
    best = due | {"priority": min(priority, lower)}
    assert price(when, **due, revenue=revenue) <= price(when, **best, revenue=revenue)


@given(st.integers(0, 60))
def test_an_overdue_order_costs_more_every_day(days_over: int) -> None:
    when = WEDNESDAY + timedelta(days=days_over)
    assert price(when, days.settings()) < price(when + timedelta(days=1), days.settings())
