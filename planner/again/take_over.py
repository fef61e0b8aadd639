"""What of the earlier plan stays: the orders, the trucks that are out, what customers were told."""

import hashlib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from planner.again.said import AgainError, Said, already_done, kept_out, not_left, recorded_later
from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.mixing.recipes import Recipe
from planner.plan.document import to_json
from planner.plan.done_part import Told, Underway, done_part, standing_of
from planner.plan.model import Again, Before, Plan
from planner.roads.travel import Travel


@dataclass(frozen=True)
class TakenOver:
    """What a plan made again begins with. underway: trucks that are out; done: orders; again: what
    plan.json keeps of it; pinned: orders that a person gave to their truck for good."""

    again: Again
    underway: dict[str, Underway]
    done: frozenset[str]
    pinned: tuple[str, ...] = ()

    def takes_part(self, day: Day) -> dict[str, float]:
        """Trucks that may get orders -> the minute from which they do."""
        found: dict[str, float] = {}
        for truck_id, truck in day.workbook.trucks.items():
            free = max(self.again.at_min, self.again.free_min.get(truck_id, 0.0))
            out = self.underway.get(truck_id)
            home = out is not None and out.home and truck_id not in self.again.free_min
            if truck_id in self.again.down or home:
                continue
            if out is not None:
                found[truck_id] = out.standing.free_min
            elif max(free, truck.shift_start_min) < truck.shift_end_min:
                found[truck_id] = max(free, truck.shift_start_min)
        return found


def orders_changed(said: Said, earlier: Plan) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Orders added to and left out of the day, now and when the earlier plan was made again. Those
    that it took ahead are like any other."""
    added, skipped = list(said.added), list(said.skipped)
    added += [name for name in earlier.taken_in if name not in said.skipped]
    before = earlier.again.skipped if earlier.again else ()
    skipped += [name for name in before if name not in said.added]
    return tuple(dict.fromkeys(added)), tuple(dict.fromkeys(skipped))


def later_still(said: Said, earlier: Plan) -> tuple[str, ...]:
    """Orders that the calendar lays on a later day, of which nothing else is said now."""
    spoken_of = {*said.added, *said.skipped}
    return tuple(name for name in earlier.laid_later if name not in spoken_of)


def take_over(
    day: Day,
    earlier: Plan,
    said: Said,
    told: Told,
    recipes: Mapping[str, Recipe],
    travel_by_truck: Mapping[str, Travel],
) -> TakenOver:
    """What stays of the earlier plan. day: with the orders that are added and without those left
    out; told: done and open orders, with what is recorded. Raises AgainError with every
    statement that the clock contradicts."""
    added, skipped = orders_changed(said, earlier)
    later, before = _later(said, earlier), _before(day, earlier)
    again = Again(
        at_min=said.at_min,
        earlier_sha256=hashlib.sha256(to_json(earlier).encode()).hexdigest(),
        down=_down(said, earlier),
        free_min=later,
        skipped=skipped,
        added=added,
        before=before,
    )
    underway: dict[str, Underway] = {}
    problems = recorded_later(said, list(_recorded(earlier, told)))
    for planned in earlier.trucks:
        if not planned.stops:
            continue
        truck = day.workbook.trucks[planned.truck_id]
        leaves = planned.stops[0].leave_min
        orders = {work.order_id for stop in planned.stops for work in stop.orders}
        if leaves > said.at_min and orders & told.done:
            problems += not_left(truck.truck_id, leaves, sorted(orders & told.done))
            continue
        travel = travel_by_truck[truck.truck_id]
        done = done_part(truck, planned, recipes, travel, said.at_min, told)
        if done:
            free = again.free_min.get(truck.truck_id, 0.0)
            standing = standing_of(truck, planned, done, said.at_min, free)
            underway[truck.truck_id] = Underway(planned, done, standing)
    done_orders = frozenset(
        work.order_id for out in underway.values() for stop in out.done for work in stop.orders
    )
    problems += already_done(said, done_orders) or kept_out(done_orders, day)
    if problems:
        raise AgainError(problems)
    again = replace(again, inspected_min=_inspected(day, earlier, again, underway))
    return TakenOver(again, underway, done_orders, earlier.pinned)


def _recorded(earlier: Plan, told: Told) -> Iterator[tuple[float, str, str]]:
    """Begin, truck and order of what is recorded as sprayed with its time."""
    for planned in earlier.trucks:
        for work in (work for stop in planned.stops for work in stop.orders):
            fact = told.sprayed.get(work.order_id)
            if fact is not None and fact.begin_min is not None:
                yield fact.begin_min, planned.truck_id, work.order_id


def taken_over_before(day: Day, plan: Plan) -> TakenOver | None:
    """What a plan that was made again has taken over, read from the plan itself; None for a plan of
    a whole day."""
    again = plan.again
    if again is None:
        return None
    underway: dict[str, Underway] = {}
    for planned in plan.trucks:
        done = tuple(stop for stop in planned.stops if stop.done)
        if done:
            truck = day.workbook.trucks[planned.truck_id]
            free = again.free_min.get(planned.truck_id, 0.0)
            standing = standing_of(truck, planned, done, again.at_min, free)
            underway[planned.truck_id] = Underway(planned, done, standing)
    orders = frozenset(
        work.order_id for out in underway.values() for stop in out.done for work in stop.orders
    )
    return TakenOver(again, underway, orders, plan.pinned)


def told_windows(day: Day, taken: TakenOver) -> dict[str, Window]:
    """When the customers of open orders expect their crew."""
    within = day.workbook.settings.told_within_min
    return {
        row.order_id: Window(row.begin_min - within, row.begin_min + within)
        for row in taken.again.before
        if row.truck_id and row.order_id not in taken.done
    }


def kept_trucks(taken: TakenOver) -> dict[str, str]:
    """Open orders -> their truck in the earlier plan."""
    return {
        row.order_id: row.truck_id
        for row in taken.again.before
        if row.truck_id and row.order_id not in taken.done
    }


def still_pinned(taken: TakenOver, plan: Plan) -> tuple[str, ...]:
    """Pinned orders that the plan made again leaves on their truck. A pin to a truck that is down
    has ended."""
    before = {row.order_id: row.truck_id for row in taken.again.before}
    now = {
        work.order_id: truck.truck_id
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }
    return tuple(name for name in taken.pinned if name in now and now[name] == before[name])


def rest_of(day: Day, taken: TakenOver) -> Day:
    """The day that is left to plan: open orders, trucks that take part. One that has not left
    begins its shift when it may go."""
    trucks = {
        truck_id: day.workbook.trucks[truck_id]
        if truck_id in taken.underway
        else _not_left(day.workbook.trucks[truck_id], free, taken.again)
        for truck_id, free in taken.takes_part(day).items()
    }
    orders = {name: order for name, order in day.orders.items() if name not in taken.done}
    return replace(day, workbook=replace(day.workbook, trucks=trucks), orders=orders)


def _not_left(truck: Truck, free: float, again: Again) -> Truck:
    """One that begins its shift then: what is left of its inspection (rule 38) is still to do."""
    left = max(0.0, again.inspected_min.get(truck.truck_id, truck.inspected_min) - free)
    return replace(truck, shift_start_min=free, inspection_min=left)


def _inspected(
    day: Day, earlier: Plan, again: Again, underway: Collection[str]
) -> dict[str, float]:
    """Of trucks whose crews come later than in the morning, and look round the truck then: a plan
    left it at home, or they were told to. One that had begun by now begins no second time."""
    known = earlier.again.inspected_min if earlier.again else {}
    sent_out = {row.truck_id for row in again.before}
    found = {name: minute for name, minute in known.items() if name in sent_out}
    for name, truck in day.workbook.trucks.items():
        came = truck.shift_start_min
        if name in found:
            came = found[name] - truck.inspection_min
        if name not in underway and (name not in sent_out or again.at_min <= came):
            found.pop(name, None)
            reports = max(again.at_min, again.free_min.get(name, 0.0))
            if truck.inspection_min and reports > truck.shift_start_min:
                found[name] = reports + truck.inspection_min
    return found


def _before(day: Day, earlier: Plan) -> tuple[Before, ...]:
    found: dict[str, Before] = {}
    for truck in earlier.trucks:
        for stop in truck.stops:
            for number, work in enumerate(stop.orders):
                begin = stop.begin_min if number == 0 else work.begin_min
                found[work.order_id] = Before(work.order_id, truck.truck_id, begin)
    for row in (*earlier.held, *earlier.unserved):
        found[row.order_id] = Before(row.order_id, "", 0.0)
    return tuple(
        [found[name] for name in day.orders if name in found]
        + [row for name, row in found.items() if name not in day.orders]
    )


def _down(said: Said, earlier: Plan) -> tuple[str, ...]:
    before = earlier.again.down if earlier.again is not None else ()
    return tuple(dict.fromkeys([*said.down, *(name for name in before if name not in said.later)]))


def _later(said: Said, earlier: Plan) -> dict[str, float]:
    before = earlier.again.free_min if earlier.again is not None else {}
    kept = {
        name: minute
        for name, minute in before.items()
        if minute > said.at_min and name not in said.down
    }
    return kept | said.later
