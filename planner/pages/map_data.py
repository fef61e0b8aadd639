"""What the page's map draws: streets once, trucks' ways and stops at every change; customers
found by a part of their name, street or id, while a person types."""

from functools import partial
from typing import Any

from planner.chain import background_streets
from planner.day.day import Day
from planner.maps.background import background, packed_way
from planner.office.day import DayState, TruckFacts
from planner.pages.sheet import order_facts
from planner.pages.words import Part, Very

Json = Any


def day_map(state: DayState) -> dict[str, Part]:
    """Name -> what the map's script draws: 'truck 1' ... (by stall) {way: [lat, lon, step, ...] in
    units of 1e-5 degree, stops: [[lat, lon, number, kind, name of its first item], ...]};
    'out': [[lat, lon, customer, order], ...]; 'sites': [[lat, lon, kind, name], ...]; 'streets':
    {names, lines, credit}; 'orders': {order: [what stays the same of it all day, in words]}."""
    out = _out(state)
    made = {
        f"truck {number}": Part(facts.version, partial(_truck, facts))
        for number, facts in enumerate(state.trucks, start=1)
    }
    return made | {
        "out": Part(out, partial(list, out)),
        "sites": Part((), partial(_sites, state)),
        "streets": Part((), partial(_streets, state)),
        "orders": Part(Very(state.planned.day), partial(_orders, state)),
    }


def _out(state: DayState) -> tuple[tuple[float, float, str, str], ...]:
    day, plan = state.planned.day, state.planned.plan
    found = []
    for entry in (*plan.unserved, *plan.held):
        order = day.workbook.orders.get(entry.order_id)
        at = day.workbook.properties.get(order.property_id) if order is not None else None
        if at is not None:
            found.append((round(at.lat, 5), round(at.lon, 5), at.customer, entry.order_id))
    return tuple(found)


def _sites(state: DayState) -> list[Json]:
    sites = state.planned.day.workbook.sites.values()
    return [[round(one.lat, 5), round(one.lon, 5), one.kind.value, one.name] for one in sites]


def _orders(state: DayState) -> dict[str, list[str]]:
    day = state.planned.day
    return {name: order_facts(day, order) for name, order in day.orders.items()}


def _streets(state: DayState) -> Json:
    roads = state.planned.roads.roads
    drawn = background(background_streets(state.planned, {}))
    return {"names": drawn.names, "lines": drawn.lines, "credit": roads.credit}


def _truck(truck: TruckFacts) -> Json:
    names = {item.seq: item.name for item in reversed(truck.items)}
    return {
        "way": packed_way(truck.way, is_simple=True),
        "stops": [
            [
                *(round(stop.lat, 5), round(stop.lon, 5), stop.seq, stop.kind),
                names.get(stop.seq, ""),
            ]
            for stop in truck.plan.stops
            if stop.kind in {"visit", "refill"}
        ],
    }


MOST_FOUND = 12


def customers(day: Day, text: str) -> list[tuple[str, str]]:
    """(property, its customer and address) of those that hold every word of the text, in the order
    of the tables; the first MOST_FOUND."""
    words = text.casefold().split()
    found = []
    for home in day.workbook.properties.values():
        shown = f"{home.customer}, {home.address}{f', {home.town}' if home.town else ''}"
        if words and all(word in f"{shown} {home.property_id}".casefold() for word in words):
            found.append((home.property_id, f"{shown} ({home.property_id})"))
            if len(found) == MOST_FOUND:
                break
    return found
