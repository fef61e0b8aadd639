"""A day kept ready answers a change as a day opened anew does, to the byte.

1,000 changes of the demo day: `python -m tests.bench.bench_changes`.
"""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from planner.again.said import check_said
from planner.by_hand.sheet import HandRow, StopOrderError, rows_of_plan
from planner.changing import ReadyDay
from planner.day.day import Day
from planner.plan.document import plain, to_json
from planner.plan.model import Plan
from tests.again_cases import as_filed, disruption, planned_again
from tests.hand_changes import random_change
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.test_audit_random_days import planned

WORDS = ("straight lines", "straight lines only")


def answered(ready: ReadyDay, rows: list[HandRow], plan: Plan) -> tuple[Plan | None, list[str]]:
    """The changed plan and what the audit says, or the problems for which there is none."""
    try:
        change = ready.change(rows, plan)
    except StopOrderError as error:
        return None, [str(problem) for problem in error.problems]
    return change.plan, [*map(str, change.violations), *change.out]


def same_answers(day: Day, plan: Plan, changes: int, rng: random.Random) -> int:
    """Change after change, each on the plan of the one before; how many made a plan."""
    travel = straight_travel(day)
    ready, made = ReadyDay(day, travel, WORDS, plan), 0
    for _ in range(changes):
        rows = random_change(plan, day, rng)
        warm, said = answered(ready, rows, plan)
        cold, anew = answered(ReadyDay(day, travel, WORDS, plan), rows, plan)
        assert said == anew
        if warm is None or cold is None:
            assert warm is cold
            continue
        assert to_json(warm) == to_json(cold)
        plan, made = warm, made + 1
    return made


@pytest.mark.parametrize("seed", [3, 12, 24, 31])
def test_a_change_of_a_ready_day_is_that_of_a_day_opened_anew(seed: int) -> None:
    day = random_day(seed, "medium")
    assert same_answers(day, plan_random(day), 25, random.Random(f"changes {seed}")) > 10


def test_the_plan_before_is_answered_again_after_other_changes() -> None:
    day = random_day(5, "medium")
    plan, ready = plan_random(day), ReadyDay(day, straight_travel(day), WORDS)
    before = answered(ready, rows_of_plan(plan), plan)
    rng = random.Random("there and back")
    for _ in range(10):
        answered(ready, random_change(plan, day, rng), plan)
    assert answered(ready, rows_of_plan(plan), plan) == before


def close(one: Any, other: Any) -> bool:
    """Whether two plans differ by no more than what the file's last decimals add up to."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(close(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(close, one, other))
    if isinstance(one, float):
        return abs(one - other) < 1e-3
    return bool(one == other)


def again_at_noon(seed: int) -> tuple[Day, Plan]:
    """A random day planned again in its middle, as its file keeps it."""
    day, plan = planned(seed)
    plan, rng = as_filed(plan), random.Random(f"noon {seed}")
    said = disruption(day, plan, rng, rng.uniform(480.0, 840.0))
    if check_said(said, plan, day):
        said = replace(said, at_min=600.0, free_min={})
    now, again = planned_again(day, plan, said)
    return now, as_filed(again)


@pytest.mark.parametrize("seed", [0, 7, 10, 38])
def test_a_day_planned_again_is_worked_out_again_from_its_own_rows(seed: int) -> None:
    day, plan = again_at_noon(seed)
    ready = ReadyDay(day, straight_travel(day), WORDS, plan)
    change = ready.change(rows_of_plan(plan), plan)
    assert [str(row) for row in change.violations] == []
    same = {"engine": plan.engine, "unserved": plan.unserved}
    assert close(plain(replace(change.plan, **same)), plain(plan))


@pytest.mark.parametrize("seed", [7, 10])
def test_what_is_done_stays_whatever_a_person_changes_at_noon(seed: int) -> None:
    day, plan = again_at_noon(seed)
    done = {truck.truck_id: [s for s in truck.stops if s.done] for truck in plan.trucks}
    ready, rng = ReadyDay(day, straight_travel(day), WORDS, plan), random.Random(seed)
    for _ in range(15):
        changed, _ = answered(ready, random_change(plan, day, rng), plan)
        if changed is not None:
            plan = changed
            for truck in plan.trucks:
                assert [s for s in truck.stops if s.done] == done[truck.truck_id]
    assert same_answers(day, plan, 10, rng) > 0
