"""What it costs to leave an order out of a day: the one place where deadlines count (rule 31)."""

from __future__ import annotations

from datetime import date, timedelta

from planner.day.life import bars
from planner.day.orders import Order
from planner.day.places import Property
from planner.day.settings import Settings

LEAST = 0.2
"""Share of its price that an order keeps however many days are left: many times what serving one
costs, so that nothing that fits is put off."""
A_DAY_LATER = 0.25
"""What each working day left takes of the rest. Two orders with one day left weigh less than one on
its last day."""
A_DAY_OVERDUE = 0.2
"""Added for every day past the last one: after eight days an order that may wait (priority 3) goes
before an ordinary one (priority 2) on its last day, at the default prices."""
OVERDUE = 1.0 - LEAST
"""What being done past the last day counts for, besides the days: all that nearing that day has put
on the price. The rest is what being done at all is worth."""
FAR = 20
"""Days left are counted no further."""


def leaving_out_price(order: Order, home: Property, settings: Settings, when: date) -> float:
    """Price of leaving an order out on that day, in the settings' currency: what it brings and what
    its priority adds, times its urgency."""
    return worth(order, settings) * urgency(days_left(order, home, settings, when))


def worth(order: Order, settings: Settings) -> float:
    """The price on its last day. Priority outweighs revenue at the default prices, and an order of
    unknown revenue stands beside the others; an office that wants money to rule lowers
    unserved_price_1 to 3."""
    return (order.revenue or 0.0) + settings.unserved_price(order.priority) * order.share


def urgency(left: int) -> float:
    """Factor of an order's price by its days_left(): 1 on the last day, below 1 before, above 1
    after it."""
    if left >= 0:
        return LEAST + (1.0 - LEAST) * A_DAY_LATER**left
    return 1.0 - A_DAY_OVERDUE * left


def days_left(order: Order, home: Property, settings: Settings, when: date) -> int:
    """Days after `when`, up to its last one, on which an order could still be done; 0 on its last
    day, below 0 the calendar days that it is overdue."""
    if when > order.due_to:
        return (order.due_to - when).days
    left, day = 0, max(when + timedelta(days=1), order.due_from)
    while day <= order.due_to and left < FAR:
        left += can_be_done(order, home, settings, day)
        day += timedelta(days=1)
    return left


def can_be_done(order: Order, home: Property, settings: Settings, day: date) -> bool:
    """Whether the office works on that day and the customer may be served on it."""
    return is_working_day(settings, day) and not any(bars(order, home, {}, day))


def is_working_day(settings: Settings, day: date) -> bool:
    """Whether crews work on that day."""
    return day.weekday() in settings.working_days and not any(
        day in span for span in settings.holidays
    )
