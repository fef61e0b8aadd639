"""The rest of a day planned again from the plan on the table, on scrambled random days.

What is offered is never dearer than a plan that broke no rule, falls from offer to offer, keeps
the pins and passes the audit."""

from __future__ import annotations

import random

import pytest

from planner.by_hand.sheet import StopOrderError
from planner.changing import ReadyDay
from planner.office import planning
from planner.office.facts import Made
from planner.office.planning import Better, Rest
from planner.plan.audit import audit
from planner.plan.model import Plan
from planner.routing.problem import StopToken
from tests.hand_changes import random_change
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random


def trucks(plan: Plan) -> dict[str, str]:
    """Truck of each order."""
    return {
        work.order_id: truck.truck_id
        for truck in plan.trucks
        for stop in truck.stops
        for work in stop.orders
    }


@pytest.mark.parametrize("seed", range(6))
def test_never_worse_than_the_plan_on_the_table(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # The search from nothing is compiled; another engine shows the same of what is offered.
    monkeypatch.setattr(planning, "ENGINE", "nearest-fit")
    rng = random.Random(seed)
    day = random_day(seed, "small")
    travel = straight_travel(day)
    plan = plan_random(day)
    ready = ReadyDay(day, travel, (plan.roads, plan.roads_warning), plan)
    made = Made(plan, (), ())
    for _ in range(rng.randrange(1, 7)):
        try:
            change = ready.change(random_change(made.plan, day, rng), made.plan)
        except StopOrderError:
            continue
        made = Made(change.plan, change.violations, ())
    found: list[Better] = []
    rest = Rest(ready, made, 5, lambda _share, _text: None, StopToken(), found.append)
    before = rest.price(made.plan)
    best = rest.run(seed)
    prices = [one.price for one in found]
    assert prices == sorted(prices, reverse=True)
    if not made.violations:
        assert best <= before
        assert all(price < before for price in prices)
    for one in found:
        assert not audit(one.plan, day, travel)
        most = {truck.truck_id: truck.fill_to for truck in made.plan.trucks}
        assert all(row.fill_to == most[row.truck_id] for row in one.plan.trucks if row.stops)
        now = trucks(one.plan)
        pinned = {
            name: truck for name, truck in trucks(made.plan).items() if name in made.plan.pinned
        }
        assert all(now.get(name, truck) == truck for name, truck in pinned.items())
