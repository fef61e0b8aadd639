"""Planning a running day again, wired: what the records say, take over, route the rest,
schedule, audit."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from planner.again.said import AgainError, Said, check_said
from planner.again.take_over import (
    TakenOver,
    kept_trucks,
    later_still,
    orders_changed,
    rest_of,
    still_pinned,
    take_over,
    told_windows,
)
from planner.chain import DayRoads, PlannedDay, effort_text, open_day, without_later
from planner.day.day import Day, Workbook
from planner.mixing.recipes import recipes
from planner.plan.assemble import MadeAgain, Origin, make_plan
from planner.plan.audit import audit
from planner.plan.caught import as_told, with_handed
from planner.plan.document import to_json
from planner.plan.done_part import Sprayed, Told
from planner.plan.model import Plan
from planner.prepare import PreparedDay, prepare_day, routing_problem
from planner.problems import Problem
from planner.records.current import FILLED, SKIPPED, SPRAYED, current, kind_of
from planner.records.outcome import store_path
from planner.records.sealed import plan_checksum
from planner.records.store import Event, Store
from planner.roads.travel import Travel
from planner.routing.engines import engine_named
from planner.routing.problem import (
    RoutingProblem,
    Solution,
    SolveOptions,
    StopKind,
    filled_to,
)


def told_of(path: Path, day: Day, earlier: Plan, said: Said) -> Told:
    """Done and open orders as the office says and the records of the day have it; what is said
    now goes before what was recorded as skipped. Raises StoreError."""
    told = Told(done=frozenset(said.done), open=frozenset(said.opened), filled=said.filled)
    file = store_path(path)
    if not file.exists():
        return told
    with Store(file) as store:
        events = store.events(day.date.isoformat(), (day.date + timedelta(days=1)).isoformat())
    return told_by_records(told, tuple(current(events).values()), earlier, day.workbook)


def told_by_records(told: Told, events: tuple[Event, ...], earlier: Plan, book: Workbook) -> Told:
    """What is said, and what the day's records have of the earlier plan. A fill that the papers
    told smaller for mix out of containers counts with the plan's gallons: plans know nothing of
    those, and what is recorded beside the told gallons goes on top."""
    spared = _spared_gal(earlier, book)
    planned = {
        work.order_id for truck in earlier.trucks for stop in truck.stops for work in stop.orders
    }
    sprayed: dict[str, Sprayed] = {}
    skipped: set[str] = set()
    fill_gal: dict[tuple[str, int, str], float] = {}
    checksum = plan_checksum(to_json(earlier))
    for event in events:
        body, kind = event.body, kind_of(event)
        order_id = body.get("order_id", "")
        if kind == SPRAYED and order_id in planned:
            sprayed[order_id] = Sprayed(
                body["gal"], body["area_ft2"], body["start_min"], body["end_min"]
            )
        elif kind == SKIPPED and order_id in planned:
            skipped.add(order_id)
        elif kind == SKIPPED and {"compartment_id", "place_id"} <= body.keys():
            # A fill that was not made; levels of the evening are of no place.
            if event.plan == checksum:
                fill_gal[body["truck_id"], body["stop"], body["compartment_id"]] = 0.0
        elif kind == FILLED and event.plan == checksum:
            # Stop numbers are those of one plan only.
            fill = body["truck_id"], body["stop"], body["compartment_id"]
            fill_gal[fill] = max(0.0, body["gal"] + spared.get(fill, 0.0))
    return replace(
        told,
        done=told.done | sprayed.keys(),
        open=(told.open | (skipped - told.done)) - sprayed.keys(),
        sprayed=sprayed,
        fill_gal=fill_gal,
    )


def _spared_gal(earlier: Plan, book: Workbook) -> dict[tuple[str, int, str], float]:
    """(truck, stop, compartment) -> gallons that the papers told less than the plan."""
    told = as_told(earlier, with_handed(earlier, book))
    return {
        (truck.truck_id, stop.seq, fill.compartment_id): fill.gal - less.gal
        for truck, told_truck in zip(earlier.trucks, told.trucks, strict=True)
        for stop, told_stop in zip(truck.stops, told_truck.stops, strict=True)
        for fill, less in zip(stop.fills, told_stop.fills, strict=True)
    }


def open_running_day(
    path: Path, when: date, earlier: Plan, said: Said, problems: Sequence[Problem] = ()
) -> Day:
    """The day with the orders that are added and without those left out. problems: found before.
    Raises AgainError with everything that is wrong in what is said."""
    # A truck that went out in the morning is out, whatever the calendar says by now: --truck down
    # is for that.
    out = {truck.truck_id for truck in earlier.trucks if truck.stops} | set(earlier.use_home)
    problems = [*problems, *check_said(said, earlier, open_day(path, when, use=out))]
    if problems:
        raise AgainError(problems)
    added, skipped = orders_changed(said, earlier)
    day = open_day(path, when, added, skipped, use=out)
    day = without_later(day, later_still(said, earlier))
    return replace(day, use_home=tuple(name for name in day.kept_home if name in out))


def plan_again(
    path: Path,
    day: Day,
    roads: DayRoads,
    earlier: Plan,
    said: Said,
    options: SolveOptions,
) -> PlannedDay:
    """The whole day, of which only what is not done is planned. Raises AgainError with every
    statement that the clock contradicts, StoreError."""
    kitchen = recipes(day.workbook)
    told = told_of(path, day, earlier, said)
    taken = take_over(day, earlier, said, told, kitchen, roads.travel_by_truck)
    origin = Origin(options.seed, effort_text(options.effort), options.engine, *roads.source)
    plan = rest_planned(day, taken, roads.travel_by_truck, origin, options)
    return PlannedDay(plan, day, roads, audit(plan, day, roads.travel_by_truck, roads.source))


def rest_planned(
    day: Day,
    taken: TakenOver,
    travel_by_truck: Mapping[str, Travel],
    origin: Origin,
    options: SolveOptions,
) -> Plan:
    """The plan of the whole day: what is taken over, and the rest by the engine."""
    rest = rest_of(day, taken)
    prepared = prepare_day(day, taken.done)
    kept = {
        name: truck_id
        for name, truck_id in kept_trucks(taken).items()
        if name in rest.orders and name in prepared.free and truck_id in rest.workbook.trucks
    }
    pinned = [name for name in taken.pinned if name in kept]
    problem = rest_problem(prepared, rest, taken, travel_by_truck, kept, pinned)
    solver = engine_named(options.engine)
    answer = sent_home(solver.solve(problem, options))
    options.progress(1.0, "writing the schedule")
    # A truck that has not left departs when its shift begins in the rest of the day.
    trucks = day.workbook.trucks | rest.workbook.trucks
    plan = make_plan(
        replace(prepared, day=replace(day, workbook=replace(day.workbook, trucks=trucks))),
        answer,
        travel_by_truck,
        replace(origin, engine=solver.name),
        MadeAgain(taken.again, taken.underway),
    )
    return replace(plan, pinned=still_pinned(taken, plan))


def sent_home(answer: Solution) -> Solution:
    """The answer without lunches of trucks that get nothing more: their crews are sent home."""
    return replace(
        answer,
        routes=tuple(
            truck
            if any(stop.kind is StopKind.ORDER for stop in truck.stops)
            else replace(truck, stops=())
            for truck in answer.routes
        ),
    )


def rest_problem(
    prepared: PreparedDay,
    rest: Day,
    taken: TakenOver,
    travel_by_truck: Mapping[str, Travel],
    kept: Mapping[str, str],
    pinned: Sequence[str],
) -> RoutingProblem:
    """The rest of a running day as numbers: what is on board stays, what was told is wished. kept,
    pinned: as of planner.prepare.routing_problem."""
    trucks = rest.workbook.trucks
    problem = routing_problem(
        prepared,
        travel_by_truck,
        rest,
        kept=kept,
        pinned=pinned,
        told=told_windows(prepared.day, taken),
        out={
            truck_id: underway.standing
            for truck_id, underway in taken.underway.items()
            if truck_id in trucks
        },
        taken_out=_taken_out(taken),
        busy_until=_busy_until(taken),
    )
    return filled_to(
        problem, {name: one.planned.fill_to_gal for name, one in taken.underway.items()}
    )


def _busy_until(taken: TakenOver) -> dict[str, list[float]]:
    """By site, when trucks leave it whose refill there is done or that have set out for it."""
    found: dict[str, list[float]] = {}
    for underway in taken.underway.values():
        for stop in underway.done:
            if stop.kind == "refill":
                found.setdefault(stop.place_id, []).append(stop.leave_min)
    return found


def _taken_out(taken: TakenOver) -> dict[str, float]:
    """Gallons or pounds of each product that the fills before now have taken out of the store."""
    used: dict[str, float] = {}
    for underway in taken.underway.values():
        for stop in underway.done:
            for fill in stop.fills:
                for part in fill.products:
                    used[part.product_id] = used.get(part.product_id, 0.0) + part.amount
    return used
