"""The exact price of one truck's stop order, by the rules of time and gallons (docs/rules.md 8-15).

Engines price a few hundred thousand stop orders per day, so a truck with one loading is compiled
once (`TruckDay`) and stop orders are lists of whole numbers: an order is its row in
problem.orders, a refill is len(orders) + the row of its site, LUNCH is -1. Clock and gallons are
floats, as in the schedule; nothing is rounded here but what the rules round.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from planner.routing.exact.route_preferences import RoutePreferences
from planner.routing.exact.tanks import SHORT, SLACK_GAL, TOO_HEAVY, Tanks
from planner.routing.problem import Loading, RoutingProblem, StopKind, StopRef

LUNCH = -1
DEPART = -1
"""Key of the departure's fill among a truck's waits, as in planner/routing/shared/site_queue.py."""
SLACK_MIN = 1e-9
"""Float noise allowed at the close of a window: far below what any clock shows."""

FAULTS = {
    "truck": "the truck may not do this order (pin, ban or hose too short)",
    "mix": "the mix is not on the truck",
    "dry": "a compartment runs dry",
    "weight": "the load is over the weight rating",
    "window": "the order's window has closed",
    "hours": "the site is closed",
    "lunch": "lunch is too late, twice, or before the first stop",
    "owed": "lunch is owed and not taken",
    "shift": "the truck is back too late",
}
"""What can be wrong with a stop order: code -> in words."""


@dataclass(frozen=True)
class Timing:
    """Clock of one stop, minutes after midnight; gal: sprayed or filled there."""

    arrive_min: float
    begin_min: float
    leave_min: float
    gal: float


def _rows(matrices: NDArray[np.float64]) -> list[list[Sequence[float]]]:
    whole = np.ascontiguousarray(matrices)
    return [[cast(Sequence[float], memoryview(row)) for row in matrix] for matrix in whole]


class DayTables:
    """A problem's matrices and windows as plain Python's (reading single numbers out of arrays is
    many times slower; lists of a large day's numbers take four times its memory), shared by all its
    TruckDays. minutes, miles: by profile and place, rows by place. arrays: what
    planner.routing.compiled keeps of them, and of which problem."""

    def __init__(self, problem: RoutingProblem) -> None:
        self.problem = problem
        self.minutes = _rows(problem.drive_min)
        self.miles = _rows(problem.drive_miles)
        self.place = [order.place for order in problem.orders]
        self.windows: list[list[tuple[float, float]] | None] = [
            None
            if order.windows is None
            else sorted((window.open_min, window.close_min) for window in order.windows)
            for order in problem.orders
        ]
        self.order_row = {order.order_id: row for row, order in enumerate(problem.orders)}
        self.site_row = {site.site_id: row for row, site in enumerate(problem.sites)}
        self.arrays: tuple[RoutingProblem, dict[str, Any]] | None = None

    def numbers(self, stops: Sequence[StopRef]) -> list[int]:
        """A stop order as whole numbers. Raises KeyError on an unknown order or site."""
        orders = len(self.place)
        numbers = []
        for stop in stops:
            if stop.kind is StopKind.ORDER:
                numbers.append(self.order_row[stop.ref])
            elif stop.kind is StopKind.REFILL:
                numbers.append(orders + self.site_row[stop.ref])
            else:
                numbers.append(LUNCH)
        return numbers

    def stops(self, numbers: Sequence[int]) -> tuple[StopRef, ...]:
        """The reverse of numbers()."""
        orders = len(self.place)
        stops = []
        for number in numbers:
            if number == LUNCH:
                stops.append(StopRef(StopKind.LUNCH, ""))
            elif number < orders:
                stops.append(StopRef(StopKind.ORDER, self.problem.orders[number].order_id))
            else:
                stops.append(StopRef(StopKind.REFILL, self.problem.sites[number - orders].site_id))
        return tuple(stops)


class TruckDay:
    """One truck with one loading, ready to price stop orders. row: of the truck.

    mixes: those loaded; per order: mix_of (row in mixes, -1 = not on board), can (whether the
    truck may ever do it) and spray_min. makes: per site the mixes that may be filled there,
    first_makes: at the departure. start_min, start_place: when and where the day begins, or goes
    on for a truck that is out. clock, here: when and at which place the last priced stop order
    left its last stop. idle_stops, idle_cost: of a truck that is given nothing.
    """

    def __init__(self, tables: DayTables, row: int, loading: Loading) -> None:
        problem = tables.problem
        truck = problem.trucks[row]
        self.tables, self.row, self.truck, self.loading = tables, row, truck, loading
        self.tuning = problem.tuning
        self.tanks = Tanks(problem, truck, loading)
        self.mixes = self.tanks.mixes
        self.minutes = tables.minutes[truck.profile]
        self.miles = tables.miles[truck.profile]
        self.place, self.windows = tables.place, tables.windows
        self.orders = len(problem.orders)
        self.setup_min = problem.setup_min_per_visit
        yard = problem.sites[tables.site_row[truck.yard_id]]
        self.yard_place = yard.place
        self.makes = [
            tuple(
                k
                for k, mix_id in enumerate(self.mixes)
                if site.mixes is None or mix_id in site.mixes
            )
            for site in problem.sites
        ]
        self.is_out = truck.start is not None
        self.first_makes = () if self.is_out else self.makes[tables.site_row[truck.yard_id]]
        self.sites = [
            (
                site.place,
                site.setup_min,
                site.fill_gal_per_min,
                -inf if site.open_min is None else site.open_min + truck.day_min,
                inf if site.close_min is None else site.close_min + truck.day_min,
            )
            for site in problem.sites
        ]
        self._compile_lines(problem)
        self._compile_start()
        self.preferences = RoutePreferences(problem, row)
        beside_min = 0.0 if truck.loads == "morning" else loading.cleaning_min
        self.day_cost = truck.cost_per_day + truck.pay_per_min * beside_min
        self.paid_least_min = truck.paid_least_min - beside_min
        self.load_setup_min, self.load_flow = yard.setup_min, yard.fill_gal_per_min
        self.fault: tuple[str, int] | None = None
        self.clock, self.here = self.start_min, self.start_place
        self.idle_stops, self.idle_cost = self._idle()

    def _compile_lines(self, problem: RoutingProblem) -> None:
        """Which line, hose and gun each mix has, and what each order asks of them."""
        lines = {line.line_id: place for place, line in enumerate(self.truck.lines)}
        parts = self.truck.compartments
        self.line_of = [lines[parts[rows[0]].line_id] for rows in self.tanks.rows_of]
        self.hose_gal = [line.hose_gal for line in self.truck.lines]
        self.changeover_min = [line.hose_gal / line.gun_gal_per_min for line in self.truck.lines]
        row_of = {mix_id: k for k, mix_id in enumerate(self.mixes)}
        self.gal = [order.gal for order in problem.orders]
        self.mix_of = [row_of.get(order.mix_id, -1) for order in problem.orders]
        self.can = [False] * len(self.mix_of)
        self.spray_min = [0.0] * len(self.mix_of)
        for row, (order, k) in enumerate(zip(problem.orders, self.mix_of, strict=True)):
            if k < 0:
                continue
            line = self.truck.lines[self.line_of[k]]
            self.spray_min[row] = order.gal / line.gun_gal_per_min
            self.can[row] = (
                self.truck.truck_id in order.allowed_trucks
                and line.hose_ft >= order.hose_run_ft
                and order.gal <= self.tanks.usable_gal[k] + SLACK_GAL
            )

    def _compile_start(self) -> None:
        """Where the truck begins, or goes on."""
        start = self.truck.start
        # A mix that is not on board is unlike each that is.
        self.held = [
            -1
            if line.start_mix is None
            else self.mixes.index(line.start_mix)
            if line.start_mix in self.mixes
            else len(self.mixes)
            for line in self.truck.lines
        ]
        if start is None:
            self.start_min = self.truck.shift_start_min + self.truck.prepare_min
            if self.truck.loads == "morning":
                self.start_min += self.loading.cleaning_min
            self.start_place = self.yard_place
            self.start_miles, self.start_lunched = 0.0, False
            return
        self.start_min, self.start_place = start.time_min, start.place
        self.start_miles, self.start_lunched = start.miles, start.lunched

    def _idle(self) -> tuple[list[int], float]:
        """A truck in the yard stays home; one that is out drives home, after lunch if owed."""
        if not self.is_out:
            return [], 0.0
        back = self.start_min + self.minutes[self.start_place][self.yard_place]
        miles = self.start_miles + self.miles[self.start_place][self.yard_place]
        if self.start_lunched or not self.lunch_owed(back):
            return [], self.price(back, miles, self.start_lunched)
        drive = back - self.start_min
        lunch = max(self.start_min, self.truck.lunch_earliest_min) + self.truck.lunch_min
        return [LUNCH], self.price(lunch + drive, miles, True)

    def hoses(
        self, stops: Sequence[int]
    ) -> tuple[list[float], list[float], list[list[float]], list[list[float]]]:
        """Per stop the hose gallons and changeover minutes, and what must be sprayed and goes into
        hoses until the next fill: rows 0 = without any fill, 1 = from the departure's, then one
        per refill; columns = mixes."""
        held = self.held.copy()
        none = [0.0] * len(self.mixes)
        spray, hose = [none.copy(), none.copy()], [none.copy(), none.copy()]
        fill_of = [0] * len(self.mixes)
        for k in self.first_makes:
            fill_of[k] = 1
        hose_gal, changeover = [0.0] * len(stops), [0.0] * len(stops)
        for at, stop in enumerate(stops):
            if stop >= self.orders:
                for k in self.makes[stop - self.orders]:
                    fill_of[k] = len(spray)
                spray.append(none.copy())
                hose.append(none.copy())
            elif stop != LUNCH:
                k = self.mix_of[stop]
                line = self.line_of[k]
                if held[line] != k:
                    hose_gal[at] = self.hose_gal[line]
                    hose[fill_of[k]][k] += self.hose_gal[line]
                    if held[line] >= 0:
                        changeover[at] = self.changeover_min[line]
                    held[line] = k
                spray[fill_of[k]][k] += self.gal[stop]
        return hose_gal, changeover, spray, hose

    def cost(
        self,
        stops: Sequence[int],
        record: Record | None = None,
        waits: Mapping[int, float] | None = None,
    ) -> float:
        """Cost of the day with these stops, inf when a rule breaks (self.fault then says which
        and where), with the prices of preferences. A truck without stops is idle. waits: place in
        stops of a refill, or DEPART -> minute before which others fill there."""
        self.fault = None
        if not stops:
            return self.idle_cost
        orders, mix_of, can = self.orders, self.mix_of, self.can
        for at, stop in enumerate(stops):
            if stop != LUNCH and stop < orders and not can[stop]:
                return self._break("mix" if mix_of[stop] < 0 else "truck", at)
        hose_gal, changeover, spray, hose = self.hoses(stops)
        tanks, truck = self.tanks, self.truck
        levels = tanks.start.copy()
        for k, gal in enumerate(spray[0]):
            if gal + hose[0][k] > tanks.pumpable(levels, k) + SLACK_GAL:
                return self._break("dry", 0)
        now, here, miles = self.start_min, self.start_place, self.start_miles
        beside_min = 0.0
        if not self.is_out:
            added = tanks.fill(levels, self.first_makes, spray[1], hose[1])
            if added < 0.0:
                return self._break(_TANK_FAULT[added], 0)
            lasts = self.load_setup_min + added / self.load_flow if added > 0.0 else 0.0
            if truck.loads == "morning":
                begin = now
                if waits is not None and lasts > 0.0:
                    begin = max(now, waits.get(DEPART, now))
                if record is not None:
                    record.load = Timing(now, begin, begin + lasts, added)
                now = begin + lasts
            elif truck.loads is not None:
                beside_min = lasts
        visiting, lunched, fills = -1, self.start_lunched, 1
        told, wish = self.preferences.told, 0.0
        drawn = [0.0] * len(self.mixes)
        minutes, miles_of, place, windows = self.minutes, self.miles, self.place, self.windows
        for at, stop in enumerate(stops):
            if stop == LUNCH:
                arrive, gal = now, 0.0
                begin = max(now, truck.lunch_earliest_min)
                too_soon = at == 0 and not self.is_out
                if too_soon or lunched or begin > truck.lunch_latest_min + SLACK_MIN:
                    return self._break("lunch", at)
                now = begin + truck.lunch_min
                lunched, visiting = True, -1
            elif stop < orders:
                there = place[stop]
                work = changeover[at] + self.spray_min[stop]
                if there != visiting:
                    now += minutes[here][there]
                    miles += miles_of[here][there]
                    here = visiting = there
                    work += self.setup_min
                arrive = begin = now
                spans = windows[stop]
                if spans is not None:
                    for opens, closes in spans:
                        begin = opens if opens > arrive else arrive
                        if begin + work <= closes + SLACK_MIN:
                            break
                    else:
                        return self._break("window", at)
                now = begin + work
                if told is not None:
                    least, most, price = told[stop]
                    if begin < least - SLACK_MIN or begin > most + SLACK_MIN:
                        wish += price
                gal = self.gal[stop]
                drawn[mix_of[stop]] += gal + hose_gal[at]
            else:
                there, setup, flow, opens, closes = self.sites[stop - orders]
                now += minutes[here][there]
                miles += miles_of[here][there]
                here, visiting = there, -1
                arrive = now
                begin = opens if opens > arrive else arrive
                if waits is not None:
                    begin = max(begin, waits.get(at, begin))
                tanks.draw(levels, drawn)
                fills += 1
                gal = tanks.fill(levels, self.makes[stop - orders], spray[fills], hose[fills])
                if gal < 0.0:
                    return self._break(_TANK_FAULT[gal], at)
                now = begin + setup + gal / flow
                if now > closes + SLACK_MIN:
                    return self._break("hours", at)
            if record is not None:
                record.timings.append(Timing(arrive, begin, now, gal))
        self.clock, self.here = now, here
        now += minutes[here][self.yard_place]
        miles += miles_of[here][self.yard_place]
        if record is not None:
            tanks.draw(levels, drawn)
            record.return_min, record.miles = now, miles
            record.lunched, record.end_gal = lunched, tuple(levels)
            record.beside_min = beside_min
        if now > truck.latest_return_min + SLACK_MIN:
            return self._break("shift", len(stops))
        if not lunched and self.lunch_owed(now):
            return self._break("owed", len(stops))
        wish += self.preferences.refill * (fills - 1)
        wish += self.preferences.of_orders([stop for stop in stops if 0 <= stop < orders])
        return self.price(now, miles, lunched, beside_min) + wish

    def lunch_owed(self, return_min: float) -> bool:
        """Whether a truck that returns then must have had lunch."""
        truck = self.truck
        return (
            truck.lunch_min > 0.0
            and truck.shift_start_min < truck.lunch_latest_min
            and return_min > truck.lunch_latest_min
        )

    def price(
        self, return_min: float, miles: float, lunched: bool, beside_min: float = 0.0
    ) -> float:
        """Cost of a day that ends then, with the price of long days. beside_min: paid beside the
        clock, for loading the evening before."""
        truck = self.truck
        paid = return_min - truck.shift_start_min - (truck.lunch_min if lunched else 0.0)
        paid += beside_min
        return self.money(paid, return_min, miles) + self.preferences.per_squared_min * paid * paid

    def money(self, paid_min: float, return_min: float, miles: float) -> float:
        """Cost of a day that ends then, without the prices of preferences. paid_min: as of price(),
        with what is paid beside the clock; what follows the return is added."""
        truck = self.truck
        overtime = max(0.0, return_min - truck.shift_end_min)
        return (
            self.day_cost
            + max(paid_min, self.paid_least_min) * truck.pay_per_min
            + overtime * truck.overtime_pay_per_min
            + miles * truck.cost_per_mile
        )

    def _break(self, fault: str, at: int) -> float:
        self.fault = (fault, at)
        return inf


@dataclass
class Record:
    """What `TruckDay.cost` notes of a stop order when asked to (planner/routing/exact/walk.py)."""

    timings: list[Timing]
    load: Timing | None = None
    return_min: float = inf
    miles: float = 0.0
    lunched: bool = False
    end_gal: tuple[float, ...] = ()
    beside_min: float = 0.0


_TANK_FAULT = {SHORT: "dry", TOO_HEAVY: "weight"}
