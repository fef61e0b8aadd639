"""What is said and recorded of done stops, and their levels, hoses, drives and weights worked out
again where these are not as planned (rule 22)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from planner.day.fleet import Truck
from planner.mixing.cleaning import Cleaning
from planner.mixing.fills import draw, weight_lb
from planner.mixing.recipes import Recipe
from planner.plan.model import Draw, Fill, Stop, TruckPlan, Work
from planner.plan.schedule import products_in, start_levels
from planner.roads.travel import Travel
from planner.routing.problem import Loading


@dataclass(frozen=True)
class Sprayed:
    """What was recorded of an order. None = not known: the plan's figure stays."""

    gal: float | None = None
    area_ft2: float | None = None
    begin_min: float | None = None
    end_min: float | None = None


@dataclass(frozen=True)
class Told:
    """What the office says apart from the clock. done, open: orders; filled: the trucks stand
    filled as planned; sprayed: recorded facts by order; fill_gal: recorded gallons by (truck, stop
    number, compartment)."""

    done: frozenset[str] = frozenset()
    open: frozenset[str] = frozenset()
    filled: bool = False
    sprayed: Mapping[str, Sprayed] = field(default_factory=dict)
    fill_gal: Mapping[tuple[str, int, str], float] = field(default_factory=dict)

    def is_done(self, order_id: str, by_the_clock: bool) -> bool:
        """Whether an order is sprayed."""
        return order_id in self.done or (by_the_clock and order_id not in self.open)


def loading_of(truck: Truck, planned: TruckPlan) -> Loading:
    """The loading of a planned truck, as the engines hold it."""
    return Loading(
        tuple(planned.loading[tank.compartment_id] for tank in truck.compartments),
        tuple(Cleaning(**vars(entry)) for entry in planned.cleaning),
    )


class Replay:
    """Levels, hoses, drives and weights of done stops again, where they are not as planned."""

    def __init__(
        self,
        truck: Truck,
        planned: TruckPlan,
        recipes: Mapping[str, Recipe],
        travel: Travel,
        told: Told,
    ) -> None:
        self._truck, self._recipes, self._travel, self._told = truck, recipes, travel, told
        self._rows = travel.index()
        self._levels = start_levels(truck, loading_of(truck, planned), recipes)
        self._hoses = truck.hose_mix

    def run(self, stops: list[Stop]) -> list[Stop]:
        """The stops with their figures."""
        found: list[Stop] = []
        for stop in stops:
            fills = tuple(self._filled(stop, fill) for fill in stop.fills)
            works = tuple(self._sprayed(work) for work in stop.orders)
            found.append(self._timed(replace(stop, fills=fills, orders=works), found))
        return found

    def _filled(self, stop: Stop, fill: Fill) -> Fill:
        level = next(x for x in self._levels if x.compartment_id == fill.compartment_id)
        key = (self._truck.truck_id, stop.seq, fill.compartment_id)
        gal = self._told.fill_gal.get(key)
        if gal is None:
            # With less sprayed than planned the compartment was fuller, and is full sooner.
            gal = min(fill.gal, max(0.0, level.capacity_gal - level.gal))
        recipe = self._recipes[fill.mix_id]
        share = gal / fill.gal if fill.gal else 0.0
        self._levels = tuple(replace(x, gal=x.gal + gal) if x is level else x for x in self._levels)
        return replace(
            fill,
            gal=gal,
            water_gal=gal * recipe.water_gal_per_gal,
            level_before_gal=level.gal,
            level_after_gal=level.gal + gal,
            weight_lb=gal * recipe.density_lb_per_gal,
            products=products_in(recipe, gal),
            metered_water_gal=fill.metered_water_gal * share,
            measured=tuple(replace(one, amount=one.amount * share) for one in fill.measured),
        )

    def _sprayed(self, work: Work) -> Work:
        fact = self._told.sprayed.get(work.order_id, Sprayed())
        gal = work.gal if fact.gal is None else fact.gal
        line = self._truck.line(work.line_id)
        held = self._hoses.get(work.line_id)
        hose_gal = 0.0 if held == work.mix_id else line.hose_gal
        displaced = None if held == work.mix_id else held
        self._hoses[work.line_id] = work.mix_id
        self._levels, hose_taken = draw(self._levels, work.mix_id, hose_gal)
        self._levels, taken = draw(self._levels, work.mix_id, gal)
        hose_taken, taken = self._there_was(hose_taken), self._there_was(taken)
        return replace(
            work,
            area_ft2=work.area_ft2 if fact.area_ft2 is None else fact.area_ft2,
            gal=gal,
            compartments=tuple(Draw(name, one) for name, one in taken),
            hose_gal=hose_gal,
            hose_compartments=tuple(Draw(name, one) for name, one in hose_taken),
            displaced_mix_id=displaced,
            changeover_min=0.0 if displaced is None else hose_gal / line.gun_gal_per_min,
            begin_min=work.begin_min if fact.begin_min is None else fact.begin_min,
            end_min=work.end_min if fact.end_min is None else fact.end_min,
            spray_min=gal / line.gun_gal_per_min,
            products=products_in(self._recipes[work.mix_id], gal),
        )

    def _there_was(self, taken: tuple[tuple[str, float], ...]) -> tuple[tuple[str, float], ...]:
        """Draws without what would leave less than nothing in a compartment: records may say that
        more was sprayed than there was."""
        found = []
        for name, gal in taken:
            level = next(x for x in self._levels if x.compartment_id == name)
            if level.gal < 0.0:
                gal += level.gal
                self._levels = tuple(replace(x, gal=0.0) if x is level else x for x in self._levels)
            found.append((name, gal))
        return tuple(found)

    def _timed(self, stop: Stop, before: list[Stop]) -> Stop:
        """Drive from the stop before, and the weight; recorded times move the stop's own."""
        if before and stop.kind == "lunch":
            here = before[-1]
            stop = replace(stop, place_id=here.place_id, lat=here.lat, lon=here.lon)
        drive_min, miles = stop.drive_min, stop.drive_miles
        if before:
            a, b = self._rows[before[-1].place_id], self._rows[stop.place_id]
            drive_min = float(self._travel.minutes[a, b])
            miles = float(self._travel.miles[a, b])
        arrive, begin, leave = stop.arrive_min, stop.begin_min, stop.leave_min
        facts = [self._told.sprayed.get(work.order_id) for work in stop.orders]
        if any(fact and fact.begin_min is not None for fact in facts):
            first = min(work.begin_min for work in stop.orders)
            arrive, begin = min(arrive, first), min(begin, first)
        if any(fact and fact.end_min is not None for fact in facts):
            leave = max(work.end_min for work in stop.orders)
        return replace(
            stop,
            drive_min=drive_min,
            drive_miles=miles,
            arrive_min=arrive,
            begin_min=begin,
            leave_min=max(leave, begin),
            weight_lb_after=self._truck.ready_lb + weight_lb(self._levels),
        )
