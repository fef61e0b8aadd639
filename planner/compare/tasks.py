"""One task: a day planned with one fleet and one seed. A pure function of the values in it, so
that it may run in any process and on any machine, and its result may be kept by its content. The
figures of its plan that a comparison keeps."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from enum import Enum
from typing import Any

from planner.chain import solve_day
from planner.compare.fleets import Fleet
from planner.compare.model import DayResult, TankDay, TruckOnDay
from planner.compliance.people import with_licenses
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.orders import Order
from planner.day.parts import in_parts, whole_ids
from planner.plan.audit import Violation
from planner.plan.model import Fill, Plan, Stop, TruckPlan
from planner.plan.totals import NOTHING, by_order
from planner.roads.travel import Travel
from planner.routing.problem import Effort, SolveOptions

FULL_GAL = 1e-6
"""A fill to the full mark ends exactly there (rule 10); this is float noise."""


def day_result(fleet: str, day: Day, plan: Plan) -> DayResult:
    """The figures of one plan of the day. An order that is held because nobody on the trucks has
    the license is left out by the fleet: another one's crew may have it."""
    held = by_order(plan.held, day.orders)
    unlicensed = tuple(row for row in held if row.code == "LICENSE")
    works = [work for truck in plan.trucks for stop in truck.stops for work in stop.orders]
    return DayResult(
        fleet=fleet,
        date=plan.date,
        seed=plan.seed,
        engine=plan.engine,
        orders=len(whole_ids(day.orders, day.orders)),
        done_ft2=sum(work.area_ft2 for work in works),
        trucks=tuple(_truck_day(day.workbook.trucks[row.truck_id], row) for row in plan.trucks),
        held=tuple(row for row in held if row not in unlicensed),
        unserved=(*by_order(plan.unserved, day.orders), *unlicensed),
        totals=plan.totals.totals,
    )


def fault_result(fleet: str, day: Day, seed: int, engine: str, fault: str) -> DayResult:
    """A day that could not be planned at all. fault: why, in words."""
    due = len(whole_ids(day.orders, day.orders))
    return DayResult(
        fleet, day.date.isoformat(), seed, engine, due, 0.0, (), (), (), NOTHING, fault
    )


def _truck_day(truck: Truck, plan: TruckPlan) -> TruckOnDay:
    fills = [stop for stop in plan.stops if stop.fills]
    return TruckOnDay(
        truck_id=truck.truck_id,
        heaviest_lb=max((stop.weight_lb_after for stop in plan.stops), default=truck.ready_lb),
        gvwr_lb=truck.gvwr_lb,
        changeovers=sum(
            work.displaced_mix_id is not None for stop in plan.stops for work in stop.orders
        ),
        bound_by_weight=sum(_is_at_rating(truck, stop) for stop in fills[:-1]),
        totals=plan.totals,
        tanks=_tanks(truck, plan),
    )


def _is_at_rating(truck: Truck, stop: Stop) -> bool:
    gal_lb = max((fill.weight_lb / fill.gal for fill in stop.fills if fill.gal > 0), default=0.0)
    return stop.weight_lb_after > truck.gvwr_lb - gal_lb


def _tanks(truck: Truck, plan: TruckPlan) -> tuple[TankDay, ...]:
    used = _used_gal(plan.stops)
    fills: dict[str, list[Fill]] = {}
    for stop in plan.stops:
        for fill in stop.fills:
            fills.setdefault(fill.compartment_id, []).append(fill)
    rows = []
    for tank in truck.compartments:
        own = fills.get(tank.compartment_id, [])
        full = [fill.level_after_gal >= tank.capacity_gal - FULL_GAL for fill in own]
        rows.append(
            TankDay(
                compartment_id=tank.compartment_id,
                capacity_gal=tank.capacity_gal,
                mix_id=plan.loading.get(tank.compartment_id),
                used_gal=used.get(tank.compartment_id, 0.0),
                filled_gal=sum(fill.gal for fill in own),
                fills=len(own),
                fullest_gal=max((fill.level_after_gal for fill in own), default=0.0),
                left_gal=plan.end_gal.get(tank.compartment_id, 0.0),
                bound=sum(full[:-1]),
            )
        )
    return tuple(rows)


def _used_gal(stops: Sequence[Stop]) -> Mapping[str, float]:
    used: dict[str, float] = {}
    for stop in stops:
        for work in stop.orders:
            for draw in (*work.compartments, *work.hose_compartments):
                used[draw.compartment_id] = used.get(draw.compartment_id, 0.0) + draw.gal
    return used


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
    """The day with a fleet's trucks, clean and empty in the morning, those in the shop and what
    nobody on a truck may spray kept back (rule 35), and in parts what these do in parts (rule 39).

    An inspection that runs out counts as renewed, like licenses (`planner.compare.days.renewed`). A
    pin to trucks of which the fleet has none is no pin of it. out_of_reach: truck -> properties
    that it cannot come near by road; their orders are for the others.
    """
    trucks = {
        name: replace(truck.clean, inspection_until=None) for name, truck in fleet.trucks.items()
    }
    orders = {
        order_id: _for_fleet(order, fleet, out_of_reach) for order_id, order in day.orders.items()
    }
    book = replace(day.workbook, trucks=trucks, orders=orders)
    return in_parts(with_licenses(replace(day, workbook=book, orders=orders)))


def _for_fleet(order: Order, fleet: Fleet, out_of_reach: Mapping[str, frozenset[str]]) -> Order:
    only = order.only_trucks
    if only is not None and only.isdisjoint(fleet.trucks):
        only = None
    kept_out = {name for name, homes in out_of_reach.items() if order.property_id in homes}
    # A day of a calendar comes with what licenses keep it from; they are looked at again, by day.
    own = order.never_trucks - order.license_only
    never = (own | kept_out) & fleet.trucks.keys()
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
