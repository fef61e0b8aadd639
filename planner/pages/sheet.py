"""One truck's route sheet as rows of the page, a column for each compartment."""

import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.life import brief_day, overdue_days
from planner.day.orders import Order
from planner.day.parts import parts_text
from planner.office.day import DayState, TruckFacts
from planner.pages.words import mix_looks, only_at
from planner.papers.lookup import mix_name, place_text
from planner.papers.render import gal_text, whole_text
from planner.papers.yard_words import yard_text
from planner.plan.model import Plan, Stop, Work

WORTH_SAYING_MIN = 0.5
"""A wait or a shift shorter than the clock shows is not told."""


@dataclass(frozen=True)
class TankColumn:
    """A compartment over its column. look: class of its mix, '' when it carries nothing; least_gal:
    the lowest level after a draw, None without one; fill_to_gal: the most that the office
    lets it be filled to, None = all it holds."""

    compartment_id: str
    position: int
    mix: str
    look: str
    capacity_gal: float
    least_gal: float | None
    fill_to_gal: float | None


@dataclass(frozen=True)
class LevelCell:
    """A compartment at a stop. share: of its capacity, in percent; lowest: the day's least."""

    drawn_gal: float
    filled_gal: float
    level_gal: float
    share: int
    lowest: bool


@dataclass(frozen=True)
class StopLine:
    """A stop. key: names it from one revision to the next; items: what can be lifted, as JSON, '' =
    the key alone; gap: the gap before it (None: nothing goes before it); was: where it stood when
    the day was opened; was_far: on another truck; hand: its facts in words; broken: what it
    breaks."""

    key: str
    kind: str
    items: str
    gap: int | None
    number: str
    clock: str
    where: str
    who: str
    only_at: str
    was: str
    was_far: bool
    cells: tuple[LevelCell, ...]
    weight_lb: float
    over: bool
    hand: str
    broken: tuple[str, ...]
    pinned: bool
    done: bool


@dataclass(frozen=True)
class TruckSheet:
    """One truck's sheet. moved: a stop stands elsewhere than when the day was opened; gone: stops
    that stood here then and do not any more."""

    number: int
    truck: Truck
    facts: TruckFacts
    columns: tuple[TankColumn, ...]
    rows: tuple[StopLine, ...]
    broken: tuple[str, ...]
    moved: bool
    gone: tuple[tuple[str, str], ...]
    was_home: str


Stood = Mapping[str, tuple[str, float]]
"""Order -> truck and minute of arrival."""


def stood(plan: Plan) -> Stood:
    """Where each order stands in a plan."""
    return {
        work.order_id: (truck.truck_id, stop.arrive_min)
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }


def sheet(state: DayState, facts: TruckFacts, number: int, before: Stood) -> TruckSheet:
    """The sheet of one truck. number: of its stall, from 1; before: of the opened plan."""
    day = state.planned.day
    truck = day.workbook.trucks[facts.truck_id]
    looks = mix_looks(day)
    columns = tuple(
        _column(facts, day, looks, one.compartment_id, one.position, one.capacity_gal)
        for one in sorted(truck.compartments, key=lambda one: one.position)
    )
    broken: dict[int | None, list[str]] = defaultdict(list)
    for entry in facts.violations:
        broken[entry.seq].append(entry.message)
    rows = tuple(
        _row(state, facts, truck, row, columns, before, tuple(broken[stop.seq]))
        for row, stop in enumerate(facts.plan.stops)
    )
    here = {work.order_id for stop in facts.plan.stops for work in stop.orders}
    was_home = next(
        (
            one.stops[-1].arrive_min
            for one in state.opened.trucks
            if one.truck_id == facts.truck_id and one.stops
        ),
        None,
    )
    home = facts.home_min
    return TruckSheet(
        number,
        truck,
        facts,
        columns,
        rows,
        tuple(broken[None]),
        any(row.was for row in rows),
        tuple(
            dict.fromkeys(
                _gone(day, state, order_id, arrive_min)
                for order_id, (truck_id, arrive_min) in before.items()
                if truck_id == facts.truck_id and order_id not in here
            )
        ),
        clock_text(was_home)
        if was_home is not None and (home is None or abs(home - was_home) >= WORTH_SAYING_MIN)
        else "",
    )


def _column(
    facts: TruckFacts,
    day: Day,
    looks: Mapping[str, str],
    name: str,
    position: int,
    capacity_gal: float,
) -> TankColumn:
    mix_id = facts.plan.loading.get(name)
    mix = "empty" if mix_id is None else mix_name(day, mix_id)
    drawn = [row[name].level_gal for row in facts.tanks if row[name].drawn_gal > 0]
    look = looks.get(mix_id or "", "")
    most = facts.plan.fill_to_gal.get(name)
    return TankColumn(name, position, mix, look, capacity_gal, min(drawn, default=None), most)


def _gone(day: Day, state: DayState, order_id: str, arrive_min: float) -> tuple[str, str]:
    order = day.workbook.orders.get(order_id)
    name = place_text(day, order.property_id).title if order is not None else order_id
    now = state.truck_of.get(order_id, "")
    return f"{clock_text(arrive_min)} {name}", now or "not in the day"


def _row(
    state: DayState,
    facts: TruckFacts,
    truck: Truck,
    at: int,
    columns: tuple[TankColumn, ...],
    before: Stood,
    broken: tuple[str, ...],
) -> StopLine:
    day, stop = state.planned.day, facts.plan.stops[at]
    orders = [day.workbook.orders.get(work.order_id) for work in stop.orders]
    items = [item for item in facts.items if item.seq == stop.seq]
    gap = next((row for row, item in enumerate(facts.items) if item.seq == stop.seq), None)
    if stop.kind == "return":
        gap = len(facts.items)
    was, was_far = _was(stop, facts.truck_id, before)
    site = stop.kind in {"depart", "return"}
    place = place_text(day, stop.place_id)
    home = day.workbook.properties.get(stop.place_id)
    where = {
        "depart": "Leave the yard",
        "return": "Home",
        "lunch": "Lunch",
        "refill": "Refill",
        "visit": home.address if home is not None else place.address or stop.place_id,
    }[stop.kind]
    return StopLine(
        key=items[0].name if items else stop.kind,
        kind=stop.kind,
        items=json.dumps([item.name for item in items]) if len(items) != 1 else "",
        gap=gap,
        number="●" if site else str(stop.seq),
        clock=clock_text(stop.leave_min if stop.kind == "depart" else stop.arrive_min),
        where=where,
        who=" · ".join(
            [
                place.title,
                *(f"{parts} of order {name}" for name, parts in parts_text(orders).items()),
            ]
        )
        if stop.kind in {"visit", "refill"}
        else f"{stop.leave_min - stop.begin_min:.0f} min"
        if stop.kind == "lunch"
        else "",
        only_at=only_at(orders),
        was=was,
        was_far=was_far,
        cells=tuple(_cell(facts, at, column) for column in columns),
        weight_lb=stop.weight_lb_after,
        over=stop.weight_lb_after > truck.gvwr_lb,
        hand=_hand(state, facts, stop, truck),
        broken=broken,
        pinned=any(work.order_id in state.planned.plan.pinned for work in stop.orders),
        done=stop.done,
    )


def _was(stop: Stop, truck_id: str, before: Stood) -> tuple[str, bool]:
    if not stop.orders or not before:
        return "", False
    old = before.get(stop.orders[0].order_id)
    if old is None:
        return "new", True
    if old[0] != truck_id:
        return f"{old[0]} {clock_text(old[1]).split()[0]}", True
    return (
        clock_text(old[1]).split()[0] if abs(old[1] - stop.arrive_min) >= WORTH_SAYING_MIN else ""
    ), False


def _cell(facts: TruckFacts, at: int, column: TankColumn) -> LevelCell:
    cell = facts.tanks[at][column.compartment_id]
    share = max(0, min(100, round(100 * cell.level_gal / column.capacity_gal)))
    lowest = cell.drawn_gal > 0 and cell.level_gal == column.least_gal
    return LevelCell(cell.drawn_gal, cell.filled_gal, cell.level_gal, share, lowest)


def _hand(state: DayState, facts: TruckFacts, stop: Stop, truck: Truck) -> str:
    """What the hand says of a stop, but for order_facts."""
    day, again = state.planned.day, state.planned.plan.again
    parts = []
    if stop.orders and stop.begin_min - stop.arrive_min > WORTH_SAYING_MIN:
        parts.append(f"waits to {clock_text(stop.begin_min)}")
    parts += filter(None, [yard_text(facts.plan, stop, truck, again)])
    if stop.drive_min > 0:
        parts.append(f"drive {stop.drive_min:.0f} min, {stop.drive_miles:.1f} mi")
    if stop.kind == "depart" or stop.kind == "refill":
        parts += [
            f"{truck.compartment(fill.compartment_id).position}: {mix_name(day, fill.mix_id)} "
            f"+{gal_text(fill.gal)} to {gal_text(fill.level_after_gal)} gal"
            for fill in stop.fills
        ]
        parts.append(f"then weighs {whole_text(stop.weight_lb_after)} lb")
    return " · ".join([*(_work(day, truck, work) for work in stop.orders), *parts])


def order_facts(day: Day, order: Order) -> list[str]:
    """What the hand says of an order that no change of the plan makes other."""
    parts, home = [_due(order, day)], day.workbook.properties.get(order.property_id)
    if home is not None:
        parts.append(f"hose {whole_text(home.hose_run_ft)} ft")
        parts += [home.gate_note, home.dog_note, home.phone]
    return [text for text in (*parts, order.note) if text]


def _work(day: Day, truck: Truck, work: Work) -> str:
    valves = " and ".join(
        str(truck.compartment(name).position)
        for name in dict.fromkeys(draw.compartment_id for draw in work.compartments)
    )
    text = f"{mix_name(day, work.mix_id)} {gal_text(work.gal)} gal from {valves}"
    if work.hose_gal > 0:
        text += f", {gal_text(work.hose_gal)} gal more to fill the hose"
    return text


def _due(order: Order, day: Day) -> str:
    days = overdue_days(order, day.date)
    if days:
        return f"overdue by {days} day{'' if days == 1 else 's'}"
    return (
        "today is its last day"
        if order.due_to <= day.date
        else f"due until {brief_day(order.due_to.isoformat())}"
    )
