"""On which days of the calendar each open order may be done, looked at alone, or why on none."""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from planner.compliance.holds import holds, order_windows
from planner.compliance.weather import Forecast
from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Settings
from planner.day.life import bars, day_text, is_working_day
from planner.day.orders import Order

LONGEST_DAYS = 400
"""Calendar days within which the working days of a calendar must lie."""

Openings = Mapping[int, tuple[Window, ...] | None]
"""Row of the day -> when the order may be done on it, None = any time."""


@dataclass(frozen=True)
class OpenDays:
    """days: the calendar's working days. of: order -> its days. shut: order -> (code of
    WAITING_CODES, reason) of each open order without one. kept: ISO days on which no order may be
    done -> why."""

    days: tuple[date, ...]
    of: Mapping[str, Openings]
    shut: Mapping[str, tuple[str, str]]
    kept: dict[str, str]


def working_days(
    settings: Settings, first: date, count: int
) -> tuple[tuple[date, ...], dict[str, str]]:
    """So many working days from `first` on, and the days between them on which nobody works though
    crews work on that weekday -> why."""
    days: list[date] = []
    closed: dict[str, str] = {}
    for step in range(LONGEST_DAYS):
        day = first + timedelta(days=step)
        if is_working_day(settings, day):
            days.append(day)
        elif day.weekday() in settings.working_days:
            closed[day.isoformat()] = "closed (settings holidays)"
        if len(days) == count:
            break
    last = days[-1].isoformat() if days else ""
    return tuple(days), {day: why for day, why in closed.items() if day < last}


def open_days(
    day: Day, days: Sequence[date], wet: Collection[date], reached: Collection[str]
) -> OpenDays:
    """The days of each open order. day: the first of them, with the records before it laid over the
    tables; wet: days taken as lost; reached: properties that the roads reach."""
    book = day.workbook
    found: dict[str, dict[int, tuple[Window, ...] | None]] = defaultdict(dict)
    why: dict[str, tuple[str, str]] = {}
    kept_days: dict[str, str] = {}
    for row, when in enumerate(days):
        wanted, reasons = [], Counter[str]()
        for name, order in book.orders.items():
            if not order.is_open(days[0]) or order.due_from > when:
                continue
            if order.last_day is not None and when > order.last_day:
                continue
            if order.property_id not in reached:
                why[name] = ("NO-TRUCK", "the roads do not reach its property")
                continue
            kept = [
                reason for _, reason in bars(order, book.properties[order.property_id], {}, when)
            ]
            if kept:
                why.setdefault(name, ("KEPT-OUT", "; ".join(kept)))
                reasons[kept[0]] += 1
            elif when in wet:
                why[name] = ("NO-TRUCK", f"{day_text(when)} is taken as lost to rain")
            else:
                wanted.append(order)
        forecast = Forecast([hour for hour in book.weather if hour.day >= when])
        for some in _one_a_property(wanted):
            alone = Day(when, replace(book, orders=some), some)
            held = {hold.order_id: hold.reason for hold in holds(alone, (), forecast)}
            for name, order in some.items():
                if name in held:
                    why[name] = ("HELD", held[name])
                    reasons[held[name]] += 1
                else:
                    found[name][row] = order_windows(alone, order, forecast)
        if when not in wet and not any(row in rows for rows in found.values()):
            kept_days[str(when)] = _most(reasons)
    shut = {}
    for name, order in book.orders.items():
        if name not in found and order.is_open(days[0]):
            shut[name] = why.get(name) or _no_day(order, days[-1])
    return OpenDays(tuple(days), dict(found), shut, kept_days)


def _no_day(order: Order, last: date) -> tuple[str, str]:
    """Why an order has none of the calendar's days."""
    if order.due_from > last:
        return "NOT-YET", f"its first day is {day_text(order.due_from)}"
    until = day_text(order.last_day or order.due_to)
    return "NO-TRUCK", f"nobody works from {day_text(order.due_from)} to {until}, its last day"


def _most(reasons: Counter[str]) -> str:
    if not reasons:
        return "no order is due"
    (reason, number), *_ = reasons.most_common(1)
    return f"nothing may be done; {number} of {reasons.total()} due orders: {reason}"


def _one_a_property(orders: Sequence[Order]) -> list[dict[str, Order]]:
    """The orders in groups in which no property stands twice: each is looked at alone."""
    groups: list[dict[str, Order]] = []
    seen: dict[str, int] = defaultdict(int)
    for order in orders:
        rank = seen[order.property_id]
        seen[order.property_id] += 1
        if rank == len(groups):
            groups.append({})
        groups[rank][order.order_id] = order
    return groups
