"""The day with a fixed loading as an OR-Tools routing model, and its search.

Integers are seconds, hundredths of gallons, pounds and ten-thousandths of money; minutes, needs
and legs round up, room and closing times round down. The model is a close likeness, not the rules:
a refill takes a guessed time, lunch is only reserved, and a hose's mix is known along an arc only.
What comes out is a sequence of orders per truck; refills, lunch and clock are then put exactly
(planner/routing/compiled/refills.py), so nothing here needs to be trusted.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, inf
from typing import Any

import numpy as np
from numpy.typing import NDArray
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

from planner.routing.exact.route_cost import DayTables, TruckDay

SECONDS = 60
HUNDREDTHS_GAL = 100
MONEY = 10_000
A_DAY = 24 * 60 * SECONDS


@dataclass(frozen=True)
class SearchLimit:
    """When OR-Tools stops. checks: a count of its own looks at the clock, the same on every
    machine; stop: asked at each of them."""

    checks: int | None
    stop: Callable[[], bool]


def sequences(
    tables: DayTables, days: Sequence[TruckDay], limit: SearchLimit
) -> list[list[int]] | None:
    """Rows of orders per truck in their sequence, or None when OR-Tools finds nothing."""
    orders = [row for row in range(len(tables.place)) if any(day.can[row] for day in days)]
    if not orders or not days:
        return None
    return _Model(tables, list(days), orders).search(limit)


class _Model:
    """Nodes: the yards and where trucks are that are out, then the orders, then the refills.
    OR-Tools' classes are untyped; Any stays inside this class. Only matrices and vectors are
    handed over: an exception inside a callback, or a float, ends in a crash of the solver."""

    def __init__(self, tables: DayTables, days: list[TruckDay], orders: list[int]) -> None:
        self.tables, self.days, self.orders = tables, days, orders
        problem = tables.problem
        self.ends = sorted({place for day in days for place in (day.yard_place, day.start_place)})
        self.first_order = len(self.ends)
        self.first_refill = self.first_order + len(orders)
        self.refills = self._refill_sites()
        self.places = np.array(
            self.ends
            + [tables.place[row] for row in orders]
            + [problem.sites[site].place for site in self.refills]
        )
        self.size = len(self.places)
        starts = [self.ends.index(day.start_place) for day in days]
        homes = [self.ends.index(day.yard_place) for day in days]
        self.manager: Any = pywrapcp.RoutingIndexManager(self.size, len(days), starts, homes)
        self.routing: Any = pywrapcp.RoutingModel(self.manager)
        self.lunch_min = max((day.truck.lunch_min for day in days), default=0.0)
        self.transits = [self._seconds(day) for day in days]
        self._costs()
        self._time()
        for mix_id in dict.fromkeys(problem.orders[row].mix_id for row in orders):
            self._mix(mix_id)
        if any(day.tanks.weight_binds for day in days):
            self._weight()
        self._choices()

    def _refill_sites(self) -> list[int]:
        """Site of each refill node: as many as the gallons may ask for, and some to choose."""
        problem = self.tables.problem
        used = {problem.orders[row].mix_id for row in self.orders}
        sites = [
            row for row, site in enumerate(problem.sites) if site.mixes is None or used & site.mixes
        ]
        middle = np.array([self.tables.place[row] for row in self.orders])
        sites.sort(
            key=lambda row: (
                float(problem.drive_min[0][problem.sites[row].place, middle].mean()),
                row,
            )
        )
        sites = sites[: problem.tuning.ortools_sites]
        need = sum(problem.orders[row].gal for row in self.orders)
        room = sum(sum(day.tanks.usable_gal) for day in self.days)
        trips = len(self.days) * max(0.5, need / max(room, 1.0))
        copies = min(
            problem.tuning.ortools_refill_copies, max(2, ceil(trips / max(1, len(sites))) + 1)
        )
        return [site for site in sites for _ in range(copies)]

    def _seconds(self, day: TruckDay) -> NDArray[np.int64]:
        """By truck, from leaving a node to leaving the next: drive, set-up and work."""
        drive = self.tables.problem.drive_min[day.truck.profile][np.ix_(self.places, self.places)]
        work = np.zeros(self.size)
        line = np.full(self.size, -1)
        mix = np.full(self.size, -1)
        room = sum(day.tanks.usable_gal)
        for node, row in enumerate(self.orders, self.first_order):
            work[node] = day.spray_min[row] + day.setup_min
            mix[node] = day.mix_of[row]
            if mix[node] >= 0:
                line[node] = day.line_of[mix[node]]
        for node, site in enumerate(self.refills, self.first_refill):
            _, setup, flow, _, _ = day.sites[site]
            work[node] = setup + day.tuning.ortools_typical_refill * room / flow
        minutes = drive + work[None, :]
        is_order = line >= 0
        both = is_order[:, None] & is_order[None, :]
        minutes -= day.setup_min * (both & (self.places[:, None] == self.places[None, :]))
        changes = both & (line[:, None] == line[None, :]) & (mix[:, None] != mix[None, :])
        flush = np.array([*day.changeover_min, 0.0])
        minutes += changes * flush[line][None, :]
        seconds: NDArray[np.int64] = np.ceil(np.round(minutes * SECONDS, 6)).astype(np.int64)
        return seconds

    def _costs(self) -> None:
        """Pay for every second on the way and at work, miles, trucks that go out; the price of an
        order on a truck that is not its own. (Other wishes are not told to OR-Tools.)"""
        for row, day in enumerate(self.days):
            miles = self.tables.problem.drive_miles[day.truck.profile]
            money = self.transits[row] * (day.truck.pay_per_min / SECONDS)
            money = money + miles[np.ix_(self.places, self.places)] * day.truck.cost_per_mile
            for node, order in enumerate(self.orders, self.first_order):
                money[:, node] += day.preferences.of_truck(order)
            cost = np.round(money * MONEY).astype(np.int64)
            self.routing.SetArcCostEvaluatorOfVehicle(
                self.routing.RegisterTransitMatrix(cost.tolist()), row
            )
            going_out = 0.0 if day.is_out else day.day_cost
            self.routing.SetFixedCostOfVehicle(round(going_out * MONEY), row)
            if day.is_out:
                self.routing.SetVehicleUsedWhenEmpty(True, row)

    def _time(self) -> None:
        """Clock at which a node is left; waiting is paid, overtime dearer."""
        routing = self.routing
        registered = [routing.RegisterTransitMatrix(matrix.tolist()) for matrix in self.transits]
        routing.AddDimensionWithVehicleTransits(registered, A_DAY, 2 * A_DAY, False, "time")
        time: Any = routing.GetDimensionOrDie("time")
        for row, day in enumerate(self.days):
            truck = day.truck
            start = ceil(day.start_min * SECONDS)
            if truck.loads == "morning" and not day.is_out:
                # What is poured is not known here; its plan is made exact afterwards.
                start += ceil(day.load_setup_min * SECONDS)
            lunch_min = 0.0 if day.start_lunched else truck.lunch_min
            time.CumulVar(routing.Start(row)).SetRange(start, start)
            back = floor((truck.latest_return_min - lunch_min) * SECONDS)
            time.CumulVar(routing.End(row)).SetRange(0, max(start, back))
            time.SetSlackCostCoefficientForVehicle(round(truck.pay_per_min / SECONDS * MONEY), row)
            time.SetCumulVarSoftUpperBound(
                routing.End(row),
                floor((truck.shift_end_min - lunch_min) * SECONDS),
                round(truck.overtime_pay_per_min / SECONDS * MONEY),
            )
        for node, row in enumerate(self.orders, self.first_order):
            spans = self._leaving(row)
            if spans is None:
                continue
            index = self.manager.NodeToIndex(node)
            if not self._within_the_day(index, spans[0][0], spans[-1][1]):
                continue
            leave = time.CumulVar(index)
            for (_, before), (after, _) in itertools.pairwise(spans):
                leave.RemoveInterval(before + 1, after - 1)
        for node, site in enumerate(self.refills, self.first_refill):
            opens, closes = self.days[0].sites[site][3:5]
            self._within_the_day(
                self.manager.NodeToIndex(node),
                0 if opens == -inf else ceil(opens * SECONDS),
                A_DAY if closes == inf else floor(closes * SECONDS),
            )

    def _within_the_day(self, index: int, first: int, last: int) -> bool:
        """Let a node be left between two times; one that no time of the day is left for stays out.
        (OR-Tools ends with an error when it is given an empty span.)"""
        first, last = max(0, first), min(2 * A_DAY, last)
        if first > last:
            self.routing.VehicleVar(index).SetValues([-1])
            return False
        self.routing.GetDimensionOrDie("time").CumulVar(index).SetRange(first, last)
        return True

    def _leaving(self, row: int) -> list[tuple[int, int]] | None:
        """When an order may be left, seconds, ascending and apart. Times after lunch are moved
        forward by it, since the model's clock does not stop for lunch."""
        windows = self.tables.windows[row]
        if not windows:
            return None
        work = min(day.spray_min[row] for day in self.days if day.can[row])
        lunch_over = max(day.truck.lunch_latest_min + day.truck.lunch_min for day in self.days)
        spans: list[tuple[int, int]] = []
        for opens, closes in windows:
            shift = self.lunch_min if opens >= lunch_over else 0.0
            first = ceil((opens - shift + work) * SECONDS)
            shift = self.lunch_min if closes > lunch_over else 0.0
            last = max(first, floor((closes - shift) * SECONDS))
            if spans and first <= spans[-1][1] + 1:
                spans[-1] = (spans[-1][0], max(last, spans[-1][1]))
            else:
                spans.append((first, last))
        return spans

    def _mix(self, mix_id: str) -> None:
        """Gallons of one mix sprayed since the last refill that makes it."""
        problem = self.tables.problem
        caps, starts = [], []
        for day in self.days:
            k = day.mixes.index(mix_id) if mix_id in day.mixes else -1
            usable = day.tanks.usable_gal[k] if k >= 0 else 0.0
            hose = day.hose_gal[day.line_of[k]] if k >= 0 else 0.0
            gone = hose
            if k >= 0 and k not in day.first_makes:
                gone += max(0.0, usable - day.tanks.pumpable(day.tanks.start, k))
            cap = floor(usable * HUNDREDTHS_GAL)
            caps.append(cap)
            starts.append(min(cap, ceil(gone * HUNDREDTHS_GAL)))
        most = max(caps)
        gal = np.zeros(self.size, dtype=np.int64)
        for node, row in enumerate(self.orders, self.first_order):
            if problem.orders[row].mix_id == mix_id:
                gal[node] = min(ceil(problem.orders[row].gal * HUNDREDTHS_GAL), most)
        makes = [
            problem.sites[site].mixes is None or mix_id in (problem.sites[site].mixes or ())
            for site in self.refills
        ]
        for node, made in enumerate(makes, self.first_refill):
            gal[node] = -most if made else 0
        self._gallons(f"mix {mix_id}", gal, caps, starts, most, makes)

    def _weight(self) -> None:
        """Pounds sprayed since the last refill; what always weighs is taken off the rating."""
        problem = self.tables.problem
        pounds = np.zeros(self.size, dtype=np.int64)
        for node, row in enumerate(self.orders, self.first_order):
            order = problem.orders[row]
            pounds[node] = ceil(order.gal * problem.density_lb_per_gal[order.mix_id])
        caps = []
        for day in self.days:
            # Heels stay on board, and whole gallons round every compartment up by one.
            idle = sum(
                min(capacity, max(heel, start if mix is None else 0.0) + (mix is not None)) * lb
                for capacity, heel, start, lb, mix in zip(
                    day.tanks.capacity,
                    day.tanks.heel,
                    day.tanks.start,
                    day.tanks.density,
                    day.loading.mix_of,
                    strict=True,
                )
            )
            caps.append(max(0, floor(day.truck.payload_lb - idle)))
        most = max(caps)
        pounds = np.minimum(pounds, most)
        pounds[self.first_refill :] = -most
        self._gallons("weight", pounds, caps, [0] * len(caps), most, [True] * len(self.refills))

    def _gallons(
        self,
        name: str,
        taken: NDArray[np.int64],
        caps: list[int],
        starts: list[int],
        most: int,
        makes: list[bool],
    ) -> None:
        """A dimension that counts up at orders and may fall to nothing at refills. Slack is what
        makes a refill partial: it is free at refills that make the mix and nowhere else."""
        routing = self.routing
        vector = routing.RegisterUnaryTransitVector(taken.tolist())
        routing.AddDimensionWithVehicleCapacity(vector, most, caps, False, name)
        used: Any = routing.GetDimensionOrDie(name)
        for row, start in enumerate(starts):
            used.CumulVar(routing.Start(row)).SetRange(start, start)
            used.SlackVar(routing.Start(row)).SetValue(0)
        for node in range(self.first_order, self.first_refill):
            used.SlackVar(self.manager.NodeToIndex(node)).SetValue(0)
        for node, made in enumerate(makes, self.first_refill):
            if not made:
                used.SlackVar(self.manager.NodeToIndex(node)).SetValue(0)

    def _choices(self) -> None:
        """Which truck may do what, and the price of leaving it out."""
        problem = self.tables.problem
        for node, row in enumerate(self.orders, self.first_order):
            index = self.manager.NodeToIndex(node)
            self.routing.AddDisjunction([index], round(problem.orders[row].price * MONEY))
            trucks = [at for at, day in enumerate(self.days) if day.can[row]]
            if len(trucks) < len(self.days):
                self.routing.VehicleVar(index).SetValues([-1, *trucks])
        for node in range(self.first_refill, self.size):
            self.routing.AddDisjunction([self.manager.NodeToIndex(node)], 0)

    def search(self, limit: SearchLimit) -> list[list[int]] | None:
        """Insertion, then guided local search until the limit."""
        parameters = pywrapcp.DefaultRoutingSearchParameters()
        first = routing_enums_pb2.FirstSolutionStrategy
        improve = routing_enums_pb2.LocalSearchMetaheuristic
        parameters.first_solution_strategy = first.PARALLEL_CHEAPEST_INSERTION
        parameters.local_search_metaheuristic = improve.GUIDED_LOCAL_SEARCH
        # Never the limit that ends it; without one OR-Tools warns that it may run forever.
        parameters.time_limit.seconds = A_DAY // SECONDS
        self.routing.CloseModelWithParameters(parameters)
        looks = 0

        def enough() -> bool:
            nonlocal looks
            looks += 1
            return limit.stop() or (limit.checks is not None and looks > limit.checks)

        self.routing.AddSearchMonitor(self.routing.solver().CustomLimit(enough))
        found: Any = self.routing.SolveWithParameters(parameters)
        self.looks = looks
        return (
            None if found is None else [self._sequence(found, row) for row in range(len(self.days))]
        )

    def _sequence(self, found: Any, row: int) -> list[int]:
        sequence = []
        index = self.routing.Start(row)
        while not self.routing.IsEnd(index):
            node = self.manager.IndexToNode(index)
            if self.first_order <= node < self.first_refill:
                sequence.append(self.orders[node - self.first_order])
            index = found.Value(self.routing.NextVar(index))
        return sequence
