"""A day kept ready answers a change as a day opened anew does, to the byte.

1,000 changes of the demo day: `python -m tests.bench.bench_changes`.
"""

from __future__ import annotations

import random

import pytest

from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow, rows_of_plan
from planner.changing import ReadyDay
from planner.day.day import Day
from planner.plan.document import to_json
from planner.plan.model import Plan
from tests.hand_changes import random_change
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random

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
    ready, made = ReadyDay(day, travel, WORDS), 0
    for _ in range(changes):
        rows = random_change(plan, day, rng)
        warm, said = answered(ready, rows, plan)
        cold, anew = answered(ReadyDay(day, travel, WORDS), rows, plan)
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
