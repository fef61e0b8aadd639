"""Random disruptions of random days: planned again, the audit finds nothing and what is done stays
as it was. Plan and audit are two derivations of every rule, made apart."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from planner.again.said import Said, check_said
from planner.plan.audit import audit
from planner.plan.model import Plan
from tests.again_cases import as_filed, disruption, planned_again
from tests.random_days import straight_travel
from tests.test_audit_random_days import planned


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
            assert leaves >= goes_on - 1e-6 or (not truck.stops[0].done and leaves >= said.at_min)
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


@pytest.mark.parametrize("seed", range(120))
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
