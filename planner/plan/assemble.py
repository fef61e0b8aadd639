"""An engine's answer made into a day's plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.day.day import Day
from planner.mixing.limits import Hold
from planner.mixing.recipes import Recipe
from planner.plan.model import (
    PLAN_VERSION,
    CleaningEntry,
    DayTotals,
    NotDone,
    Plan,
    TruckPlan,
)
from planner.plan.schedule import Windows, schedule_truck
from planner.plan.totals import NOTHING, add_totals, truck_totals
from planner.roads.travel import Travel
from planner.routing.problem import Answer, TruckAnswer


@dataclass(frozen=True)
class Origin:
    """How a plan came about, kept in plan.json. effort: 'count 300' or 'seconds 20'."""

    seed: int
    effort: str
    engine: str
    roads: str
    roads_warning: str


def make_plan(
    day: Day,
    recipes: Mapping[str, Recipe],
    order_windows: Mapping[str, Windows],
    holds: Sequence[Hold],
    answer: Answer,
    travel_by_truck: Mapping[str, Travel],
    origin: Origin,
) -> Plan:
    """Every time and gallon recomputed from the engine's loading and stop orders."""
    trucks = tuple(
        _truck_plan(day, recipes, order_windows, truck, travel_by_truck[truck.truck_id])
        for truck in answer.trucks
    )
    held = tuple(NotDone(hold.order_id, hold.code, hold.reason) for hold in holds)
    unserved = tuple(
        NotDone(order_id, code, reason) for order_id, (code, reason) in answer.unserved.items()
    )
    sums = add_totals(truck.totals for truck in trucks)
    return Plan(
        version=PLAN_VERSION,
        date=day.date.isoformat(),
        workbook_sha256=day.workbook.sha256,
        seed=origin.seed,
        effort=origin.effort,
        engine=origin.engine,
        roads=origin.roads,
        roads_warning=origin.roads_warning,
        trucks=trucks,
        held=held,
        unserved=unserved,
        totals=DayTotals(sums, len(unserved), len(held)),
    )


def _truck_plan(
    day: Day,
    recipes: Mapping[str, Recipe],
    order_windows: Mapping[str, Windows],
    answer: TruckAnswer,
    travel: Travel,
) -> TruckPlan:
    truck = day.workbook.trucks[answer.truck_id]
    names = [compartment.compartment_id for compartment in truck.compartments]
    if not answer.stops:
        return TruckPlan(
            truck_id=truck.truck_id,
            loading=dict.fromkeys(names),
            cleaning=(),
            stops=(),
            end_gal={row.compartment_id: row.leftover_gal for row in truck.compartments},
            totals=NOTHING,
        )
    stops, end_gal = schedule_truck(day, recipes, order_windows, answer, travel)
    loading = answer.loading
    return TruckPlan(
        truck_id=truck.truck_id,
        loading=dict(zip(names, loading.mix_of, strict=True)),
        cleaning=tuple(
            CleaningEntry(
                entry.compartment_id,
                entry.last_mix,
                entry.rinses,
                entry.water_gal_per_rinse,
                entry.minutes,
                entry.residue_share,
                entry.rinsate_goes_to,
                entry.why,
            )
            for entry in loading.cleaning
        ),
        stops=stops,
        end_gal=end_gal,
        totals=truck_totals(day.workbook.settings, truck, stops, loading.cleaning_min),
    )
