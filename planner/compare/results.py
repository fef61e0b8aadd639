"""A planned day -> the figures of it that a comparison keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.compare.model import DayResult, TankDay, TruckOnDay
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.parts import whole_ids
from planner.plan.model import Fill, Plan, Stop, TruckPlan
from planner.plan.totals import NOTHING, by_order

FULL_GAL = 1e-6
"""A fill to the full mark ends exactly there (rule 10); this is float noise."""


def day_result(fleet: str, day: Day, plan: Plan) -> DayResult:
    """The figures of one plan of the day."""
    works = [work for truck in plan.trucks for stop in truck.stops for work in stop.orders]
    return DayResult(
        fleet=fleet,
        date=plan.date,
        seed=plan.seed,
        engine=plan.engine,
        orders=len(whole_ids(day.orders, day.orders)),
        done_ft2=sum(work.area_ft2 for work in works),
        trucks=tuple(_truck_day(day.workbook.trucks[row.truck_id], row) for row in plan.trucks),
        held=by_order(plan.held, day.orders),
        unserved=by_order(plan.unserved, day.orders),
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
