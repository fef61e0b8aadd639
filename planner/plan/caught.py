"""Mix that is caught from hoses: where it is caught, which lawns take it (rule 9), and the day as
the crew has it that follows that.

plan.json does not count on a container: whether the crew kept it is seen at the truck alone.
Papers, phone, actuals and records say what is true when it is sprayed as they ask.
"""

import math
from dataclasses import dataclass, field, replace

from planner.day.day import Workbook
from planner.day.fleet import Caught, Compartment, Truck
from planner.mixing.containers import LEAST_GAL, Containers
from planner.mixing.fills import WHOLE_GALLON_SLACK, Level, draw
from planner.mixing.measures import EMPTY_GAL, measured_fill
from planner.mixing.recipes import recipe
from planner.plan.model import Draw, Fill, Plan, ProductAmount, Stop, TruckPlan, Work
from planner.plan.schedule import products_in

NO_LAWN = -1
"""In the place of a stop: kept for another day."""

KEPT, YARD = -2, -3
"""In the place of a stop at which mix was caught: on another day, and in the yard when its line was
rinsed."""


@dataclass
class Catch:
    """Mix that is caught once. seq: stop, KEPT or YARD; order_id: before which, '' = none; line_id:
    of the hose, '' = caught on another day; lawns: gallons by the stop whose lawn takes them;
    from_truck: that hands the container over in the morning, '' = it is the truck's own."""

    seq: int
    order_id: str
    line_id: str
    mix_id: str
    gal: float
    from_truck: str = ""
    lawns: dict[int, float] = field(default_factory=dict)


def rinsed_lines(truck_plan: TruckPlan, truck: Truck) -> frozenset[str]:
    """Lines through whose hose a compartment is rinsed before the truck leaves."""
    return frozenset(truck.compartment(one.compartment_id).line_id for one in truck_plan.cleaning)


def catches(truck_plan: TruckPlan, truck: Truck) -> list[Catch]:
    """Everything that stands in service containers in the morning or is caught in the day, with the
    lawns that take it: the next of the truck's day with an order of that mix, NO_LAWN = none."""
    held, found = Containers[Catch](), list[Catch]()

    def catch(one: Catch) -> None:
        if one.gal > LEAST_GAL:
            found.append(one)
            held.catch(one.mix_id, one.gal, one)

    for kept in truck.service_containers:
        catch(Catch(KEPT, "", "", kept.mix_id, kept.gal, kept.from_truck))
    rinsed = rinsed_lines(truck_plan, truck)
    for line in truck.lines:
        if line.line_id in rinsed and line.hose_mix is not None:
            catch(Catch(YARD, "", line.line_id, line.hose_mix, line.hose_gal))
    for stop, work in ((at, one) for at in truck_plan.stops for one in at.orders):
        for one, gal in held.spray(work.mix_id, work.gal):
            one.lawns[stop.seq] = one.lawns.get(stop.seq, 0.0) + gal
        # What the yard has rinsed holds no mix at its first use.
        if work.displaced_mix_id is not None and work.line_id not in rinsed:
            catch(
                Catch(stop.seq, work.order_id, work.line_id, work.displaced_mix_id, work.hose_gal)
            )
        rinsed -= {work.line_id}
    for one, _, gal in held.left():
        one.lawns[NO_LAWN] = gal
    return found


def taken_gal(truck_plan: TruckPlan, truck: Truck) -> dict[tuple[int, str], float]:
    """(stop, mix) -> gallons that its lawn takes out of containers."""
    found: dict[tuple[int, str], float] = {}
    for one in catches(truck_plan, truck):
        for lawn, gal in one.lawns.items():
            found[lawn, one.mix_id] = found.get((lawn, one.mix_id), 0.0) + gal
    return found


def with_handed(plan: Plan, book: Workbook) -> Workbook:
    """The workbook with the containers of the morning on the trucks whose lawns take them: what
    finds no lawn of its own truck goes, before both leave, to the others of its yard that spray the
    mix, as much as they can use."""
    trucks = dict(book.trucks)
    rows = [row for row in plan.trucks if row.stops and row.truck_id in trucks]
    for giver in rows:
        for one in trucks[giver.truck_id].service_containers:
            spare_gal = sum(
                catch.lawns.get(NO_LAWN, 0.0)
                for catch in catches(giver, trucks[giver.truck_id])
                if (catch.seq, catch.mix_id, catch.from_truck) == (KEPT, one.mix_id, "")
            )
            for taker in rows:
                if one.from_truck or taker is giver:
                    continue
                truck = trucks[taker.truck_id]
                if truck.yard_id != trucks[giver.truck_id].yard_id:
                    continue
                handed = Caught(one.mix_id, spare_gal, giver.truck_id)
                gal = _used_gal(taker, _with(truck, handed), handed)
                gal -= _used_gal(taker, truck, handed)
                if gal > LEAST_GAL:
                    spare_gal -= gal
                    trucks[taker.truck_id] = _with(truck, replace(handed, gal=gal))
                    trucks[giver.truck_id] = _without(trucks[giver.truck_id], one.mix_id, gal)
    return replace(book, trucks=trucks) if trucks != book.trucks else book


def _used_gal(taker: TruckPlan, truck: Truck, handed: Caught) -> float:
    """What the lawns of the taker use of all that is handed over like this."""
    return sum(
        gal
        for one in catches(taker, truck)
        if (one.seq, one.mix_id, one.from_truck) == (KEPT, handed.mix_id, handed.from_truck)
        for lawn, gal in one.lawns.items()
        if lawn != NO_LAWN
    )


def _with(truck: Truck, handed: Caught) -> Truck:
    return replace(truck, service_containers=(*truck.service_containers, handed))


def _without(truck: Truck, mix_id: str, gal: float) -> Truck:
    """The truck without so many gallons of its own containers of a mix."""
    left = []
    for one in truck.service_containers:
        goes = min(gal, one.gal) if (one.mix_id, one.from_truck) == (mix_id, "") else 0.0
        gal -= goes
        if one.gal - goes > LEAST_GAL or not goes:
            left.append(replace(one, gal=one.gal - goes))
    return replace(truck, service_containers=tuple(left))


def as_told(plan: Plan, book: Workbook) -> Plan:
    """The plan with the levels, draws and fills that follow when mix in containers is sprayed as
    the papers ask. Lawns keep their gallons, less of them out of the compartments; a later fill
    brings the compartment to the plan's level with so much less; what no fill makes good is left
    in the evening. book: as with_handed gives it."""
    return replace(
        plan,
        trucks=tuple(
            CaughtWalk(row, book).truck_plan() if row.truck_id in book.trucks and row.stops else row
            for row in plan.trucks
        ),
    )


class CaughtWalk:
    """One truck's day, with caught mix sprayed first."""

    def __init__(self, planned: TruckPlan, book: Workbook) -> None:
        """book: as with_handed gives it."""
        self.planned, self.book = planned, book
        self.truck = book.trucks[planned.truck_id]
        self.taken = taken_gal(planned, self.truck)
        self.rinsed = rinsed_lines(planned, self.truck)
        self.levels = tuple(
            Level(
                tank.compartment_id,
                planned.loading.get(tank.compartment_id),
                tank.capacity_gal,
                tank.heel_gal,
                planned.start_gal.get(tank.compartment_id, 0.0),
                0.0,
            )
            for tank in sorted(self.truck.compartments, key=lambda tank: tank.position)
        )

    def truck_plan(self) -> TruckPlan:
        """The truck's plan as told; as it was where nothing comes out of a container."""
        takes = any(lawn != NO_LAWN for lawn, _ in self.taken)
        if not takes and not self.rinsed:
            return self.planned
        stops = tuple(self._stop(stop) for stop in self.planned.stops)
        more = {level.compartment_id: level.gal for level in self.levels}
        for name, gal in _walked(self.planned).items():
            more[name] = more.get(name, gal) - gal
        # The plan's own end stays: a figure that somebody changed shows in the sum check.
        end_gal = {
            name: max(0.0, gal + more.get(name, 0.0)) for name, gal in self.planned.end_gal.items()
        }
        return replace(self.planned, stops=stops, end_gal=end_gal)

    def _stop(self, stop: Stop) -> Stop:
        fills = tuple(self._fill(fill) for fill in stop.fills)
        orders = tuple(self._work(work, stop.seq) for work in stop.orders)
        return replace(stop, fills=fills, orders=orders)

    def _fill(self, fill: Fill) -> Fill:
        level = next(one for one in self.levels if one.compartment_id == fill.compartment_id)
        told = fill
        if abs(level.gal - fill.level_before_gal) > EMPTY_GAL:
            gal = _told_gal(fill, level)
            tank = self.truck.compartment(fill.compartment_id)
            told = measured_again(fill, self.book, tank, max(0.0, level.gal), gal)
        self.levels = tuple(
            replace(one, gal=one.gal + told.gal) if one is level else one for one in self.levels
        )
        return told

    def _work(self, work: Work, seq: int) -> Work:
        key, hose_gal = (seq, work.mix_id), work.hose_gal
        if work.line_id in self.rinsed and not hose_gal:
            # The plan has the mix in the hose that the rinse has pushed out.
            hose_gal = self.truck.line(work.line_id).hose_gal
        self.rinsed -= {work.line_id}
        caught_gal = min(work.gal, self.taken.get(key, 0.0))
        self.taken[key] = self.taken.get(key, 0.0) - caught_gal
        hose = self._drawn(work.mix_id, hose_gal)
        return replace(
            work,
            hose_compartments=hose,
            compartments=self._drawn(work.mix_id, work.gal - caught_gal),
        )

    def _drawn(self, mix_id: str, gal: float) -> tuple[Draw, ...]:
        self.levels, taken = draw(self.levels, mix_id, gal)
        return tuple(Draw(name, one) for name, one in taken)


def measured_again(
    fill: Fill, book: Workbook, tank: Compartment, before_gal: float, gal: float
) -> Fill:
    """The fill with other gallons on top of another level. Raises KeyError for a mix or product
    that the workbook does not have."""
    kitchen = recipe(book, fill.mix_id)
    told = measured_fill(book, kitchen, tank, before_gal, gal)
    return replace(
        fill,
        gal=gal,
        water_gal=kitchen.water_gal(gal),
        level_before_gal=before_gal,
        level_after_gal=before_gal + gal,
        weight_lb=gal * kitchen.density_lb_per_gal,
        products=products_in(kitchen, gal),
        metered_water_gal=told.water_gal,
        measured=tuple(
            ProductAmount(part.product_id, told.amounts[part.product_id], part.unit)
            for part in kitchen.parts
        ),
    )


def _told_gal(fill: Fill, level: Level) -> float:
    """Up to the plan's level after it: rounded up, or the lawns are short; down where more goes in
    than planned, or the truck is too heavy."""
    need_gal = fill.level_after_gal - level.gal
    up = math.ceil if need_gal <= fill.gal else math.floor
    room_gal = max(0.0, level.capacity_gal - level.gal)
    return min(max(1.0, float(up(need_gal - WHOLE_GALLON_SLACK))), room_gal)


def _walked(planned: TruckPlan) -> dict[str, float]:
    """Level of each compartment in the evening by the plan's own fills and draws."""
    levels = dict(planned.start_gal)
    for stop in planned.stops:
        for fill in stop.fills:
            levels[fill.compartment_id] = levels.get(fill.compartment_id, 0.0) + fill.gal
        for work in stop.orders:
            for taken in (*work.hose_compartments, *work.compartments):
                levels[taken.compartment_id] = levels.get(taken.compartment_id, 0.0) - taken.gal
    return levels
