"""What would make room, on days in which trucks share a short store and crowded sites."""

from __future__ import annotations

import functools
from dataclasses import replace
from math import inf

import pytest

from planner.day.day import Day, day_of
from planner.mixing.recipes import recipes, stock_limits
from planner.routing.engines.nearest_fit import NearestFit
from planner.routing.problem import Effort, SolveOptions, StopToken
from planner.routing.repair.draft import Draft
from planner.routing.shared.limits import held_to_limits
from planner.routing.shared.store import who_waits, without
from planner.routing.unserved.reasons import Reason
from planner.units import parse_amount
from tests.few import few
from tests.made_room import extra_name, tightened, with_room_made
from tests.random_days import random_day
from tests.random_plans import plan_random
from tests.random_problems import problem_of
from tests.test_why_not import earlier_plan, violations

SEEDS = range(few(20, of=40))


def limited(seed: int) -> Day:
    """A random day with short shifts, one truck at a time at each site, and nine tenths of the
    products that it would use."""
    day = tightened(random_day(seed, "medium"), 0.6)
    free = plan_random(day)
    used: dict[str, float] = {}
    for truck in free.trucks:
        for part in (part for stop in truck.stops for f in stop.fills for part in f.products):
            used[part.product_id] = used.get(part.product_id, 0.0) + part.amount
    book = day.workbook
    products = {
        name: replace(row, in_store=parse_amount(f"{0.9 * used[name]:.6f} {row.unit}"))
        if used.get(name)
        else row
        for name, row in book.products.items()
    }
    sites = {name: replace(row, trucks_at_once=1) for name, row in book.sites.items()}
    return day_of(replace(book, products=products, sites=sites), day.date)


@functools.cache
def planned(seed: int) -> tuple[Day, Draft, dict[str, Reason]]:
    day = limited(seed)
    problem = replace(problem_of(day), stock=stock_limits(day.workbook, recipes(day.workbook)))
    rest = without(problem, who_waits(problem, StopToken()))
    answer = NearestFit().solve(rest, SolveOptions(Effort(count=1)))
    return day, *held_to_limits(problem, answer, StopToken())


@pytest.mark.parametrize("seed", SEEDS)
def test_rooms_keep_the_shared_limits(seed: int) -> None:
    """Claimed: with the room made in the tables, the stop order that the room was found with stands
    beside the rest of the plan, and the audit finds nothing, in store and queues neither."""
    day, old, why = planned(seed)
    for order_id, reason in why.items():
        for found in reason.rooms:
            if found.room.parts > 1:
                continue
            roomy = with_room_made(day, order_id, found.room)
            draft = earlier_plan(roomy, old, order_id, found)
            problem = draft.tables.problem
            row = found.row
            if found.room.one_more:
                names = [truck.truck_id for truck in problem.trucks]
                row = names.index(extra_name(found.room))
            stops = draft.tables.numbers(old.tables.stops(found.stops))
            cost = draft.days[row].cost(stops)
            told = f"{order_id}: {reason.text}: {found.room}"
            assert cost < inf, told
            draft.put(row, stops, cost)
            assert order_id not in {problem.orders[left].order_id for left in draft.unserved}
            assert violations(roomy, draft, {}) == [], told


def test_the_limited_days_leave_orders_out_for_all_reasons() -> None:
    """Else the test before would say little."""
    codes = [reason.code for seed in SEEDS for reason in planned(seed)[2].values()]
    rooms = [room for seed in SEEDS for one in planned(seed)[2].values() for room in one.rooms]
    assert codes.count("STORE") >= few(10, of=20)
    assert codes.count("FULL") >= few(1, of=5)
    assert len(rooms) >= few(25, of=50)
