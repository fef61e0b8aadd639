"""'If Wednesday is wet': the calendar with a day or a truck lost, beside the one that stands."""

from dataclasses import dataclass

from planner.weeks.model import Calendar, WaitingOrder


@dataclass(frozen=True)
class MovedOrder:
    """An order that changes its day. before, after: ISO dates; told: its customer was told the day
    before; overdue_days: past its span on the new day."""

    order_id: str
    property_id: str
    before: str
    after: str
    told: bool
    overdue_days: int


@dataclass(frozen=True)
class LostDay:
    """What a lost day or truck comes to. moved: in the order of the new days; without_day: orders
    that lose their day; cost: money more (below 0: less) for the same orders as far as they have a
    day; later_cost: about what it costs more to do what is put off after the calendar's last day;
    late_cost: money more that lateness counts for by priority, orders without a day included;
    late: further orders past their span."""

    moved: tuple[MovedOrder, ...]
    without_day: tuple[WaitingOrder, ...]
    cost: float
    later_cost: float
    late_cost: float
    miles: float
    late: int


def lost_day(before: Calendar, after: Calendar) -> LostDay:
    """The difference of two calendars of the same orders."""
    was, told = before.day_of, before.told
    moved = [
        MovedOrder(
            row.order_id,
            row.property_id,
            was[row.order_id],
            share.date,
            told.get(row.order_id) == was[row.order_id],
            row.overdue_days,
        )
        for share in after.shares
        for row in share.orders
        if row.order_id in was and was[row.order_id] != share.date
    ]
    return LostDay(
        moved=tuple(sorted(moved, key=lambda one: (one.after, one.before, one.order_id))),
        without_day=tuple(row for row in after.waiting if row.order_id in was),
        cost=after.cost - before.cost,
        later_cost=sum(row.later_cost for row in after.waiting)
        - sum(row.later_cost for row in before.waiting),
        late_cost=after.late_cost - before.late_cost,
        miles=after.miles - before.miles,
        late=_late(after) - _late(before),
    )


def _late(calendar: Calendar) -> int:
    return sum(row.overdue_days > 0 for share in calendar.shares for row in share.orders)
