"""The part of a truck's day that is done when the day is planned again (rules 20 to 22), as said
and recorded; levels, hoses, drives and weights are worked out again where it is not as planned."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from planner.day.fleet import Truck
from planner.mixing.fills import draw, weight_lb
from planner.mixing.recipes import Recipe
from planner.mixing.separation import Cleaning
from planner.plan.model import Draw, Fill, Stop, TruckPlan, Work
from planner.plan.schedule import products_in, start_levels
from planner.roads.travel import Travel
from planner.routing.problem import Loading, TruckStanding


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


HAIR_GAL: Final = 1e-4
"""More than a day of figures rounded to six decimals can add up to, less than any gauge shows."""


@dataclass(frozen=True)
class Underway:
    """A truck that is out already. planned: its day in the earlier plan; done: the stops that are
    done; standing: after them."""

    planned: TruckPlan
    done: tuple[Stop, ...]
    standing: TruckStanding

    @property
    def home(self) -> bool:
        """Whether it is home or on its way: its day is over."""
        return self.done[-1].kind == "return"


def set_out_for(stops: tuple[Stop, ...], row: int, at_min: float) -> bool:
    """Whether a truck has set out for a stop by then (the departure: whether it has left)."""
    stop = stops[row]
    return stop.done or stops[max(0, row - 1)].leave_min <= at_min


def done_part(
    truck: Truck,
    planned: TruckPlan,
    recipes: Mapping[str, Recipe],
    travel: Travel,
    at_min: float,
    told: Told,
) -> tuple[Stop, ...]:
    """The stops of a truck that are done, numbered anew and marked; as the earlier plan has them
    where nothing in between was left out and nothing else is recorded. A return at the end: the
    truck is home or on its way. () for one that has not left and does not stand filled."""
    kept = _kept(planned, at_min, told)
    if not kept:
        return ()
    stops = [
        stop
        if len(works) == len(stop.orders)
        else replace(stop, orders=works, leave_min=works[-1].end_min)
        for _, stop, works in kept
    ]
    if kept[-1][1].orders and not set_out_for(planned.stops, kept[-1][0], at_min):
        stops = _hurried(stops, at_min)
    gap = [row for row, _, _ in kept] != list(range(len(kept)))
    other = gap or any(
        work.order_id in told.sprayed for stop in planned.stops for work in stop.orders
    )
    other = other or any(name == truck.truck_id for name, _, _ in told.fill_gal)
    other = other or any(len(works) < len(stop.orders) for _, stop, works in kept)
    if other:
        stops = Replay(truck, planned, recipes, travel, told).run(stops)
    return tuple(replace(stop, seq=row, done=True) for row, stop in enumerate(stops))


def standing_of(
    truck: Truck, planned: TruckPlan, done: tuple[Stop, ...], at_min: float, free_min: float
) -> TruckStanding:
    """Where a truck stands after its done stops. at_min: the day is planned again from then;
    free_min: it does not go on before that. One that stands long enough within its lunch hours has
    lunch meanwhile."""
    loading = loading_of(truck, planned)
    levels = dict(planned.start_gal)
    hoses = truck.hose_mix
    for stop in done:
        for fill in stop.fills:
            levels[fill.compartment_id] += fill.gal
        for work in stop.orders:
            hoses[work.line_id] = work.mix_id
            for taken in (*work.hose_compartments, *work.compartments):
                levels[taken.compartment_id] -= taken.gal
    cleaned = {entry.compartment_id for entry in loading.cleaning}
    inside: dict[str, str | None] = {}
    for tank, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        last = None if tank.compartment_id in cleaned else tank.last_mix
        inside[tank.compartment_id] = mix_id if mix_id is not None else last
    lunched = any(stop.kind == "lunch" for stop in done)
    lunch = None if lunched else _lunch_meanwhile(truck, max(at_min, done[-1].leave_min), free_min)
    return TruckStanding(
        place_id=done[-1].place_id,
        free_min=max(at_min, free_min, done[-1].leave_min),
        miles=sum(stop.drive_miles for stop in done),
        lunched=lunched or lunch is not None,
        loading=loading,
        level_gal={
            name: _without_hair(gal, truck.compartment(name).heel_gal)
            for name, gal in levels.items()
        },
        inside=inside,
        hose_mix=hoses,
        lunch_begin_min=lunch,
    )


def _lunch_meanwhile(truck: Truck, since_min: float, until_min: float) -> float | None:
    """When a crew that stands from then to then has its lunch, None = it has none or no time."""
    earliest, latest = truck.lunch_earliest_min, truck.lunch_latest_min
    if truck.lunch_min <= 0:
        return None
    begin = since_min if earliest is None else max(since_min, earliest)
    in_time = latest is None or begin <= latest
    return begin if in_time and begin + truck.lunch_min <= until_min else None


def _without_hair(gal: float, heel_gal: float) -> float:
    """A level that plan.json's last decimals put a hair beside the heel, on the heel."""
    return heel_gal if abs(gal - heel_gal) < HAIR_GAL else gal


def _kept(
    planned: TruckPlan, at_min: float, told: Told
) -> list[tuple[int, Stop, tuple[Work, ...]]]:
    """Row, stop and works of what is done."""
    stops = planned.stops
    filled_at = {
        seq for (name, seq, _), gal in told.fill_gal.items() if name == planned.truck_id and gal > 0
    }
    works = [
        tuple(
            work
            for work in stop.orders
            if told.is_done(work.order_id, set_out_for(stops, row, at_min))
        )
        for row, stop in enumerate(stops)
    ]
    last = max((row for row, done in enumerate(works) if done), default=-1)
    left_out = any(
        set_out_for(stops, row, at_min) and stop.orders and not works[row]
        for row, stop in enumerate(stops)
        if row > last
    )
    kept = []
    for row, stop in enumerate(stops):
        if stop.kind == "visit":
            here = bool(works[row])
        elif row == 0:
            here = told.filled or last > 0 or set_out_for(stops, row, at_min)
        else:
            # After a stop that the crew has not done, the clock of the plan says nothing more.
            reached = set_out_for(stops, row, at_min) and (stop.done or not left_out)
            here = row < last or reached or stop.seq in filled_at
        if here:
            kept.append((row, stop, works[row]))
    return kept


def _hurried(stops: list[Stop], at_min: float) -> list[Stop]:
    """A crew that is ahead of the plan: what it has done is moved together, so that it ended by
    at_min. Nobody wrote down when each stop was done."""
    ends = stops[-1].leave_min
    if ends <= at_min:
        return stops
    before = max((s.leave_min for s in stops if s.leave_min <= at_min), default=at_min)
    share = (at_min - before) / (ends - before)

    def moved(minute: float) -> float:
        return minute if minute <= before else before + (minute - before) * share

    return [
        replace(
            stop,
            arrive_min=moved(stop.arrive_min),
            begin_min=moved(stop.begin_min),
            leave_min=moved(stop.leave_min),
            orders=tuple(
                replace(work, begin_min=moved(work.begin_min), end_min=moved(work.end_min))
                for work in stop.orders
            ),
        )
        for stop in stops
    ]
