"""The life of an order: on which days it is due, what keeps it out of one (rules 29 and 30), and
what it costs to leave it out: the one place where deadlines count (rule 31)."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from planner.day.clock import WEEKDAYS
from planner.day.fleet import Settings
from planner.day.orders import Order, Status
from planner.day.places import Property

LONGEST_SEARCH_DAYS: Final = 400
"""A next day that lies farther off is none that an office plans with."""

SIDE_BY_SIDE_SLACK: Final = 1.005
"""Orders that fit beside each other on the lawn are parts of one application; areas are measured to
half a percent at best (common practice, no source)."""


class OrderState(StrEnum):
    """Where an order that is not done stands on a day."""

    DUE = "due"
    LATER = "due later"
    NOT_TODAY = "not today"
    ON_HOLD = "on hold"
    GIVEN_UP = "given up"
    CANCELLED = "cancelled"


@dataclass(frozen=True)
class OrderStanding:
    """An order's state on a day. code, reason: of one that is kept out of it or given up; next_day:
    the first day on which nothing keeps it out, None = nobody can tell."""

    state: OrderState
    code: str = ""
    reason: str = ""
    next_day: date | None = None

    @property
    def next_text(self) -> str:
        """next_day as ISO text, '' for None."""
        return "" if self.next_day is None else self.next_day.isoformat()


DUE: Final = OrderStanding(OrderState.DUE)
LATER: Final = OrderStanding(OrderState.LATER)


def standings(
    orders: Mapping[str, Order], homes: Mapping[str, Property], when: date
) -> dict[str, OrderStanding]:
    """Where each order stands on a day. orders: those of the table that are not done."""
    found = {name: _alone(order, homes, orders, when) for name, order in orders.items()}
    by_lawn: dict[tuple[str, str], list[Order]] = defaultdict(list)
    for name, order in orders.items():
        if found[name].state is OrderState.DUE:
            by_lawn[order.property_id, order.mix_id].append(order)
    for (place, _), rivals in by_lawn.items():
        room_ft2 = homes[place].lawn_ft2 * SIDE_BY_SIDE_SLACK
        for order in rivals:
            for first in rivals:
                both_ft2 = first.area_ft2 + order.area_ft2
                if first.due_to < order.due_from and both_ft2 > room_ft2:
                    reason = (
                        f"order {first.whole_id} of the same mix there is overdue and comes first; "
                        "cancel one of the two if the lawn needs only one"
                    )
                    found[order.order_id] = OrderStanding(OrderState.NOT_TODAY, "SAME-MIX", reason)
                    break
    return found


def overdue_days(order: Order, when: date) -> int:
    """Calendar days since the order's last due day; 0 = it is not overdue."""
    return max(0, (when - order.due_to).days)


def overdue_text(order: Order, days: int) -> str:
    """'overdue by 3 days (due by Mon 2027-04-12), given up after Fri 2027-04-16'."""
    text = f"overdue by {days} day{'' if days == 1 else 's'} (due by {day_text(order.due_to)})"
    return text + (f", given up after {day_text(order.last_day)}" if order.last_day else "")


def ahead_text(due_from: date) -> str:
    """'taken ahead (due from Fri 2027-04-16)'."""
    return f"taken ahead (due from {day_text(due_from)})"


def kept_out_text(order: Order, reason: str, next_day: str, when: date) -> str:
    """Why an order is not for the day, and from when on (ISO text, '' = not known) it may be."""
    days = overdue_days(order, when)
    late = overdue_text(order, days) if days else ""
    # With its weekday: the first day that nothing bars may be a Saturday (rule 30).
    following = next_day and f"next day {day_text(date.fromisoformat(next_day))}"
    return "; ".join(filter(None, (reason, late, following)))


@dataclass(frozen=True)
class NoRecord:
    """Orders of an earlier day that are open because nothing was recorded of them. day: on which
    they were to be done; of: how many its plan did, 0 = no plan is known."""

    day: date
    orders: tuple[str, ...]
    of: int = 0

    def text(self, when: date) -> str:
        """In words, as seen from a later day."""
        count, near = len(self.orders), (when - self.day).days < len(WEEKDAYS)
        if not self.of:
            # Orders that came in late were perhaps never sprayed, and records want a plan.
            due = f"due by {day_text(self.day)} and in no plan"
            if count == 1:
                return f"1 order was {due}: cancel it if it was done, or it counts as open"
            return f"{count} orders were {due}: cancel those that were done; the others are open"
        name = f"{self.day:%A}" if near else day_text(self.day)
        what = (
            f"{count} of {name}'s {self.of} orders"
            if self.of > count
            else f"{name}'s " + ("order" if count == 1 else f"{count} orders")
        )
        one = count == 1
        return (
            f"{what} {'has' if one else 'have'} no record: record {'it' if one else 'them'}, or "
            f"{'it counts' if one else 'they count'} as open"
        )


def no_record_texts(rows: Sequence[NoRecord], when: date) -> list[str]:
    """The days in words, as seen from a later day: those that had a plan and those without are one
    sentence each."""
    return [text for text, _ in no_record_lines(rows, when)]


def no_record_lines(rows: Sequence[NoRecord], when: date) -> list[tuple[str, tuple[NoRecord, ...]]]:
    """The same with the days that each sentence is about."""
    found = []
    for kind in (tuple(row for row in rows if row.of), tuple(row for row in rows if not row.of)):
        if len(kind) < 2:
            found += [(row.text(when), kind) for row in kind]
            continue
        count, of = sum(len(row.orders) for row in kind), sum(row.of for row in kind)
        span = f"from {day_text(kind[0].day)} to {day_text(kind[-1].day)} ({len(kind)} days)"
        if of:
            orders = f"{count} of {of} orders" if of > count else f"{count} orders"
            text = f"{orders} planned {span} have no record: record them, or they count as open"
        else:
            text = (
                f"{count} orders were due {span} and in no plan: cancel those that were done; "
                "the others are open"
            )
        found.append((text, kind))
    return found


def day_text(day: date) -> str:
    """'Tue 2027-04-20'."""
    return f"{WEEKDAYS[day.weekday()]} {day.isoformat()}"


def brief_day(iso_day: str) -> str:
    """'Tue Apr 20', for pages; the year is told elsewhere."""
    day = date.fromisoformat(iso_day)
    return f"{day:%a %b} {day.day}"


def _alone(
    order: Order, homes: Mapping[str, Property], orders: Mapping[str, Order], when: date
) -> OrderStanding:
    """Where the order stands, whatever else is due on its lawn."""
    home = homes[order.property_id]
    if order.status is Status.CANCELLED:
        return OrderStanding(OrderState.CANCELLED, reason=order.status_reason)
    if order.last_day is not None and when > order.last_day:
        return OrderStanding(OrderState.GIVEN_UP, "LAST-DAY", _given_up(order, home, orders))
    if when < order.due_from and order.status is not Status.ON_HOLD:
        return LATER
    kept = list(bars(order, home, orders, when))
    on_hold = any(code == "ON-HOLD" for code, _ in kept)
    if when < order.due_from and not on_hold:
        return OrderStanding(OrderState.LATER)
    if not kept:
        return DUE
    standing = OrderStanding(
        OrderState.ON_HOLD if on_hold else OrderState.NOT_TODAY,
        kept[0][0],
        "; ".join(reason for _, reason in kept),
    )
    return replace(standing, next_day=_next_day(order, home, orders, when))


def bars(
    order: Order, home: Property, orders: Mapping[str, Order], when: date
) -> Iterator[tuple[str, str]]:
    """(code, reason) of all that keeps an order out of a day, apart from its own days. orders: the
    open ones of the table."""
    if order.status is Status.ON_HOLD and _holds(order.hold_until, when):
        yield "ON-HOLD", f"on hold{_until(order.hold_until, order.status_reason)}"
    if (home.hold_until or home.hold_reason) and _holds(home.hold_until, when):
        yield "ACCOUNT", f"the property is on hold{_until(home.hold_until, home.hold_reason)}"
    if home.serve_on is not None and when.weekday() not in home.serve_on:
        days = ", ".join(WEEKDAYS[day] for day in home.serve_on)
        yield "WEEKDAY", f"the customer is served on {days} only"
    for span in home.skip_dates:
        if when in span:
            ends = [day_text(day) for day in dict.fromkeys((span.first, span.last))]
            yield (
                "SKIP-DATE",
                f"nobody may come {'on' if len(ends) == 1 else 'from'} " + (" to ".join(ends)),
            )
    first = orders.get(order.repeats or "")
    if first is not None:
        yield "REPEAT", f"it does order {first.order_id} again, which is not done yet"


def _holds(until: date | None, when: date) -> bool:
    return until is None or when < until


def _until(until: date | None, reason: str) -> str:
    return (f" until {day_text(until)}" if until else "") + (f": {reason}" if reason else "")


def _next_day(order: Order, home: Property, orders: Mapping[str, Order], when: date) -> date | None:
    last = order.last_day or date.max
    for step in range(1, LONGEST_SEARCH_DAYS):
        day = max(when, order.due_from - timedelta(days=1)) + timedelta(days=step)
        if day > last:
            return None
        if next(bars(order, home, orders, day), None) is None:
            return day
    return None


def _given_up(order: Order, home: Property, orders: Mapping[str, Order]) -> str:
    assert order.last_day is not None
    due = " to ".join(dict.fromkeys((day_text(order.due_from), day_text(order.due_to))))
    text = f"its last sensible day was {day_text(order.last_day)}; it was due {due}"
    kept_out = [reason for _, reason in bars(order, home, orders, order.last_day)]
    return "; ".join([text, *kept_out])


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
