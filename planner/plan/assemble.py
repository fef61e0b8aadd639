"""An engine's answer made into a day's plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from planner.day.fleet import Truck
from planner.day.parts import whole_ids
from planner.plan.done_part import Underway
from planner.plan.model import (
    PLAN_VERSION,
    Again,
    CleaningEntry,
    DayTotals,
    FillTo,
    NotDone,
    NotToday,
    Overdue,
    Plan,
    Stop,
    Totals,
    TruckPlan,
)
from planner.plan.schedule import filling_min, schedule_rest, schedule_truck, start_levels
from planner.plan.totals import NOTHING, add_totals, truck_totals
from planner.prepare import PreparedDay
from planner.roads.travel import Travel
from planner.routing.problem import Loading, Route, Solution
from planner.routing.shared.site_queue import DEPART, Refill, Waits, queue_waits

MOST_KEPT: Final = 5_000
"""Days of trucks that a scheduler remembers: hours of changing by hand, some ten megabytes."""


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


class Scheduler:
    """Trucks' days worked out from loadings and stop orders. The same loading, stops and waits give
    the same TruckPlan object again, so that a change of one truck costs one truck's work."""

    def __init__(
        self,
        prepared: PreparedDay,
        travel_by_truck: Mapping[str, Travel],
        underway: Mapping[str, Underway] = MappingProxyType({}),
    ) -> None:
        self.prepared = prepared
        self.underway = underway
        self.travel_by_truck = travel_by_truck
        self._known: dict[tuple[object, ...], TruckPlan] = {}

    def truck_plan(self, truck_id: str, given: Route | None, waits: Waits) -> TruckPlan:
        """One truck's day. given: None = it gets nothing (more)."""
        key = (truck_id, given, tuple(waits.items()))
        if key not in self._known:
            if len(self._known) >= MOST_KEPT:
                self._known.clear()
            if truck_id in self.underway:
                self._known[key] = self._rest_plan(truck_id, given, waits)
            else:
                self._known[key] = self._whole_plan(given or _stays_home(truck_id), waits)
        return self._known[key]

    def _rest_plan(self, truck_id: str, answer: Route | None, waits: Waits) -> TruckPlan:
        """A truck that is out: its done stops, what the answer gives it, and the way home."""
        prepared, underway = self.prepared, self.underway[truck_id]
        truck = prepared.day.workbook.trucks[truck_id]
        planned, standing = underway.planned, underway.standing
        stops, end_gal = underway.done, standing.level_gal
        if not underway.home or (answer is not None and answer.stops):
            stops, end_gal = schedule_rest(
                prepared.day,
                prepared.recipes,
                prepared.windows,
                replace(
                    answer or Route(truck_id, standing.loading, ()),
                    fill_to=tuple(planned.fill_to_gal.items()),
                ),
                self.travel_by_truck[truck_id],
                underway.done,
                standing,
                waits,
            )
        cleaning_min = sum(entry.minutes for entry in planned.cleaning)
        return replace(
            planned, stops=stops, end_gal=end_gal, totals=self._totals(truck, stops, cleaning_min)
        )

    def _whole_plan(self, answer: Route, waits: Waits) -> TruckPlan:
        day = self.prepared.day
        truck = day.workbook.trucks[answer.truck_id]
        names = [compartment.compartment_id for compartment in truck.compartments]
        if not answer.stops:
            return TruckPlan(
                truck_id=truck.truck_id,
                loading=dict.fromkeys(names),
                start_gal={row.compartment_id: row.leftover_gal for row in truck.compartments},
                cleaning=(),
                stops=(),
                end_gal={row.compartment_id: row.leftover_gal for row in truck.compartments},
                totals=NOTHING,
            )
        stops, end_gal = schedule_truck(
            day,
            self.prepared.recipes,
            self.prepared.windows,
            answer,
            self.travel_by_truck[truck.truck_id],
            waits,
        )
        loading = answer.loading
        return TruckPlan(
            truck_id=truck.truck_id,
            loading=dict(zip(names, loading.mix_of, strict=True)),
            start_gal={
                level.compartment_id: level.gal
                for level in start_levels(truck, loading, self.prepared.recipes)
            },
            cleaning=tuple(CleaningEntry(**vars(entry)) for entry in loading.cleaning),
            stops=stops,
            end_gal=end_gal,
            totals=self._totals(truck, stops, loading.cleaning_min),
            fill_to=tuple(FillTo(name, gal) for name, gal in answer.fill_to),
        )

    def _totals(self, truck: Truck, stops: Sequence[Stop], cleaning_min: float) -> Totals:
        day = self.prepared.day
        book = day.workbook
        evening_min = 0.0
        if truck.yard_loading == "evening":
            evening_min = filling_min(book.sites[truck.yard_id], stops[0].fills)
        return truck_totals(book.settings, truck, stops, cleaning_min, day.orders, evening_min)


def make_plan(
    prepared: PreparedDay,
    answer: Solution,
    travel_by_truck: Mapping[str, Travel],
    origin: Origin,
    made_again: MadeAgain | None = None,
    scheduler: Scheduler | None = None,
) -> Plan:
    """Every time and gallon recomputed from the engine's loading and stop orders. made_again: of a
    plan that takes up the day where it stands; the trucks are then all of the day's. scheduler: of
    the same prepared day and travel, to use what it has worked out before."""
    day = prepared.day
    answers = {truck.truck_id: truck for truck in answer.routes}
    underway = {} if made_again is None else made_again.underway
    names = tuple(answers if made_again is None else day.workbook.trucks)
    scheduler = scheduler or Scheduler(prepared, travel_by_truck, underway)
    waits = _waits(scheduler, names, answers)
    trucks = tuple(
        scheduler.truck_plan(truck_id, answers.get(truck_id), waits.get(truck_id, {}))
        for truck_id in names
    )
    held = tuple(NotDone(hold.order_id, hold.code, hold.reason) for hold in prepared.held)
    unserved = tuple(
        NotDone(order_id, code, reason) for order_id, (code, reason) in answer.unserved.items()
    )
    done = (work.order_id for truck in trucks for stop in truck.stops for work in stop.orders)
    # A lawn in parts (rule 39) is one order, whichever trucks do them.
    count, missed, kept = (
        len(whole_ids(day.orders, names))
        for names in (done, answer.unserved, (hold.order_id for hold in prepared.held))
    )
    sums = replace(add_totals(truck.totals for truck in trucks), orders=count)
    left_out = () if made_again is None else made_again.what.skipped
    return Plan(
        version=PLAN_VERSION,
        date=day.date.isoformat(),
        workbook_sha256=day.workbook.sha256,
        **vars(origin),
        trucks=trucks,
        held=held,
        unserved=unserved,
        totals=DayTotals(sums, missed, kept),
        refill_gap=answer.refill_gap,
        again=None if made_again is None else made_again.what,
        overdue=tuple(Overdue(order.order_id, days) for order, days in prepared.roll.overdue),
        not_today=tuple(
            NotToday(order.order_id, standing.code, standing.reason, standing.next_text)
            for order, standing in (*prepared.roll.on_hold, *prepared.roll.not_today)
            if order.order_id not in left_out
        ),
        given_up=tuple(
            NotDone(order.order_id, standing.code, standing.reason)
            for order, standing in prepared.roll.given_up
            if order.order_id not in left_out
        ),
        laid_later=day.laid_later,
        use_home=day.use_home,
    )


def _waits(
    scheduler: Scheduler, names: Sequence[str], answers: Mapping[str, Route]
) -> Mapping[str, Waits]:
    """Where trucks wait for each other (rule 28)."""
    book = scheduler.prepared.day.workbook
    sites = book.sites
    at_once = {
        name: site.trucks_at_once for name, site in sites.items() if site.trucks_at_once is not None
    }
    if not at_once:
        return {}
    busy: dict[str, list[float]] = {name: [] for name in at_once}

    def queues(truck_id: str, stop: Stop) -> bool:
        if stop.place_id not in at_once:
            return False
        loads = stop.kind == "depart" and bool(stop.fills)
        in_morning = loads and book.trucks[truck_id].yard_loading == "morning"
        return stop.kind == "refill" or in_morning

    for truck_id in names:
        for stop in scheduler.truck_plan(truck_id, answers.get(truck_id), {}).stops:
            if stop.done and queues(truck_id, stop):
                busy[stop.place_id].append(stop.leave_min)

    def refills_of(truck_id: str, waits: Waits) -> list[Refill]:
        planned = scheduler.truck_plan(truck_id, answers.get(truck_id), waits)
        fresh = [stop for stop in planned.stops if stop.kind == "refill" and not stop.done]
        found = [
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
        for load in planned.stops[:1]:
            if not load.done and queues(truck_id, load):
                ready = scheduler.truck_plan(truck_id, answers.get(truck_id), {}).stops[0].begin_min
                lasts = load.leave_min - load.begin_min
                found.insert(0, Refill(DEPART, load.place_id, ready, ready, lasts))
        return found

    turns = {name: route.load_turn for name, route in answers.items()}
    return queue_waits(refills_of, names, at_once, busy, turns)


def _stays_home(truck_id: str) -> Route:
    return Route(truck_id, Loading((), ()), ())
