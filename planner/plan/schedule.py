"""One truck's day recomputed from its loading and stop order: every clock time and gallon.

The rules stand in planner/docs/rules.md, 'What each time and gallon means'.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.places import Site
from planner.mixing.fills import Level, draw, fill_gallons, weight_lb
from planner.mixing.measures import measured_fill
from planner.mixing.recipes import Recipe
from planner.plan.model import Draw, Fill, ProductAmount, Stop, Work
from planner.plan.stop_order import Need, PlannedWork, StopItem, events_of, line_of_mix, needs
from planner.roads.travel import Travel
from planner.routing.problem import Loading, Route, StopKind, TruckStanding
from planner.routing.shared.site_queue import DEPART, Waits

Windows = tuple[Window, ...] | None


def schedule_truck(
    day: Day,
    recipes: Mapping[str, Recipe],
    order_windows: Mapping[str, Windows],
    answer: Route,
    travel: Travel,
    waits: Waits = MappingProxyType({}),
) -> tuple[tuple[Stop, ...], dict[str, float]]:
    """Stops of one truck with times, gallons and weights, and gallons left per compartment. waits:
    number of a refill among the truck's (from 0; DEPART = the first fill) -> minute before which
    others fill there."""
    truck = day.workbook.trucks[answer.truck_id]
    clock = _TruckClock(day, recipes, order_windows, truck, answer, travel)
    clock.waits = waits
    events = events_of(day, truck, answer.loading, answer.stops, truck.hose_mix)
    wanted = needs(day, truck.yard_id, events, line_of_mix(truck, answer.loading))
    clock.depart(wanted[0], sum(entry.minutes for entry in answer.loading.cleaning))
    clock.run(events, wanted)
    clock.back()
    return clock.finished(), {level.compartment_id: level.gal for level in clock.levels}


def schedule_rest(
    day: Day,
    recipes: Mapping[str, Recipe],
    order_windows: Mapping[str, Windows],
    answer: Route,
    travel: Travel,
    done: tuple[Stop, ...],
    standing: TruckStanding,
    waits: Waits = MappingProxyType({}),
) -> tuple[tuple[Stop, ...], dict[str, float]]:
    """As schedule_truck, of a truck that is out already: its done stops, then the answer's from
    where it stands. There is no fill before it goes on (rule 23)."""
    truck = day.workbook.trucks[answer.truck_id]
    loading = standing.loading
    answer = replace(answer, loading=loading)
    clock = _TruckClock(day, recipes, order_windows, truck, answer, travel)
    clock.waits = waits
    clock.go_on(done, standing, lunch=bool(answer.stops))
    events = events_of(day, truck, loading, answer.stops, standing.hose_mix)
    clock.run(events, needs(day, truck.yard_id, events, line_of_mix(truck, loading)))
    clock.back()
    return clock.finished(), {level.compartment_id: level.gal for level in clock.levels}


def start_levels(
    truck: Truck,
    loading: Loading,
    recipes: Mapping[str, Recipe],
    fill_to: Mapping[str, float] = MappingProxyType({}),
) -> tuple[Level, ...]:
    """Compartments before the first fill, after cleaning (rule 4). fill_to: as far as they may be
    filled where that is less than their capacity (rule 40)."""
    cleaned = {entry.compartment_id for entry in loading.cleaning}
    levels = []
    for compartment, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        keeps = compartment.leftover_gal > 0 and compartment.compartment_id not in cleaned
        inside = mix_id if mix_id is not None else compartment.last_mix
        levels.append(
            Level(
                compartment.compartment_id,
                mix_id,
                min(compartment.capacity_gal, fill_to.get(compartment.compartment_id, math.inf)),
                compartment.heel_gal,
                compartment.leftover_gal if keeps else 0.0,
                recipes[inside].density_lb_per_gal if inside is not None else 0.0,
            )
        )
    return tuple(levels)


def filling_min(site: Site, fills: Sequence[Fill]) -> float:
    """Minutes that a departure's fills take; none without a fill."""
    if not fills:
        return 0.0
    return site.setup_min + sum(fill.gal for fill in fills) / site.fill_gal_per_min


def earliest_begin(now: float, windows: Windows, work_min: float) -> float:
    """Minute at which work of that length may begin inside one window.

    When no window fits, work begins in the last one still open, or at once: the audit says so.
    """
    if windows is None:
        return now
    for window in windows:
        begin = max(now, window.open_min)
        # The tolerance keeps a spray that ends at closing time, to float noise, inside.
        if begin + work_min <= window.close_min + 1e-9:
            return begin
    still_open = [window for window in windows if window.close_min >= now]
    return max(now, still_open[-1].open_min) if still_open else now


@dataclass
class _Drawn:
    """Orders sprayed from a compartment since its last fill (stop and fill it belongs to)."""

    stop: int
    fill: int
    order_ids: list[str]


class _TruckClock:
    """Walks one truck through its events."""

    def __init__(
        self,
        day: Day,
        recipes: Mapping[str, Recipe],
        order_windows: Mapping[str, Windows],
        truck: Truck,
        answer: Route,
        travel: Travel,
    ) -> None:
        self._day, self._recipes, self._windows = day, recipes, order_windows
        self._truck, self._travel, self._rows = truck, travel, travel.index()
        self.levels = start_levels(truck, answer.loading, recipes, dict(answer.fill_to))
        self._stops: list[Stop] = []
        self._drawn: dict[str, _Drawn] = {}
        self._now = truck.shift_start_min
        self._place = truck.yard_id
        self._refills = 0
        self.waits: Waits = {}

    def depart(self, need: Need, cleaning_min: float) -> None:
        """Report, inspect, fill in the yard and leave (rules 12 and 35)."""
        fills = self._fill(need)
        begin = self._truck.inspected_min
        lasts = 0.0
        if self._truck.yard_loading == "morning":
            begin += cleaning_min
            lasts = filling_min(self._day.workbook.sites[self._place], fills)
            if lasts:
                begin = max(begin, self.waits.get(DEPART, begin))
        self._add("depart", self._place, 0.0, 0.0, self._now, begin, begin + lasts, fills=fills)

    def go_on(self, done: tuple[Stop, ...], standing: TruckStanding, *, lunch: bool) -> None:
        """Take up the day where the truck stands. lunch: one that it has meanwhile counts."""
        self._stops = list(done)
        self.levels = tuple(
            replace(level, gal=standing.level_gal[level.compartment_id]) for level in self.levels
        )
        self._place = standing.place_id
        begin = standing.lunch_begin_min
        if lunch and begin is not None:
            leave = begin + self._truck.lunch_min
            self._add("lunch", self._place, 0.0, 0.0, begin, begin, leave)
        self._now = standing.free_min

    def run(self, events: Sequence[StopItem], wanted: Sequence[Need]) -> None:
        """All stops between. wanted: of the departure, then of each refill."""
        fill = 0
        for event in events:
            if event.kind is StopKind.REFILL:
                fill += 1
                self.refill(event, wanted[fill])
            elif event.kind is StopKind.LUNCH:
                self.lunch()
            else:
                self.visit(event)

    def refill(self, event: StopItem, need: Need) -> None:
        """Drive to a site, wait for opening and for trucks that came before, top up."""
        site = self._day.workbook.sites[event.place_id]
        drive_min, miles, arrive = self._drive(event.place_id)
        begin = arrive if site.open_min is None else max(arrive, site.open_min)
        begin = max(begin, self.waits.get(self._refills, begin))
        self._refills += 1
        fills = self._fill(need)
        gal = sum(fill.gal for fill in fills)
        leave = begin + site.setup_min + gal / site.fill_gal_per_min
        self._add("refill", event.place_id, drive_min, miles, arrive, begin, leave, fills=fills)

    def lunch(self) -> None:
        """Take the break where the truck stands."""
        earliest = self._truck.lunch_earliest_min
        begin = self._now if earliest is None else max(self._now, earliest)
        leave = begin + self._truck.lunch_min
        self._add("lunch", self._place, 0.0, 0.0, self._now, begin, leave)

    def visit(self, event: StopItem) -> None:
        """Drive to a property and do its orders one after the other."""
        drive_min, miles, arrive = self._drive(event.place_id)
        setup = self._day.workbook.settings.setup_min_per_visit
        works: list[Work] = []
        begin = now = arrive
        for number, planned in enumerate(event.works):
            lead = setup if number == 0 else 0.0
            length = lead + planned.changeover_min + planned.spray_min
            start = earliest_begin(now, self._windows[planned.order_id], length)
            if number == 0:
                begin = start
            works.append(self._work(planned, start + lead))
            now = works[-1].end_min
        self._add(
            "visit", event.place_id, drive_min, miles, arrive, begin, now, orders=tuple(works)
        )

    def back(self) -> None:
        """Drive home; the crew is released after wash-down and paperwork."""
        drive_min, miles, arrive = self._drive(self._truck.yard_id)
        leave = arrive + self._truck.closing_min
        self._add("return", self._truck.yard_id, drive_min, miles, arrive, arrive, leave)

    def finished(self) -> tuple[Stop, ...]:
        """Stops in order, each fill naming the orders that were sprayed from it."""
        for drawn in self._drawn.values():
            self._close(drawn)
        return tuple(self._stops)

    def _drive(self, to_place: str) -> tuple[float, float, float]:
        a, b = self._rows[self._place], self._rows[to_place]
        drive_min, miles = float(self._travel.minutes[a, b]), float(self._travel.miles[a, b])
        self._place = to_place
        return drive_min, miles, self._now + drive_min

    def _work(self, planned: PlannedWork, begin: float) -> Work:
        self.levels, hose_taken = draw(self.levels, planned.mix_id, planned.hose_gal)
        self.levels, taken = draw(self.levels, planned.mix_id, planned.gal)
        for compartment_id, _ in taken:
            if compartment_id in self._drawn:
                self._drawn[compartment_id].order_ids.append(planned.order_id)
        order = self._day.workbook.orders[planned.order_id]
        return Work(
            order_id=planned.order_id,
            mix_id=planned.mix_id,
            line_id=planned.line.line_id,
            area_ft2=order.area_ft2,
            gal=planned.gal,
            compartments=tuple(Draw(name, gal) for name, gal in taken),
            hose_gal=planned.hose_gal,
            hose_compartments=tuple(Draw(name, gal) for name, gal in hose_taken),
            displaced_mix_id=planned.displaced_mix_id,
            changeover_min=planned.changeover_min,
            begin_min=begin,
            spray_min=planned.spray_min,
            end_min=begin + planned.changeover_min + planned.spray_min,
            products=products_in(self._recipes[planned.mix_id], planned.gal),
        )

    def _fill(self, need: Need) -> tuple[Fill, ...]:
        margin = self._day.workbook.settings.fill_margin_percent
        added = fill_gallons(
            self.levels, need.spray_gal, need.hose_gal, margin, self._truck.payload_lb
        )
        fills: list[Fill] = []
        levels: list[Level] = []
        for level, gal in zip(self.levels, added, strict=True):
            levels.append(replace(level, gal=level.gal + gal))
            if gal <= 0 or level.mix_id is None:
                continue
            recipe = self._recipes[level.mix_id]
            if level.compartment_id in self._drawn:
                self._close(self._drawn[level.compartment_id])
            self._drawn[level.compartment_id] = _Drawn(len(self._stops), len(fills), [])
            compartment = self._truck.compartment(level.compartment_id)
            measured = measured_fill(self._day.workbook, recipe, compartment, level.gal, gal)
            fills.append(
                Fill(
                    compartment_id=level.compartment_id,
                    mix_id=level.mix_id,
                    gal=gal,
                    water_gal=gal * recipe.water_gal_per_gal,
                    level_before_gal=level.gal,
                    level_after_gal=level.gal + gal,
                    weight_lb=gal * recipe.density_lb_per_gal,
                    products=products_in(recipe, gal),
                    order_ids=(),
                    metered_water_gal=measured.water_gal,
                    measured=tuple(
                        ProductAmount(part.product_id, measured.amounts[part.product_id], part.unit)
                        for part in recipe.parts
                    ),
                )
            )
        self.levels = tuple(levels)
        return tuple(fills)

    def _close(self, drawn: _Drawn) -> None:
        stop = self._stops[drawn.stop]
        fills = list(stop.fills)
        fills[drawn.fill] = replace(fills[drawn.fill], order_ids=tuple(drawn.order_ids))
        self._stops[drawn.stop] = replace(stop, fills=tuple(fills))

    def _add(
        self,
        kind: str,
        place_id: str,
        drive_min: float,
        drive_miles: float,
        arrive: float,
        begin: float,
        leave: float,
        orders: tuple[Work, ...] = (),
        fills: tuple[Fill, ...] = (),
    ) -> None:
        book = self._day.workbook
        place = book.sites.get(place_id) or book.properties[place_id]
        self._stops.append(
            Stop(
                seq=len(self._stops),
                kind=kind,
                place_id=place_id,
                lat=place.lat,
                lon=place.lon,
                drive_min=drive_min,
                drive_miles=drive_miles,
                arrive_min=arrive,
                begin_min=begin,
                leave_min=leave,
                weight_lb_after=self._truck.ready_lb + weight_lb(self.levels),
                orders=orders,
                fills=fills,
            )
        )
        self._now = leave


def products_in(recipe: Recipe, gal: float) -> tuple[ProductAmount, ...]:
    """Product in so many gallons of a mix, in the mix's order."""
    return tuple(
        ProductAmount(part.product_id, part.amount_per_gal * gal, part.unit)
        for part in recipe.parts
    )
