"""What is done when a day is planned again, and where each truck then stands."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from planner.again.said import Said
from planner.mixing.recipes import recipes
from planner.plan.audit import audit
from planner.plan.document import plain
from planner.plan.done_part import Told, done_part
from planner.plan.model import Stop
from tests.again_cases import as_filed, refs_after, with_answer
from tests.random_days import straight_travel
from tests.test_audit_random_days import planned

pytestmark = pytest.mark.usefixtures("machine_code")


def without_marks(stop: Stop) -> Stop:
    """A stop without what only says when it was planned: mark, and whom a fill was meant for."""
    return replace(
        stop, done=False, fills=tuple(replace(fill, order_ids=()) for fill in stop.fills)
    )


def same(one: Any, other: Any) -> bool:
    """Whether two values of a plan are the same but for the last decimals, which a plan loses in
    its file."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float):
        return bool(abs(one - other) < 5e-5)
    return bool(one == other)


@pytest.mark.parametrize("seed", range(60))
def test_a_day_that_goes_as_planned_is_planned_again_as_it_was(seed: int) -> None:
    """With the stops of the earlier plan that are left, every clock time and gallon must come out
    as it stood there: whatever the truck's state is taken to be wrongly would show."""
    day, plan = planned(seed)
    plan = as_filed(plan)
    at_min = random.Random(seed).uniform(460.0, 900.0)
    done = {
        truck.truck_id: 1 + sum(before.leave_min <= at_min for before in truck.stops[:-1])
        for truck in plan.trucks
        if truck.stops and truck.stops[0].leave_min <= at_min
    }
    left = {truck.truck_id: refs_after(truck, done.get(truck.truck_id, 0)) for truck in plan.trucks}
    _, again = with_answer(day, plan, Said(at_min, filled=True), left)
    assert [str(row) for row in audit(again, day, straight_travel(day))] == []
    again = as_filed(again)
    assert [str(row) for row in audit(again, day, straight_travel(day))] == []
    for before, after in zip(plan.trucks, again.trucks, strict=True):
        assert [stop.done for stop in after.stops] == [
            row < done.get(before.truck_id, 1) for row in range(len(after.stops))
        ]
        assert len(before.stops) == len(after.stops)
        for old, new in zip(before.stops, after.stops, strict=True):
            assert same(plain(without_marks(new)), plain(without_marks(old)))
            if new.done:
                assert replace(new, done=False) == old
        assert same(plain(after.totals), plain(before.totals))
        assert same(plain(after.end_gal), plain(before.end_gal))


def test_a_fill_that_another_truck_recorded_is_none_of_this_trucks() -> None:
    """Both have a stop of that number; only one was there."""
    seen = 0
    for seed in range(12):
        day, plan = planned(seed)
        travel, kitchen = straight_travel(day), recipes(day.workbook)
        for truck in plan.trucks:
            later = [stop.seq for stop in truck.stops if stop.kind == "refill"]
            if not later:
                continue
            at_min, row = truck.stops[0].leave_min + 1.0, day.workbook.trucks[truck.truck_id]
            said = [
                Told(fill_gal={(name, seq, "1"): 10.0 for seq in later})
                for name in ("", "another truck", truck.truck_id)
            ]
            nobody, other, own = (
                [
                    stop.seq
                    for stop in done_part(row, truck, kitchen, travel[truck.truck_id], at_min, one)
                    if stop.kind == "refill"
                ]
                for one in said
            )
            assert (nobody, other) == ([], [])
            assert len(own) == len(later)
            seen += 1
    assert seen
