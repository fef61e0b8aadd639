"""'If Wednesday is wet': the calendar with a day or a truck lost, beside the one that stands."""

from dataclasses import dataclass

from planner.weeks.in_whole import in_whole
from planner.weeks.model import Calendar, WaitingOrder


@dataclass(frozen=True)
class MovedOrder:
    """An order that changes its day. before, after: ISO dates, before '' = it had none; told: its
    customer was told the day before; overdue_days: past its span on the new day."""

    order_id: str
    property_id: str
    before: str
    after: str
    told: bool
    overdue_days: int


@dataclass(frozen=True)
class LostDay:
    """What a lost day or truck comes to. wet, out: days and truck-days, as of Calendar, without
    those that were lost before; moved: in the order of the new days; taken_in: orders that had no
    day and have one now; without_day: orders that lose their day; cost: money more (below 0: less)
    of all orders that have a day; later_cost: about what it costs more to do what is put off after
    the calendar's last day; late_cost: money more that lateness counts for by priority, orders
    without a day included; late: further orders past their span; other_truck: (day, order, truck)
    of orders of a truck that stays home then, which keep their day."""

    wet: tuple[str, ...]
    out: tuple[str, ...]
    moved: tuple[MovedOrder, ...]
    taken_in: tuple[MovedOrder, ...]
    without_day: tuple[WaitingOrder, ...]
    cost: float
    later_cost: float
    late_cost: float
    miles: float
    late: int
    other_truck: tuple[tuple[str, str, str], ...] = ()


def lost_day(before: Calendar, after: Calendar) -> LostDay:
    """The difference of two calendars of the same orders, those in parts as one."""
    before, after = in_whole(before, {}), in_whole(after, {})
    was, told = before.day_of, before.told
    moved = [
        MovedOrder(
            row.order_id,
            row.property_id,
            was.get(row.order_id, ""),
            share.date,
            row.order_id in was and told.get(row.order_id) == was[row.order_id],
            row.overdue_days,
        )
        for share in after.shares
        for row in share.orders
        if was.get(row.order_id) != share.date
    ]
    moved.sort(key=lambda one: (one.after, one.before, one.order_id))
    stays = {
        (share.date, row.order_id): share.truck_id
        for share in before.shares
        if f"{share.truck_id}@{share.date}" in after.out
        for row in share.orders
    }
    wet = tuple(day for day in after.wet if day not in before.wet)
    out = tuple(name for name in after.out if name not in before.out)
    if not wet and not out:  # Asked of what is lost already.
        wet, out = after.wet, after.out
    return LostDay(
        wet=wet,
        out=out,
        moved=tuple(one for one in moved if one.before),
        taken_in=tuple(one for one in moved if not one.before),
        without_day=tuple(row for row in after.waiting if row.order_id in was),
        cost=after.cost - before.cost,
        later_cost=sum(row.later_cost for row in after.waiting)
        - sum(row.later_cost for row in before.waiting),
        late_cost=after.late_cost - before.late_cost,
        miles=after.miles - before.miles,
        late=_late(after) - _late(before),
        other_truck=tuple(
            (share.date, row.order_id, share.truck_id)
            for share in after.shares
            for row in share.orders
            if (share.date, row.order_id) in stays
            and share.truck_id != stays[share.date, row.order_id]
        ),
    )


def _late(calendar: Calendar) -> int:
    return sum(row.overdue_days > 0 for share in calendar.shares for row in share.orders)
