"""Random days planned again in their middle, without files or roads."""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from planner.again.plan import rest_planned
from planner.again.said import Said
from planner.again.take_over import TakenOver, later_still, orders_changed, rest_of, take_over
from planner.chain import without_later
from planner.day.day import Day, day_of
from planner.mixing.recipes import recipes
from planner.plan.assemble import MadeAgain, Origin, make_plan
from planner.plan.document import from_json, to_json
from planner.plan.done_part import Told
from planner.plan.model import Plan, TruckPlan
from planner.prepare import prepare_day
from planner.roads.travel import Travel
from planner.routing.problem import Effort, Route, Solution, SolveOptions, StopKind, StopRef
from tests.random_days import straight_travel

ORIGIN = Origin(1, "count 1", "nearest-fit", "straight lines", "straight lines only")


def as_filed(plan: Plan) -> Plan:
    """The plan as its file keeps it, rounded: what planning again reads."""
    return from_json(to_json(plan))


def day_with(day: Day, earlier: Plan, said: Said) -> Day:
    """The day with what is added and without what is left out."""
    added, skipped = orders_changed(said, earlier)
    found = replace(day_of(day.workbook, day.date, added, skipped), notes=day.notes)
    return without_later(found, later_still(said, earlier))


def taken_over(
    day: Day,
    earlier: Plan,
    said: Said,
    told: Told | None = None,
    travel: Mapping[str, Travel] | None = None,
) -> TakenOver:
    """What stays. day: as day_with gives it; travel: None = straight lines."""
    told = told or Told(frozenset(said.done), frozenset(said.opened), said.filled)
    return take_over(
        day, earlier, said, told, recipes(day.workbook), travel or straight_travel(day)
    )


def planned_again(
    day: Day,
    earlier: Plan,
    said: Said,
    *,
    engine: str = "nearest-fit",
    count: int = 1,
    travel: Mapping[str, Travel] | None = None,
) -> tuple[Day, Plan]:
    """The day as it now is, and its plan by one engine. travel: None = straight lines."""
    day = day_with(day, earlier, said)
    plan = rest_planned(
        day,
        taken_over(day, earlier, said, travel=travel),
        travel or straight_travel(day),
        replace(ORIGIN, engine=engine),
        SolveOptions(Effort(count=count), ORIGIN.seed, engine=engine),
    )
    return day, plan


def with_answer(
    day: Day,
    earlier: Plan,
    said: Said,
    stops: dict[str, Sequence[StopRef]],
    told: Told | None = None,
) -> tuple[Day, Plan]:
    """The same with the stops that a test gives each truck that is out."""
    day = day_with(day, earlier, said)
    taken = taken_over(day, earlier, said, told)
    rest = rest_of(day, taken)
    answer = Solution(
        tuple(
            Route(truck_id, out.standing.loading, tuple(stops.get(truck_id, ())))
            for truck_id, out in taken.underway.items()
            if truck_id in rest.workbook.trucks
        ),
        {
            name: ("FULL", "left out by the test")
            for name in rest.orders
            if not any(stop.ref == name for refs in stops.values() for stop in refs)
        },
    )
    prepared = prepare_day(day, taken.done)
    for hold in prepared.held:
        answer.unserved.pop(hold.order_id, None)
    trucks = day.workbook.trucks | rest.workbook.trucks
    plan = make_plan(
        replace(prepared, day=replace(day, workbook=replace(day.workbook, trucks=trucks))),
        answer,
        straight_travel(day),
        ORIGIN,
        MadeAgain(taken.again, taken.underway),
    )
    return day, plan


def refs_after(planned: TruckPlan, done: int) -> tuple[StopRef, ...]:
    """The stops of a planned truck from that one on, as an engine would answer them."""
    kinds = {"visit": StopKind.ORDER, "refill": StopKind.REFILL, "lunch": StopKind.LUNCH}
    refs: list[StopRef] = []
    for stop in planned.stops[done:]:
        if stop.kind == "visit":
            refs += [StopRef(StopKind.ORDER, work.order_id) for work in stop.orders]
        elif stop.kind in kinds:
            refs.append(StopRef(kinds[stop.kind], "" if stop.kind == "lunch" else stop.place_id))
    return tuple(refs)


def disruption(
    day: Day,
    earlier: Plan,
    rng: random.Random,
    at_min: float,
    known: Collection[str] | None = None,
) -> Said:
    """Something that happens to a day by then: trucks down or late, orders left out, done sooner or
    not done, taken in from other days. known: properties with drive times, None = all."""
    planned = [
        (work.order_id, truck.truck_id, row, truck)
        for truck in earlier.trucks
        for row, stop in enumerate(truck.stops)
        for work in stop.orders
    ]
    out = [truck.truck_id for truck in earlier.trucks if truck.stops]
    before = [name for name, _, row, truck in planned if truck.stops[row - 1].leave_min <= at_min]
    after = [name for name, _, row, truck in planned if truck.stops[row - 1].leave_min > at_min]
    left = {
        truck.truck_id
        for truck in earlier.trucks
        if truck.stops and truck.stops[0].leave_min <= at_min
    }
    soon = [name for name, truck_id, row, truck in planned if name in after and truck_id in left]
    other = [name for name in day.workbook.orders if name not in day.orders]
    if known is not None:
        other = [name for name in other if day.workbook.orders[name].property_id in known]
    opened = rng.sample(before, min(len(before), rng.choice((0, 0, 1, 3))))
    done = rng.sample(soon, min(len(soon), rng.choice((0, 0, 1, 2))))
    open_now = [name for name in day.orders if name not in before and name not in done] + opened
    skipped = rng.sample(open_now, min(len(open_now), rng.choice((0, 1, 2))))
    down = rng.sample(out, 1) if out and rng.random() < 0.4 else []
    late: dict[str, float] = {}
    for name in out:
        if name not in down and rng.random() < 0.2:
            minute = at_min + rng.choice((10.0, 30.0, 75.0))
            if minute < day.workbook.trucks[name].latest_return_min:
                late[name] = minute
    return Said(
        at_min,
        done=tuple(done),
        opened=tuple(opened),
        skipped=tuple(skipped),
        added=tuple(rng.sample(other, min(len(other), rng.choice((0, 1))))),
        down=tuple(down),
        free_min=late,
        filled=rng.random() < 0.5,
    )
