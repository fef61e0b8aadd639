"""The audit finds nothing over 200 random days, planned by the engines and written out by the
schedule: two derivations of every rule, made apart, that must agree."""

from __future__ import annotations

import copy
import functools
import json
import random
from typing import Any

import pytest

from planner.day.day import Day
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from tests.own_cache import made_once
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.test_audit_every_figure import Path, leaves, value_at

pytestmark = pytest.mark.usefixtures("machine_code")


@functools.cache
def planned(seed: int) -> tuple[Day, Plan]:
    """A day of mixed size (every twelfth is large) with its plan by the plain engine."""
    size = "large" if seed % 12 == 0 else ("small", "medium")[seed % 2]
    day = random_day(seed, size)
    return day, made_once(f"random day {seed}", lambda: plan_random(day))


@pytest.mark.parametrize("seed", range(200))
def test_audit_finds_nothing_on_a_random_day(seed: int) -> None:
    day, plan = planned(seed)
    travel = straight_travel(day)
    assert [str(row) for row in audit(plan, day, travel)] == []
    # And as the file keeps it, rounded.
    assert [str(row) for row in audit(from_json(to_json(plan)), day, travel)] == []


@pytest.mark.parametrize("seed", range(200, 212))
def test_audit_finds_nothing_in_the_plans_of_the_other_engine(seed: int) -> None:
    pytest.importorskip("planner.routing.engines.ortools_engine")
    day = random_day(seed, "small" if seed % 2 else "medium")
    plan = plan_random(day, "ortools", count=3)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []


def test_the_random_days_hold_what_makes_a_day_hard() -> None:
    """Else 'nothing found' would say little."""
    seen: dict[str, int] = {}

    def count(what: str, times: int) -> None:
        seen[what] = seen.get(what, 0) + times

    for seed in range(80):
        day, plan = planned(seed)
        count("held", len(plan.held))
        count("unserved", len(plan.unserved))
        for truck in plan.trucks:
            works = [work for stop in truck.stops for work in stop.orders]
            count("refill stops", truck.totals.refills)
            count("lunches", sum(stop.kind == "lunch" for stop in truck.stops))
            count("waits", sum(stop.begin_min > stop.arrive_min for stop in truck.stops))
            count("cleanings", len(truck.cleaning))
            count("changeovers", sum(work.displaced_mix_id is not None for work in works))
            count("orders from two compartments", sum(len(w.compartments) > 1 for w in works))
            count("visits with two orders", sum(len(stop.orders) > 1 for stop in truck.stops))
            count("overtime", truck.totals.overtime_min > 0)
            gvwr_lb = day.workbook.trucks[truck.truck_id].gvwr_lb
            count("near the rating", sum(gvwr_lb - s.weight_lb_after < 15 for s in truck.stops))
            count(
                "refills of a part",
                sum(fill.level_before_gal > 3 for stop in truck.stops[1:] for fill in stop.fills),
            )
    assert all(times >= 3 for times in seen.values()), seen


@pytest.mark.parametrize("seed", range(1, 41))
def test_a_change_anywhere_in_a_random_plan_is_caught(seed: int) -> None:
    day, plan = planned(seed)
    raw, rng = json.loads(to_json(plan)), random.Random(seed)
    figures = [path for path in leaves(raw["trucks"]) if isinstance(at(raw, path), float)]
    for path in rng.sample(figures, min(6, len(figures))):
        worse = copy.deepcopy(raw)
        old = at(worse, path)
        at(worse, path[:-1])[path[-1]] = old + rng.choice((-1, 1)) * max(0.05, 0.01 * abs(old))
        assert audit(from_json(json.dumps(worse)), day, straight_travel(day)), (path, old)


def at(raw: Any, path: Path) -> Any:
    """What stands at a place among the trucks of a raw plan."""
    return value_at(raw["trucks"], path)
