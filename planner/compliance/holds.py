"""What keeps an order back before routing, and when the rest may be done (rules 16 and 17).

The labels' limits are in this module and `planner/compliance/label_limits.py`, the states' in
`planner/compliance/state_rules.py`.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from planner.compliance.applied import LawnCase
from planner.compliance.edges import edge_reasons
from planner.compliance.grass_rates import rate_reasons
from planner.compliance.ground import ground_reasons
from planner.compliance.label_limits import label_reasons
from planner.compliance.people import license_reasons
from planner.compliance.state_rules import state_reasons
from planner.compliance.weather import Forecast, closed_hours_text, weather_windows
from planner.day.clock import Window, clock_text, intersect
from planner.day.day import Day, Workbook
from planner.day.orders import Order, PastApplication


@dataclass(frozen=True)
class Hold:
    """An order kept back by a rule. code: of planner/docs/codes.csv; reason: every rule that keeps
    it back, in words with figures."""

    order_id: str
    code: str
    reason: str


def order_windows(
    day: Day, order: Order, forecast: Forecast | None = None
) -> tuple[Window, ...] | None:
    """When the order may be done: the customer's windows that the weather leaves open.

    None = any time; empty = never on this day (then `holds` says why).
    """
    return intersect(order.windows, weather_windows(day, order, forecast))


def holds(
    day: Day, done: Collection[str] = (), forecast: Forecast | None = None
) -> tuple[Hold, ...]:
    """The day's orders that a rule keeps back, in the order of the table, one hold each.

    At one property the orders are looked at by priority, then as the table has them: what an
    order that is not held puts down counts for those after it. done: orders that are sprayed
    already: nothing holds them, and they come before all others.
    """
    forecast = forecast or Forecast(day.weather)
    records = _records_by_property(day)
    earlier: dict[str, list[Order]] = {}
    found: dict[str, Hold] = {}
    for order in sorted(
        day.orders.values(), key=lambda order: (order.order_id not in done, order.priority)
    ):
        before = earlier.setdefault(order.property_id, [])
        if order.order_id in done:
            before.append(order)
            continue
        place = LawnCase(day, order, records.get(order.property_id, ()), before)
        reasons = [
            *label_reasons(place),
            *state_reasons(place),
            *edge_reasons(day.workbook, order, day.date),
            *rate_reasons(day.workbook, order),
            *license_reasons(day, order),
            *ground_reasons(day, order),
            *_weather(day, order, forecast),
        ]
        if reasons:
            text = "; ".join(reason for _, reason in reasons)
            found[order.order_id] = Hold(order.order_id, reasons[0][0], text)
        else:
            before.append(order)
    return tuple(found[order_id] for order_id in day.orders if order_id in found)


def _records_by_property(day: Day) -> dict[str, list[PastApplication]]:
    past: dict[str, list[PastApplication]] = {}
    for row in sorted(day.workbook.history, key=lambda row: row.day):
        # Later rows are in the table when an old day is planned once more; they do not count.
        if row.day <= day.date:
            past.setdefault(row.property_id, []).append(row)
    return past


def _weather(day: Day, order: Order, forecast: Forecast) -> Iterator[tuple[str, str]]:
    fit = weather_windows(day, order, forecast)
    if fit is None or order_windows(day, order, forecast) != ():
        return
    name = day.workbook.mixes[order.mix_id].name
    hours = _hours_of(day.workbook, order.windows)
    closed = closed_hours_text(day, order, hours, forecast)
    if not fit:
        yield "WEATHER", f"no hour of the day suits {name}: {closed}"
    else:
        yield (
            "WINDOW",
            f"the customer's hours ({_windows_text(order.windows or ())}) and the weather's "
            f"({_windows_text(fit)}) do not overlap for {name}: {closed}",
        )


def _hours_of(book: Workbook, windows: tuple[Window, ...] | None) -> list[int]:
    """Hours to speak of: those of the customer's windows, else those that trucks work."""
    if not windows:
        opening = min((truck.shift_start_min for truck in book.trucks.values()), default=0.0)
        closing = max((truck.latest_return_min for truck in book.trucks.values()), default=1440.0)
        windows = (Window(opening, max(opening, closing)),)
    return [
        hour
        for hour in range(24)
        if any(one.open_min < hour * 60 + 60 and one.close_min > hour * 60 for one in windows)
    ]


def _windows_text(windows: tuple[Window, ...]) -> str:
    return ", ".join(
        f"{clock_text(one.open_min)} to {clock_text(one.close_min)}" for one in windows
    )
