"""Random disruptions of random days: planned again, the audit finds nothing and what is done stays
as it was. Plan and audit are two derivations of every rule, made apart."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from planner.again.said import Said, check_said
from planner.day.products import Form
from planner.plan.audit import audit
from planner.plan.model import Plan
from planner.units import Amount
from tests.again_cases import as_filed, disruption, planned_again
from tests.few import few
from tests.random_days import straight_travel
from tests.test_audit_random_days import planned

pytestmark = pytest.mark.usefixtures("machine_code")


def check_again(earlier: Plan, again: Plan, said: Said) -> None:
    """What holds of a plan made again whatever has happened."""
    old = {truck.truck_id: truck for truck in earlier.trucks}
    by_order = {
        work.order_id: (truck, row)
        for truck in earlier.trucks
        for row, stop in enumerate(truck.stops)
        for work in stop.orders
    }
    assert again.again is not None
    done: set[str] = set()
    for truck in again.trucks:
        before = old.get(truck.truck_id)
        goes_on = max(said.at_min, said.later.get(truck.truck_id, 0.0))
        first = [stop for stop in truck.stops if not stop.done][:1]
        for stop in first:
            # Nobody sets out before the day is planned again, or before the truck is free.
            leaves = stop.leave_min if stop.kind == "depart" else stop.arrive_min - stop.drive_min
            # A crew that waits may have lunch.
            early = stop.kind == "lunch" or not truck.stops[0].done
            assert leaves >= (said.at_min if early else goes_on) - 1e-6
        for row, stop in enumerate(truck.stops):
            if not stop.done:
                continue
            assert before is not None
            done |= {work.order_id for work in stop.orders}
            if not said.opened and not said.done:
                # Untouched to the last figure.
                assert replace(stop, done=False) == before.stops[row]
        if truck.truck_id in said.down:
            assert all(stop.done or stop.kind == "return" for stop in truck.stops)
    for name, (truck, row) in by_order.items():
        out = row > 0 and truck.stops[row - 1].leave_min <= said.at_min
        expected = name in said.done or (out and name not in said.opened)
        assert (name in done) == expected, name
    placed = {
        work.order_id for truck in again.trucks for stop in truck.stops for work in stop.orders
    } | {row.order_id for row in (*again.held, *again.unserved)}
    assert not placed & set(said.skipped)
    assert set(said.added) <= placed


@pytest.mark.parametrize("seed", range(few(60, of=120)))
def test_a_disrupted_day_is_planned_again_and_the_audit_finds_nothing(seed: int) -> None:
    day, plan = planned(seed)
    plan = as_filed(plan)
    rng = random.Random(f"again {seed}")
    said = disruption(day, plan, rng, rng.uniform(360.0, 960.0))
    if check_said(said, plan, day):
        said = replace(said, at_min=600.0, free_min={})
    now, again = planned_again(day, plan, said)
    travel = straight_travel(now)
    assert [str(row) for row in audit(again, now, travel)] == []
    again = as_filed(again)
    assert [str(row) for row in audit(again, now, travel)] == []
    check_again(plan, again, said)


@pytest.mark.parametrize("seed", range(200, 200 + few(15, of=30)))
def test_a_day_is_planned_again_and_again(seed: int) -> None:
    """What was done at the first time is done at the second, to the last figure."""
    day, plan = planned(seed)
    plan = as_filed(plan)
    rng = random.Random(f"again and again {seed}")
    first = disruption(day, plan, rng, rng.uniform(480.0, 600.0))
    if check_said(first, plan, day):
        first = Said(560.0)
    day, noon = planned_again(day, plan, first)
    noon = as_filed(noon)
    second = disruption(day, noon, rng, rng.uniform(640.0, 780.0))
    second = replace(second, opened=(), done=(), skipped=())
    if check_said(second, noon, day):
        second = Said(700.0)
    now, again = planned_again(day, noon, second)
    assert [str(row) for row in audit(as_filed(again), now, straight_travel(now))] == []
    assert again.again is not None
    assert set(first.skipped) - set(second.added) <= set(again.again.skipped)
    assert set(first.down) - second.later.keys() <= set(again.again.down)
    for before, after in zip(noon.trucks, again.trucks, strict=True):
        done = [stop for stop in before.stops if stop.done]
        assert list(after.stops[: len(done)]) == done


@pytest.mark.parametrize("seed", range(12, 84, 12))
def test_pinned_orders_stay_on_their_truck_or_lose_their_pin(seed: int) -> None:
    day, plan = planned(seed)
    truck_of = {
        work.order_id: truck.truck_id
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }
    plan = as_filed(replace(plan, pinned=tuple(truck_of)))
    down = next(truck.truck_id for truck in plan.trucks if truck.stops)
    now, again = planned_again(day, plan, Said(600.0, down=(down,)))
    assert [str(row) for row in audit(again, now, straight_travel(now))] == []
    for truck in again.trucks:
        for work in (work for stop in truck.stops for work in stop.orders):
            free = truck_of.get(work.order_id, down) == down
            assert free or truck_of[work.order_id] == truck.truck_id
            if work.order_id in truck_of:
                assert (work.order_id in again.pinned) == (
                    truck_of[work.order_id] == truck.truck_id
                )


@pytest.mark.parametrize("seed", range(230, 236))
def test_the_other_engine_plans_the_rest(seed: int) -> None:
    day, plan = planned(seed)
    plan = as_filed(plan)
    rng = random.Random(f"again {seed}")
    said = disruption(day, plan, rng, rng.uniform(540.0, 720.0))
    if check_said(said, plan, day):
        said = Said(600.0)
    now, again = planned_again(day, plan, said, engine="ortools", count=3)
    assert [str(row) for row in audit(again, now, straight_travel(now))] == []
    check_again(plan, again, said)


@pytest.mark.parametrize("seed", range(12, 120, 12))
def test_the_rest_of_a_day_keeps_to_what_the_store_has_left(seed: int) -> None:
    """The store held this morning what the whole plan takes of one product, less a fifth of what is
    still to be filled: fills that are done have taken theirs."""
    day, plan = planned(seed)
    plan = as_filed(plan)
    said = Said(600.0)
    now, again = planned_again(day, plan, said)
    still: dict[str, float] = {}
    taken: dict[str, float] = {}
    for truck in again.trucks:
        for stop in truck.stops:
            into = taken if stop.done else still
            for part in (part for fill in stop.fills for part in fill.products):
                into[part.product_id] = into.get(part.product_id, 0.0) + part.amount
    if not still:
        pytest.skip("nothing is filled after ten o'clock")
    name = max(still, key=lambda one: still[one])
    product = day.workbook.products[name]
    unit, kind = ("gal", "volume") if product.form is Form.LIQUID else ("lb", "mass")
    held = taken.get(name, 0.0) + 0.8 * still[name]
    products = day.workbook.products | {
        name: replace(product, in_store=Amount(held, unit, kind, held))
    }
    short = replace(day, workbook=replace(day.workbook, products=products))
    now, scarce = planned_again(short, plan, said)
    assert [str(row) for row in audit(scarce, now, straight_travel(now))] == []
    check_again(plan, scarce, said)
