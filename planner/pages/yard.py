"""Each truck as its tanks to scale: what the yard draws of it. And what the page's map draws:
streets once, trucks' ways and stops at every change; customers found by a part of their name,
street or id, while a person types."""

from dataclasses import dataclass, field
from functools import lru_cache, partial
from typing import Any

from planner.chain import background_streets
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.parts import whole_id
from planner.day.very import Very
from planner.maps.background import background, packed_way
from planner.office.day import DayState, TruckFacts
from planner.pages.sheet import WORTH_SAYING_MIN, order_facts, stood
from planner.pages.words import Part, mix_looks, signed_money
from planner.papers.render import gal_text, whole_text
from planner.plan.model import Plan

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
    """Of an order that is done in parts, the first that is out."""
    day, plan = state.planned.day, state.planned.plan
    found: dict[str, tuple[float, float, str, str]] = {}
    for entry in (*plan.unserved, *plan.held):
        order = day.workbook.orders.get(entry.order_id)
        at = day.workbook.properties.get(order.property_id) if order is not None else None
        if at is not None:
            point = (round(at.lat, 5), round(at.lon, 5), at.customer, entry.order_id)
            found.setdefault(whole_id(day.workbook.orders, entry.order_id), point)
    return tuple(found.values())


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


TRUCK_PX, LEAST_TANK_PX, TANK_PX = 132, 14, 30
"""Width of the largest truck's tanks, width of the smallest tank that still has room for its
number, and the height of a full tank."""
READ_GAL = 0.05
"""Less than a sheet shows."""
TIGHT_GAL, TIGHT_LB = 1.0, 100.0
"""Less to spare than this is told: a gallon is a reading error of a sight gauge, 100 lb a spare
wheel (common practice, no source)."""


@dataclass(frozen=True)
class DrawnTank:
    """A compartment as drawn. left, width: in pixels; full: height of what is in it; lowest: of the
    day's least level, None without a draw; look: class of its mix."""

    position: int
    left: int
    width: int
    full: float
    lowest: float | None
    look: str


@dataclass(frozen=True)
class Stall:
    """One truck in the yard, in words."""

    number: int
    truck: Truck
    facts: TruckFacts
    tanks: tuple[DrawnTank, ...]
    width: int
    home: str
    spare_lb: str
    over: bool
    lowest: str
    short: bool
    was: str
    broken: int


def stalls(state: DayState) -> tuple[Stall, ...]:
    """Every truck, in the order of the tables."""
    opened = Very(state.opened)
    return tuple(
        _stall(_StallFrom(number, facts.version, opened, state))
        for number, facts in enumerate(state.trucks, start=1)
    )


@dataclass(frozen=True)
class _StallFrom:
    """What the stall of a number is made from."""

    number: int
    version: int
    opened: Very[Plan]
    state: DayState = field(compare=False)


@lru_cache(maxsize=2048)
def _stall(wanted: _StallFrom) -> Stall:
    state = wanted.state
    facts = state.trucks[wanted.number - 1]
    trucks = state.planned.day.workbook.trucks
    truck, spare = trucks[facts.truck_id], facts.spare
    most = max(sum(tank.capacity_gal for tank in one.compartments) for one in trucks.values())
    tanks = _tanks(facts, truck, mix_looks(state.planned.day), TRUCK_PX / most)
    short = spare is not None and spare.gal < -READ_GAL
    lowest = ""
    if spare is not None:
        place = truck.compartment(spare.compartment_id).position
        words = "short" if short else "to spare"
        lowest = f"{gal_text(abs(spare.gal))} gal {words} in {place}, {clock_text(spare.at_min)}"
    return Stall(
        number=wanted.number,
        truck=truck,
        facts=facts,
        tanks=tanks,
        width=max((tank.left + tank.width for tank in tanks), default=0),
        home="" if facts.home_min is None else clock_text(facts.home_min),
        spare_lb=whole_text(abs(facts.spare_lb)),
        over=facts.spare_lb < 0,
        lowest=lowest,
        short=short,
        was=_was(state, facts),
        broken=len(facts.violations),
    )


def _was(state: DayState, facts: TruckFacts) -> str:
    """What is other than when the day was opened."""
    before = next((one for one in state.opened.trucks if one.truck_id == facts.truck_id), None)
    if before is None or facts.home_min is None or before == facts.plan or not stood(state.opened):
        return ""
    currency = state.planned.day.workbook.settings.currency
    parts = [signed_money(facts.cost - before.totals.cost, currency)]
    if before.stops and abs(before.stops[-1].arrive_min - facts.home_min) >= WORTH_SAYING_MIN:
        parts.insert(0, f"home was {clock_text(before.stops[-1].arrive_min)}")
    return " · ".join(filter(None, parts))


def _tanks(
    facts: TruckFacts, truck: Truck, looks: dict[str, str], px_per_gal: float
) -> tuple[DrawnTank, ...]:
    """At departure; on a running day as the last done stop left them."""
    done = [row for row, stop in enumerate(facts.plan.stops) if stop.done]
    now = facts.tanks[done[-1] if done else 0] if facts.tanks else {}
    found, left = [], 0
    for one in sorted(truck.compartments, key=lambda one: one.position):
        name = one.compartment_id
        gal = now[name].level_gal if name in now else facts.plan.start_gal.get(name, 0.0)
        least = min(
            (row[name].level_gal for row in facts.tanks if row[name].drawn_gal > 0), default=None
        )
        width = max(LEAST_TANK_PX, round(one.capacity_gal * px_per_gal))
        found.append(
            DrawnTank(
                one.position,
                left,
                width,
                _height(gal, one.capacity_gal),
                None if least is None else _height(least, one.capacity_gal),
                looks.get(facts.plan.loading.get(name) or "", ""),
            )
        )
        left += width + 1
    return tuple(found)


def _height(gal: float, capacity_gal: float) -> float:
    return round(TANK_PX * max(0.0, min(1.0, gal / capacity_gal)), 1)


def tight(yard: tuple[Stall, ...]) -> tuple[str, ...]:
    """Trucks with next to nothing to spare, in words."""
    found = []
    for stall in yard:
        words, spare = [], stall.facts.spare
        if spare is not None and not stall.short and spare.gal < TIGHT_GAL:
            place = stall.truck.compartment(spare.compartment_id).position
            words.append(f"{gal_text(abs(spare.gal))} gal in {place}")
        if stall.home and 0 <= stall.facts.spare_lb < TIGHT_LB:
            words.append(f"{stall.spare_lb} lb")
        if words:
            found.append(f"{stall.truck.truck_id} {', '.join(words)} to spare")
    return tuple(found)
