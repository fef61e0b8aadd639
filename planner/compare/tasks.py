"""One task: a day planned with one fleet and one seed. A pure function of the values in it, so
that it may run in any process and on any machine, and its result may be kept by its content."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from enum import Enum
from typing import Any

from planner.chain import solve_day
from planner.compare.fleets import Fleet
from planner.compare.model import DayResult
from planner.compare.results import day_result
from planner.day.day import Day
from planner.day.orders import Order
from planner.day.parts import in_parts
from planner.plan.audit import Violation
from planner.roads.travel import Travel
from planner.routing.problem import Effort, SolveOptions


class BrokenPlan(Exception):
    """A plan that breaks a rule: a bug of the planner, which must not hide in a mean."""

    def __init__(self, fleet: str, when: str, violations: tuple[Violation | str, ...]) -> None:
        self.fleet, self.when, self.violations = fleet, when, violations
        # All arguments, so that it comes whole out of another process.
        super().__init__(fleet, when, violations)

    def __str__(self) -> str:
        found = "; ".join(str(violation) for violation in self.violations)
        return f"the plan of {self.when} with fleet {self.fleet} breaks rules: {found}"


@dataclass(frozen=True)
class WantedDay:
    """What is asked of a task. day: with the fleet's trucks. count: effort."""

    fleet: str
    day: Day
    seed: int
    engine: str
    count: int


@dataclass(frozen=True)
class Task:
    """A day to plan with everything that it needs. roads: description and warning."""

    wanted: WantedDay
    roads: tuple[str, str]
    travel_by_truck: Mapping[str, Travel]


def fleet_day(day: Day, fleet: Fleet, out_of_reach: Mapping[str, frozenset[str]]) -> Day:
    """The day with a fleet's trucks, clean and empty in the morning, and in parts what these do in
    parts (rule 39).

    A pin to trucks of which the fleet has none is no pin of it. out_of_reach: truck -> properties
    that it cannot come near by road; their orders are for the others.
    """
    trucks = {name: truck.clean for name, truck in fleet.trucks.items()}
    orders = {
        order_id: _for_fleet(order, fleet, out_of_reach) for order_id, order in day.orders.items()
    }
    book = replace(day.workbook, trucks=trucks, orders=orders)
    return in_parts(replace(day, workbook=book, orders=orders))


def _for_fleet(order: Order, fleet: Fleet, out_of_reach: Mapping[str, frozenset[str]]) -> Order:
    only = order.only_trucks
    if only is not None and only.isdisjoint(fleet.trucks):
        only = None
    kept_out = {name for name, homes in out_of_reach.items() if order.property_id in homes}
    never = (order.never_trucks | kept_out) & fleet.trucks.keys()
    return replace(order, only_trucks=only, never_trucks=frozenset(never))


def plan_task(task: Task) -> DayResult:
    """The day planned on one core and audited. Raises BrokenPlan."""
    wanted = task.wanted
    options = SolveOptions(Effort(count=wanted.count), wanted.seed, engine=wanted.engine)
    plan, violations, _ = solve_day(
        wanted.day, task.travel_by_truck, task.roads, options, threads=1
    )
    if violations:
        raise BrokenPlan(wanted.fleet, plan.date, violations)
    return day_result(wanted.fleet, wanted.day, plan)


def key_of(wanted: WantedDay, roads: str, version: str) -> str:
    """SHA-256 of everything that the result depends on but the fleet's name. roads: what the times
    come from; version: of the planning code."""
    content = [
        version,
        roads,
        wanted.engine,
        wanted.count,
        wanted.seed,
        _plain(wanted.day),
    ]
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    """A value as text that is the same in every process: sets have no order of their own."""
    if is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, *(_plain(getattr(value, f.name)) for f in fields(value))]
    if isinstance(value, Mapping):
        return [[key, _plain(item)] for key, item in value.items()]
    if isinstance(value, (set, frozenset)):
        return sorted(_plain(item) for item in value)
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    raise TypeError(f"no plain text for {type(value).__name__}")
