"""A room (planner/routing/unserved/offers.py) made in a day's tables, as an office would."""

from __future__ import annotations

import re
from dataclasses import replace

from planner.day.clock import Window
from planner.day.day import Day, Workbook, day_of
from planner.day.fleet import Truck
from planner.day.orders import Order
from planner.routing.unserved.offers import Relaxation


def tightened(day: Day, share: float) -> Day:
    """The day with shifts cut to that share and no overtime."""
    trucks = {
        name: replace(
            truck,
            shift_end_min=truck.shift_start_min
            + share * (truck.shift_end_min - truck.shift_start_min),
            overtime_most_min=0.0,
        )
        for name, truck in day.workbook.trucks.items()
    }
    return day_of(replace(day.workbook, trucks=trucks), day.date)


def extra_name(room: Relaxation) -> str:
    """Name of the truck that is added for 'one more'."""
    return f"{room.truck_id}-more"


def part_names(order_id: str, room: Relaxation) -> list[str]:
    """Names of the orders that an order is split into (itself when it is not)."""
    return [order_id] if room.parts == 1 else [f"{order_id}-{n + 1}" for n in range(room.parts)]


def with_room_made(day: Day, order_id: str, room: Relaxation, told: str = "") -> Day:
    """The day with the room made in its tables: a later end of the shift, a longer hose, a wider
    window, one more compartment or truck. What the words (told) do not say
    is not done: the forecast stays, and a compartment is reserved only if they say for whom."""
    book = day.workbook
    order = _order(book.orders[order_id], room)
    orders = {name: other for name, other in book.orders.items() if name != order_id}
    for name in part_names(order_id, room):
        orders[name] = replace(order, order_id=name, area_ft2=order.area_ft2 / room.parts)
    # Orders of the same day count by their place in the table; keep it.
    names = [
        new for old in book.orders for new in (part_names(old, room) if old == order_id else [old])
    ]
    trucks = {
        name: truck if name != room.truck_id or room.one_more else _truck(truck, room, told)
        for name, truck in book.trucks.items()
    }
    if room.one_more:
        name = extra_name(room)
        trucks[name] = replace(book.trucks[room.truck_id], truck_id=name)
    sites = book.sites
    if room.sites_open:
        sites = {name: replace(site, open_min=None, close_min=None) for name, site in sites.items()}
    changed: Workbook = replace(
        book,
        orders={name: orders[name] for name in names},
        trucks=trucks,
        sites=sites,
    )
    return day_of(changed, day.date)


def _order(order: Order, room: Relaxation) -> Order:
    only, never = order.only_trucks, order.never_trucks
    if room.allowed:
        only = None if only is None else only | {room.truck_id}
        never = never - {room.truck_id}
    if room.one_more:
        only = None if only is None else only | {extra_name(room)}
    windows = order.windows
    if room.window is not None and windows is not None:
        windows = tuple(sorted(_merged([*windows, room.window])))
    return replace(order, only_trucks=only, never_trucks=never, windows=windows)


def _merged(windows: list[Window]) -> list[Window]:
    merged: list[Window] = []
    for window in sorted(windows):
        if merged and window.open_min <= merged[-1].close_min:
            merged[-1] = Window(merged[-1].open_min, max(merged[-1].close_min, window.close_min))
        else:
            merged.append(window)
    return merged


def _truck(truck: Truck, room: Relaxation, told: str) -> Truck:
    lines, compartments = truck.lines, truck.compartments
    if room.hose is not None:
        line_id, hose_ft = room.hose
        lines = tuple(
            replace(line, hose_ft=hose_ft) if line.line_id == line_id else line for line in lines
        )
    if room.compartment is not None:
        like_id, capacity_gal = room.compartment
        reserved = re.search(", reserved for (.+?), for", told)
        new = replace(
            truck.compartment(like_id),
            compartment_id="new",
            capacity_gal=capacity_gal,
            position=max(part.position for part in compartments) + 1,
            reserved_for=None if reserved is None else reserved[1],
            last_mix=None,
            leftover_gal=0.0,
        )
        compartments = (*compartments, new)
    return replace(
        truck,
        shift_end_min=truck.shift_end_min + room.later_min,
        gvwr_lb=truck.gvwr_lb + room.payload_lb,
        lines=lines,
        compartments=compartments,
    )
