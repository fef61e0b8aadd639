"""What is wrong in a plan that was made again is found: figures of its new part, and its marks."""

from __future__ import annotations

import copy
import functools
import json
import random
from dataclasses import replace
from typing import Any

import pytest

from planner.again.said import Said
from planner.day.day import Day
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from tests.again_cases import as_filed, planned_again
from tests.few import few
from tests.random_days import straight_travel
from tests.test_audit_every_figure import leaves, value_at
from tests.test_audit_random_days import planned

pytestmark = pytest.mark.usefixtures("machine_code")

SEEDS = (12, 24, 36, 48, 60, 72)
"""Large days: at ten o'clock much is done and much is left."""


@functools.cache
def noon(seed: int) -> tuple[Day, Plan]:
    day, plan = planned(seed)
    day, again = planned_again(day, as_filed(plan), Said(600.0))
    return day, as_filed(again)


def codes(plan: Plan, day: Day) -> set[str]:
    return {row.code for row in audit(plan, day, straight_travel(day))}


def test_the_days_have_something_done_and_something_left() -> None:
    seen = {"done": 0, "left": 0, "refills left": 0, "changeovers left": 0}
    for seed in SEEDS:
        for truck in noon(seed)[1].trucks:
            for stop in truck.stops:
                seen["done"] += stop.done and stop.kind == "visit"
                seen["left"] += not stop.done and stop.kind == "visit"
                seen["refills left"] += not stop.done and stop.kind == "refill"
                seen["changeovers left"] += not stop.done and any(
                    work.displaced_mix_id for work in stop.orders
                )
    assert all(times >= 5 for times in seen.values()), seen


@pytest.mark.parametrize("seed", SEEDS)
def test_a_change_anywhere_in_what_is_left_is_caught(seed: int) -> None:
    day, plan = noon(seed)
    raw, rng = json.loads(to_json(plan)), random.Random(seed)
    figures = [
        path
        for path in leaves(raw["trucks"])
        if isinstance(value_at(raw["trucks"], path), float)
        and not ("stops" in path and raw["trucks"][path[0]]["stops"][path[2]].get("done"))
    ]
    for path in rng.sample(figures, min(few(12, of=40), len(figures))):
        worse = copy.deepcopy(raw)
        old = value_at(worse["trucks"], path)
        place = value_at(worse["trucks"], path[:-1])
        place[path[-1]] = old + rng.choice((-1, 1)) * max(0.05, 0.01 * abs(old))
        assert codes(from_json(json.dumps(worse)), day), (path, old)


def with_stops(plan: Plan, truck_row: int, rows: dict[int, dict[str, Any]]) -> Plan:
    """The plan with other fields in some stops of a truck. rows: row of the stop -> fields."""
    truck = plan.trucks[truck_row]
    stops = list(truck.stops)
    for row, changes in rows.items():
        stops[row] = replace(stops[row], **changes)
    trucks = list(plan.trucks)
    trucks[truck_row] = replace(truck, stops=tuple(stops))
    return replace(plan, trucks=tuple(trucks))


def out(plan: Plan) -> tuple[int, int]:
    """A truck with stops that are left, and the row of the first of them."""
    for row, truck in enumerate(plan.trucks):
        done = sum(stop.done for stop in truck.stops)
        if 0 < done < len(truck.stops) - 2:
            return row, done
    raise AssertionError("no truck is out")


def test_a_stop_that_is_not_done_before_one_that_is() -> None:
    day, plan = noon(SEEDS[0])
    truck, first = out(plan)
    assert "AGAIN-DONE" in codes(
        with_stops(plan, truck, {first - 1: {"done": False}, first: {"done": True}}), day
    )


def test_done_stops_in_a_plan_that_was_not_made_again() -> None:
    day, plan = noon(SEEDS[0])
    assert "AGAIN-DONE" in codes(replace(plan, again=None), day)


def test_a_truck_that_is_down_and_works() -> None:
    day, plan = noon(SEEDS[0])
    assert plan.again is not None
    name = plan.trucks[out(plan)[0]].truck_id
    assert codes(replace(plan, again=replace(plan.again, down=(name,))), day) == {"AGAIN-DOWN"}


def test_an_order_left_out_and_planned() -> None:
    day, plan = noon(SEEDS[0])
    assert plan.again is not None
    truck, first = out(plan)
    name = next(stop for stop in plan.trucks[truck].stops[first:] if stop.orders).orders[0].order_id
    assert codes(replace(plan, again=replace(plan.again, skipped=(name,))), day) == {
        "AGAIN-SKIPPED"
    }


def test_a_truck_that_sets_out_too_soon() -> None:
    """Free at ten by the plan, free at half past eleven by what was said."""
    day, plan = noon(SEEDS[0])
    assert plan.again is not None
    name = plan.trucks[out(plan)[0]].truck_id
    later = replace(plan.again, free_min={name: 690.0})
    assert "CLOCK-ARRIVE" in codes(replace(plan, again=later), day)
