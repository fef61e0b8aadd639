"""Who must be told before an order by a rule or by the office's own note, by when, and which other
days the notice names."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache

from planner.compliance.duties import conditions_of, latest_moment, rules_for
from planner.compliance.people import barred_on, may_be_done_by
from planner.day.clock import clock_text
from planner.day.day import Day, DutyRule
from planner.day.life import can_be_done
from planner.day.orders import Order
from planner.rules.data import place_of

MOST_ALTERNATES = 7
"""So many other days of an order's span are named; a notice with more is no use to a neighbor."""

HomeOn = Callable[[date], frozenset[str]]
"""Trucks that stay in the yard on a day."""


@dataclass(frozen=True)
class PreNotice:
    """Someone who must be told before an order. by: the latest moment, None where the office's own
    note does not say. alternates: other days of the order's span, to be named in the notice.
    earliest: the first moment at which the order could be done on the day."""

    order_id: str
    property_id: str
    who: str
    by: datetime | None
    earliest: datetime
    alternates: tuple[date, ...]
    text: str
    section: str

    @property
    def line(self) -> str:
        """One line for the office: who, by when, for what, and the days to name."""
        if self.by is None:
            until = "before the visit"
        else:
            until = f"by {self.by:%a %b} {self.by.day}, {clock_text(_minutes(self.by))}"
        others = ""
        if self.alternates:
            others = "; name also " + ", ".join(f"{one:%a %b} {one.day}" for one in self.alternates)
        cited = f" ({self.section})" if self.section else ""
        return f"Order {self.order_id}: {self.who} {until}: {self.text}{others}{cited}"


def pre_notices(day: Day) -> tuple[PreNotice, ...]:
    """Who must be told by when about the day's orders, the most urgent first; an office's own note
    without a time stands at the end."""
    home_on = cache(lambda when: frozenset(barred_on(day, when)))
    found = [
        notice
        for order in day.orders.values()
        for notice in (
            *_state_notices(day, order, home_on),
            *_own_notice(day, order, home_on),
        )
    ]
    return tuple(sorted(found, key=lambda one: (one.by is None, one.by or one.earliest)))


def _state_notices(day: Day, order: Order, home_on: HomeOn) -> list[PreNotice]:
    return [
        PreNotice(
            order_id=order.order_id,
            property_id=order.property_id,
            who=rule.who,
            by=latest_moment(rule, _earliest(day, order)),
            earliest=_earliest(day, order),
            alternates=_alternates(day, order, home_on),
            text=_notice_text(rule, day.workbook.properties[order.property_id].county),
            section=f"{place_of(rule)}, {rule.origin.cited}",
        )
        for rule in rules_for(day, order)
        if rule.kind == "notice"
    ]


def _notice_text(rule: DutyRule, county: str) -> str:
    conditions = conditions_of(rule, county)
    return f"{rule.words} if {' and '.join(conditions)}" if conditions else rule.words


def _own_notice(day: Day, order: Order, home_on: HomeOn) -> list[PreNotice]:
    note = day.workbook.properties[order.property_id].notice.strip()
    if not note:
        return []
    return [
        PreNotice(
            order_id=order.order_id,
            property_id=order.property_id,
            who="as the property's note says",
            by=None,
            earliest=_earliest(day, order),
            alternates=_alternates(day, order, home_on),
            text=note,
            section="",
        )
    ]


def _earliest(day: Day, order: Order) -> datetime:
    """When the order could be done at the soonest: its first window, or the first shift."""
    if order.windows:
        minute = min(window.open_min for window in order.windows)
    else:
        trucks = day.workbook.trucks.values()
        minute = min((truck.shift_start_min for truck in trucks), default=0.0)
    return datetime.combine(day.date, time()) + timedelta(minutes=minute)


def _alternates(day: Day, order: Order, home_on: HomeOn) -> tuple[date, ...]:
    """Other days of the order's span on which the office works and a truck may do it by its
    papers: nobody is to expect a crew on a Sunday, or one whose license is over."""
    book = day.workbook
    home, found = book.properties[order.property_id], list[date]()
    when = day.date + timedelta(days=1)
    while when <= order.due_to and len(found) < MOST_ALTERNATES:
        able = (name for name in book.trucks if order.allows(name) and name not in home_on(when))
        if can_be_done(order, home, book.settings, when) and (
            not book.trucks or any(may_be_done_by(book, order, name, when) for name in able)
        ):
            found.append(when)
        when += timedelta(days=1)
    return tuple(found)


def _minutes(moment: datetime) -> float:
    return moment.hour * 60.0 + moment.minute
