"""Planning a running day again, wired: take over, route the rest, schedule, audit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from planner.again.recorded import told_of
from planner.again.said import AgainError, Said, check_said
from planner.again.take_over import (
    TakenOver,
    kept_trucks,
    orders_changed,
    rest_of,
    still_pinned,
    take_over,
    told_windows,
)
from planner.chain import DayRoads, PlannedDay, effort_text, open_day
from planner.day.clock import Window
from planner.day.day import Day
from planner.mixing.limits import holds, order_windows
from planner.mixing.recipes import Recipe, order_gal, recipes
from planner.mixing.separation import separation
from planner.mixing.stock import stock_limits
from planner.plan.assemble import MadeAgain, Origin, make_plan
from planner.plan.audit import audit
from planner.plan.model import Plan
from planner.problems import Problem
from planner.roads.travel import Travel
from planner.routing.build import build_problem
from planner.routing.engines import engine_named
from planner.routing.loading.allowed import loadings
from planner.routing.problem import Answer, Effort, Progress, RoutingProblem, StopKind


def open_running_day(
    path: Path, when: date, earlier: Plan, said: Said, problems: Sequence[Problem] = ()
) -> Day:
    """The day with the orders that are added and without those left out. problems: found before.
    Raises AgainError with everything that is wrong in what is said."""
    problems = [*problems, *check_said(said, earlier, open_day(path, when))]
    if problems:
        raise AgainError(problems)
    added, skipped = orders_changed(said, earlier)
    return open_day(path, when, added, skipped)


def plan_again(
    path: Path,
    day: Day,
    roads: DayRoads,
    earlier: Plan,
    said: Said,
    *,
    engine: str,
    effort: Effort,
    seed: int,
    progress: Progress,
) -> PlannedDay:
    """The whole day, of which only what is not done is planned. Raises AgainError with every
    statement that the clock contradicts, StoreError."""
    kitchen = recipes(day.workbook)
    told = told_of(path, day, earlier, said)
    taken = take_over(day, earlier, said, told, kitchen, roads.travel_by_truck)
    origin = Origin(
        seed=seed,
        effort=effort_text(effort),
        engine=engine,
        roads=roads.roads.description,
        roads_warning=roads.roads.warning,
    )
    plan = rest_planned(day, taken, kitchen, roads.travel_by_truck, origin, effort, progress)
    return PlannedDay(plan, day, roads, audit(plan, day, roads.travel_by_truck))


def rest_planned(
    day: Day,
    taken: TakenOver,
    kitchen: Mapping[str, Recipe],
    travel_by_truck: Mapping[str, Travel],
    origin: Origin,
    effort: Effort,
    progress: Progress,
) -> Plan:
    """The plan of the whole day: what is taken over, and the rest by the engine that origin
    names."""
    rest = rest_of(day, taken)
    held = holds(day, taken.done)
    held_ids = frozenset(hold.order_id for hold in held)
    windows = {
        name: order_windows(day, order)
        for name, order in rest.orders.items()
        if name not in held_ids
    }
    problem = _problem(day, rest, taken, kitchen, travel_by_truck, windows)
    solver = engine_named(origin.engine)
    answer = _sent_home(solver.solve(problem, effort, origin.seed, progress))
    progress(1.0, "writing the schedule")
    # A truck that has not left departs when its shift begins in the rest of the day.
    trucks = day.workbook.trucks | rest.workbook.trucks
    plan = make_plan(
        replace(day, workbook=replace(day.workbook, trucks=trucks)),
        kitchen,
        windows,
        held,
        answer,
        travel_by_truck,
        replace(origin, engine=solver.name),
        MadeAgain(taken.again, taken.underway),
    )
    return replace(plan, pinned=still_pinned(taken, plan))


def _sent_home(answer: Answer) -> Answer:
    """The answer without lunches of trucks that get nothing more: their crews are sent home."""
    return replace(
        answer,
        trucks=tuple(
            truck
            if any(stop.kind is StopKind.ORDER for stop in truck.stops)
            else replace(truck, stops=())
            for truck in answer.trucks
        ),
    )


def _problem(
    day: Day,
    rest: Day,
    taken: TakenOver,
    kitchen: Mapping[str, Recipe],
    travel_by_truck: Mapping[str, Travel],
    windows: Mapping[str, tuple[Window, ...] | None],
) -> RoutingProblem:
    """The rest as numbers: what is on board stays, what was told and who was to come is wished."""
    book = rest.workbook
    apart = separation(book)
    need_gal: dict[str, float] = {}
    for name in windows:
        order = rest.orders[name]
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    out = {
        truck_id: underway.standing
        for truck_id, underway in taken.underway.items()
        if truck_id in book.trucks
    }
    kept = {
        name: truck_id
        for name, truck_id in kept_trucks(taken).items()
        if name in windows and truck_id in book.trucks
    }
    return build_problem(
        rest,
        kitchen,
        windows,
        frozenset(rest.orders.keys() - windows.keys()),
        travel_by_truck,
        {
            truck_id: (out[truck_id].loading,)
            if truck_id in out
            else loadings(book, truck, apart, need_gal)
            for truck_id, truck in book.trucks.items()
        },
        kept=kept,
        pinned=[name for name in taken.pinned if name in kept],
        told=told_windows(day, taken),
        out=out,
        stock=stock_limits(book, kitchen, _taken_out(taken)),
        busy_until=_busy_until(taken),
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
