"""An engine's answer made into a day's plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.day.day import Day
from planner.mixing.limits import Hold
from planner.mixing.recipes import Recipe
from planner.plan.done_part import Underway
from planner.plan.model import (
    PLAN_VERSION,
    Again,
    CleaningEntry,
    DayTotals,
    NotDone,
    Plan,
    TruckPlan,
)
from planner.plan.schedule import Windows, schedule_rest, schedule_truck
from planner.plan.totals import NOTHING, add_totals, truck_totals
from planner.roads.travel import Travel
from planner.routing.problem import Answer, Loading, TruckAnswer
from planner.routing.shared.site_queue import Refill, Waits, queue_waits


@dataclass(frozen=True)
class Origin:
    """How a plan came about, kept in plan.json. effort: 'count 300' or 'seconds 20'."""

    seed: int
    effort: str
    engine: str
    roads: str
    roads_warning: str


@dataclass(frozen=True)
class MadeAgain:
    """What a plan that is made again takes over. underway: trucks that are out already."""

    what: Again
    underway: Mapping[str, Underway]


@dataclass(frozen=True)
class _Sources:
    day: Day
    recipes: Mapping[str, Recipe]
    windows: Mapping[str, Windows]
    travel: Mapping[str, Travel]
    waits: Mapping[str, Waits] = field(default_factory=dict)


def make_plan(
    day: Day,
    recipes: Mapping[str, Recipe],
    order_windows: Mapping[str, Windows],
    holds: Sequence[Hold],
    answer: Answer,
    travel_by_truck: Mapping[str, Travel],
    origin: Origin,
    made_again: MadeAgain | None = None,
) -> Plan:
    """Every time and gallon recomputed from the engine's loading and stop orders. made_again: of a
    plan that takes up the day where it stands; the trucks are then all of the day's."""
    sources = _Sources(day, recipes, order_windows, travel_by_truck)
    answers = {truck.truck_id: truck for truck in answer.trucks}
    underway = {} if made_again is None else made_again.underway
    names = tuple(answers if made_again is None else day.workbook.trucks)

    def truck_plan(with_waits: _Sources, truck_id: str) -> TruckPlan:
        given = answers.get(truck_id)
        if truck_id in underway:
            return _rest_plan(with_waits, truck_id, underway[truck_id], given)
        return _truck_plan(with_waits, given or _stays_home(truck_id))

    sources = replace(sources, waits=_waits(sources, names, truck_plan))
    trucks = tuple(truck_plan(sources, truck_id) for truck_id in names)
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
        again=None if made_again is None else made_again.what,
    )


def _waits(
    sources: _Sources, names: Sequence[str], truck_plan: Callable[[_Sources, str], TruckPlan]
) -> Mapping[str, Waits]:
    """Where trucks wait for each other (rule 28)."""
    sites = sources.day.workbook.sites
    at_once = {
        name: site.trucks_at_once for name, site in sites.items() if site.trucks_at_once is not None
    }
    if not at_once:
        return {}
    busy: dict[str, list[float]] = {name: [] for name in at_once}
    for truck_id in names:
        for stop in truck_plan(sources, truck_id).stops:
            if stop.done and stop.kind == "refill" and stop.place_id in busy:
                busy[stop.place_id].append(stop.leave_min)

    def refills_of(truck_id: str, waits: Waits) -> list[Refill]:
        planned = truck_plan(replace(sources, waits={truck_id: waits}), truck_id)
        fresh = [stop for stop in planned.stops if stop.kind == "refill" and not stop.done]
        return [
            Refill(
                number,
                stop.place_id,
                stop.arrive_min,
                max(stop.arrive_min, sites[stop.place_id].open_min or stop.arrive_min),
                stop.leave_min - stop.begin_min,
            )
            for number, stop in enumerate(fresh)
            if stop.place_id in at_once
        ]

    return queue_waits(refills_of, names, at_once, busy)


def _stays_home(truck_id: str) -> TruckAnswer:
    return TruckAnswer(truck_id, Loading((), ()), ())


def _rest_plan(
    sources: _Sources, truck_id: str, underway: Underway, answer: TruckAnswer | None
) -> TruckPlan:
    """A truck that is out: its done stops, what the answer gives it, and the way home."""
    truck = sources.day.workbook.trucks[truck_id]
    planned, standing = underway.planned, underway.standing
    stops, end_gal = underway.done, standing.level_gal
    if not underway.home or (answer is not None and answer.stops):
        stops, end_gal = schedule_rest(
            sources.day,
            sources.recipes,
            sources.windows,
            answer or TruckAnswer(truck_id, standing.loading, ()),
            sources.travel[truck_id],
            underway.done,
            standing,
            sources.waits.get(truck_id, {}),
        )
    cleaning_min = sum(entry.minutes for entry in planned.cleaning)
    return replace(
        planned,
        stops=stops,
        end_gal=end_gal,
        totals=truck_totals(sources.day.workbook.settings, truck, stops, cleaning_min),
    )


def _truck_plan(sources: _Sources, answer: TruckAnswer) -> TruckPlan:
    day = sources.day
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
    stops, end_gal = schedule_truck(
        day,
        sources.recipes,
        sources.windows,
        answer,
        sources.travel[truck.truck_id],
        sources.waits.get(truck.truck_id, {}),
    )
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
