"""A lawn that takes more than a truck can pump from one fill is done in parts (rule 39).

Each part is an order of its own to engines, sheets and crews; the records add parts up under the
order of the tables.
"""

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from math import ceil, floor

from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.orders import Order

LEAST_OF_A_FILL, MOST_OF_A_FILL = 2, 4
"""Parts that the largest fill does: they share a fill with other lawns, and smaller tanks do some,
too; a quarter of a tank is no small errand (common practice, no source)."""
MOST_PARTS = 24
"""A lawn that takes more is no day's work of such trucks."""
HEAVIER = 1.05
"""Of mix to water, about: parts leave room for the rest."""
_PART = re.compile(r"(.+) part (\d+) of (\d+)")


def part_id(order_id: str, number: int, parts: int) -> str:
    """Id of a part, counted from 1."""
    return f"{order_id} part {number} of {parts}"


def whole_id(orders: Mapping[str, Order], name: str) -> str:
    """The order of the tables that a planned order belongs to. orders: of the tables or of a day,
    by id; a name of the tables is no part of anything."""
    if name in orders:
        return orders[name].whole_id
    found = _PART.fullmatch(name)
    return name if found is None else found[1]


def whole_ids(orders: Mapping[str, Order], names: Iterable[str]) -> tuple[str, ...]:
    """The orders of the tables that planned orders belong to, each once, in order."""
    return tuple(dict.fromkeys(whole_id(orders, name) for name in names))


def parts_text(orders: Iterable[Order | None]) -> dict[str, str]:
    """Order of the tables -> 'part 3 of 5' or 'parts 1, 2 and 4 of 5': those of its parts that are
    among these."""
    found: dict[str, list[re.Match[str]]] = {}
    for one in orders:
        part = _PART.fullmatch(one.order_id) if one is not None and one.part_of else None
        if part is not None:
            found.setdefault(part[1], []).append(part)
    words = {}
    for whole, parts in found.items():
        *first, last = (part[2] for part in parts)
        names = f"{', '.join(first)} and {last}" if first else last
        words[whole] = f"part{'s' * bool(first)} {names} of {parts[0][3]}"
    return words


def in_parts(day: Day, *, of_free_tanks: bool = False) -> Day:
    """The day with each of its orders that no truck pumps from one fill in equal parts.
    of_free_tanks: as if no tank held another mix that morning."""
    book, loaded = day.workbook, day
    if of_free_tanks:
        trucks = {name: one.clean for name, one in book.trucks.items()}
        loaded = replace(day, workbook=replace(book, trucks=trucks))
    cut = {name: parts for name, one in day.orders.items() if (parts := _parts(loaded, one))}
    if not cut:
        return day

    def divided(orders: Mapping[str, Order]) -> dict[str, Order]:
        return {
            part.order_id: part for name, one in orders.items() for part in cut.get(name, (one,))
        }

    book = replace(book, orders=divided(book.orders))
    return replace(day, workbook=book, orders=divided(day.orders))


def _parts(day: Day, order: Order) -> tuple[Order, ...]:
    """Its parts, none where one fill does or a part would be no help."""
    book = day.workbook
    gal = order.area_ft2 / 1000.0 * book.mixes[order.mix_id].carrier_gal_per_1000_ft2
    pounds = book.settings.water_lb_per_gal * HEAVIER
    groups = {book.products[part.product_id].group for part in book.mixes[order.mix_id].parts}
    fills = {
        min(fill, truck.payload_lb / pounds)
        for truck in book.trucks.values()
        if _may(day, truck, order)
        for fill in _fills_gal(truck, order.mix_id, groups)
    }
    most = max(fills, default=0.0)
    if most <= 0.0 or gal <= most:
        return ()
    able = [fill for fill in fills if fill * MOST_OF_A_FILL >= most]
    least = ceil(gal / most * LEAST_OF_A_FILL - 1e-9)
    if least > MOST_PARTS:
        return ()
    counts = range(least, min(MOST_PARTS, ceil(gal / most * MOST_OF_A_FILL)) + 1)
    parts = min(counts, key=lambda count: (_fills_too_many(gal, count, able), count))
    names = [part_id(order.order_id, number, parts) for number in range(1, parts + 1)]
    if not book.orders.keys().isdisjoint(names):
        return ()
    share = 1.0 / parts
    return tuple(
        replace(
            order,
            order_id=name,
            area_ft2=order.area_ft2 * share,
            revenue=None if order.revenue is None else order.revenue * share,
            part_of=order.order_id,
            share=share,
        )
        for name in names
    )


def _may(day: Day, truck: Truck, order: Order) -> bool:
    only, home = order.only_trucks, day.workbook.properties[order.property_id]
    return (
        (only is None or truck.truck_id in only)
        and truck.truck_id not in order.never_trucks
        and any(line.hose_ft >= home.hose_run_ft for line in truck.lines)
    )


def _fills_gal(truck: Truck, mix_id: str, groups: Collection[str]) -> list[float]:
    """Gallons of a mix with products of these groups that fills of a truck do, the hose filled: of
    a whole line, and of each of its tanks where the others hold something else. A tank that holds
    more than its heel of another mix takes none (rules 4 and 7)."""
    reserved = {one.reserved_for for one in truck.compartments if one.reserved_for in groups}
    fills = []
    for line in truck.lines:
        tanks = [
            tank.capacity_gal - tank.heel_gal
            for tank in truck.compartments
            if tank.line_id == line.line_id
            and tank.reserved_for in (reserved or {None})
            and (tank.leftover_gal <= tank.heel_gal or tank.last_mix == mix_id)
        ]
        fills += [gal - line.hose_gal for gal in (sum(tanks), *tanks) if gal > line.hose_gal]
    return fills


def _fills_too_many(gal: float, parts: int, fills: list[float]) -> int:
    """By how many more fills parts of this size take than the gallons would, over all fills."""
    return sum(
        (ceil(parts / whole) if (whole := floor(fill * parts / gal + 1e-9)) else parts * 2)
        - ceil(gal / fill)
        for fill in fills
    )
