"""What a crew and the office are told when a day was planned again."""

from collections.abc import Iterable
from dataclasses import dataclass

from planner.day.day import Day
from planner.day.fleet import Compartment
from planner.day.parts import whole_ids
from planner.day.places import Property
from planner.papers.lookup import drawn_gal, held_gal, mix_name, place_text
from planner.papers.numbers import stop_numbers
from planner.plan.keep import Change, ChangeKind, changes
from planner.plan.model import Plan, Stop, TruckPlan


@dataclass(frozen=True)
class ChangeLine:
    """A change with names. what: in words for the office; mark: for the route sheet, '' = none.
    at: the property, to reach the customer."""

    change: Change
    customer: str
    address: str
    mix: str
    what: str
    mark: str
    at: Property | None


@dataclass(frozen=True)
class OnBoard:
    """One compartment at the moment from which the day is planned again. now_gal: in it;
    stops: numbers of the stops that are sprayed from it before it is filled again, as text;
    next_fill: that stop, None = it is not filled again; left_gal: at day's end."""

    compartment: Compartment
    mix: str
    now_gal: float
    stops: str
    next_fill: Stop | None
    left_gal: float

    @property
    def position(self) -> int:
        """Of the valves."""
        return self.compartment.position


@dataclass(frozen=True)
class AgainSheet:
    """One truck's share of it. out: it has left; down: does nothing more; goes_on: its next stop,
    None = it is home; stands: where it stands; gone: orders that it had and has no more; came:
    orders that it did not have."""

    at_min: float
    out: bool
    down: bool
    goes_on: Stop | None
    stands: str
    on_board: tuple[OnBoard, ...]
    gone: tuple[ChangeLine, ...]
    came: tuple[ChangeLine, ...]
    done: int
    left: int


def change_lines(plan: Plan, day: Day) -> tuple[ChangeLine, ...]:
    """Every change of the day in words. () for a plan that was not made again."""
    return tuple(
        _line(change, day) for change in changes(plan, day.workbook.settings.told_within_min)
    )


def orders_left(trucks: Iterable[TruckPlan], day: Day) -> int:
    """Orders with a stop that is not done; of a lawn in parts (rule 39) one is enough."""
    stops = (stop for truck in trucks for stop in truck.stops if not stop.done)
    return len(whole_ids(day.orders, (work.order_id for stop in stops for work in stop.orders)))


def again_sheet(
    plan: Plan, truck_plan: TruckPlan, day: Day, lines: tuple[ChangeLine, ...]
) -> AgainSheet | None:
    """What the crew of one truck must know; None for a plan that was not made again. lines: those
    of the day."""
    if plan.again is None:
        return None
    name = truck_plan.truck_id
    truck = day.workbook.trucks[name]
    done = [stop for stop in truck_plan.stops if stop.done]
    fresh = [stop for stop in truck_plan.stops if not stop.done]
    left = orders_left((truck_plan,), day)
    return AgainSheet(
        at_min=plan.again.at_min,
        out=bool(done),
        down=name in plan.again.down,
        goes_on=fresh[0] if fresh else None,
        stands=place_text(day, done[-1].place_id).title if done else "",
        on_board=tuple(
            _on_board(truck_plan, row, fresh, day)
            for row in sorted(truck.compartments, key=lambda row: row.position)
            if done
        ),
        gone=tuple(
            row for row in lines if row.change.was_truck == name and row.change.truck_id != name
        ),
        came=tuple(
            row for row in lines if row.change.truck_id == name and row.change.was_truck != name
        ),
        done=truck_plan.totals.orders - left,
        left=left,
    )


def _line(change: Change, day: Day) -> ChangeLine:
    order = day.workbook.orders.get(change.order_id)
    place = place_text(day, order.property_id) if order is not None else None
    what, mark = {
        ChangeKind.NEW: ("new on " + change.truck_id, "NEW"),
        ChangeKind.MOVED: (
            f"from {change.was_truck} to {change.truck_id}",
            f"FROM {change.was_truck}",
        ),
        ChangeKind.TIME: (f"new time on {change.truck_id}", "NEW TIME"),
        ChangeKind.NOT_TODAY: (f"not today (was on {change.was_truck})", ""),
        ChangeKind.LEFT_OUT: ("left out by the office", ""),
    }[change.kind]
    return ChangeLine(
        change,
        place.title if place is not None else "",
        place.address if place is not None else "",
        mix_name(day, order.mix_id) if order is not None else "",
        what,
        mark,
        day.workbook.properties.get(order.property_id) if order is not None else None,
    )


def _on_board(truck_plan: TruckPlan, row: Compartment, fresh: list[Stop], day: Day) -> OnBoard:
    name = row.compartment_id
    gal = held_gal(truck_plan, name)
    next_fill = next(
        (stop for stop in fresh if any(fill.compartment_id == name for fill in stop.fills)), None
    )
    until = next_fill.seq if next_fill is not None else truck_plan.stops[-1].seq
    serves = [
        stop.seq
        for stop in fresh
        if stop.seq < until and any(any(drawn_gal(work, name)) for work in stop.orders)
    ]
    mix_id = truck_plan.loading.get(name)
    rinsed = any(entry.compartment_id == name for entry in truck_plan.cleaning)
    if mix_id is None and not rinsed and gal > 0:
        mix_id = row.last_mix
    return OnBoard(
        compartment=row,
        mix=mix_name(day, mix_id) if mix_id is not None else "",
        now_gal=max(0.0, gal),
        stops=stop_numbers(serves),
        next_fill=next_fill,
        left_gal=truck_plan.end_gal.get(name, 0.0),
    )


def marks_of(lines: tuple[ChangeLine, ...]) -> dict[str, ChangeLine]:
    """Order -> the change that its row on the route sheet shows."""
    return {row.change.order_id: row for row in lines if row.mark}
