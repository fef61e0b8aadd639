"""PyVRP, the reference: a RoutingProblem told to it, searched on both cores, and its plans and ours
counted by each other's rules.

It gets every order as required (as optional ones with a price it finds dearer plans: measured, 1 to
5 %) and trucks that are alike as one type. It searches on one core, so that it runs twice side by
side with two seeds, and the better run counts. Only where neither run finds a plan for all orders
it is asked again, with orders that may be left out at their price.

What it can be told: one loading per truck, no hoses, no lunch, no overtime, one window per order,
refills of constant length (Terms says which), money in whole numbers.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np
import pyvrp
from pyvrp.stop import MaxRuntime

from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import walk
from planner.routing.problem import (
    Loading,
    RoutingProblem,
    SiteTask,
    Solution,
    StopKind,
    StopRef,
)

RUNS = 2
"""Runs side by side, one for each core."""
NO_REFILL_LIMIT = 1000
"""Reloads of a route: never the limit (plans with 6, 10, 20 and 40 were the same)."""
MOST = np.iinfo(np.int64).max // 2


@dataclass(frozen=True)
class Terms:
    """How PyVRP is told a problem. money, miles: of one of its units of cost and distance.
    tank_share: of a full truck that a refill is said to pour."""

    money: float = 1.0
    miles: float = 1.0
    tank_share: float = 1.0


@dataclass(frozen=True)
class Referee:
    """A problem as PyVRP knows it. loadings: of each truck; kind_of: vehicle type of each truck."""

    problem: RoutingProblem
    loadings: tuple[Loading, ...]
    data: pyvrp.ProblemData
    kind_of: tuple[int, ...]
    terms: Terms


@dataclass(frozen=True)
class Found:
    """A plan of PyVRP. cost: in its units, with the price of what is left out; routes: vehicle type
    and its stops, each ('order' or 'site', its row in the problem)."""

    feasible: bool
    cost: int
    left_out: int
    routes: tuple[tuple[int, tuple[tuple[str, int], ...]], ...]


def referee(
    problem: RoutingProblem, loadings: Sequence[Loading], terms: Terms = Terms()
) -> Referee:
    """PyVRP's data. Sites are its depots, in their order; the first one is the yard of every truck,
    the others are where it may refill. Raises ValueError for what it cannot be told."""
    tables = DayTables(problem)
    days = [TruckDay(tables, row, loading) for row, loading in enumerate(loadings)]
    for day in days:
        if day.truck.lunch_min or any(line.hose_gal for line in day.truck.lines):
            raise ValueError("PyVRP cannot be told lunch or hoses")
    mixes = list(dict.fromkeys(order.mix_id for order in problem.orders))
    seconds = np.rint(problem.drive_min[0] * 60).astype(np.int64)
    distance = np.rint(problem.drive_miles[0] / terms.miles).astype(np.int64)
    # It asks for nothing from a place to itself; nothing of ours goes there either.
    np.fill_diagonal(distance, 0)
    np.fill_diagonal(seconds, 0)
    told = [_told(day, mixes, terms) for day in days]
    kinds = list(dict.fromkeys(told))
    refills = list(range(1, len(problem.sites)))
    data = pyvrp.ProblemData(
        [pyvrp.Location(0, 0) for _ in seconds],
        [_client(problem, days[0], mixes, row) for row in range(len(problem.orders))],
        [
            pyvrp.Depot(site.place, service_duration=_refill_s(site, days[0], terms) if row else 0)
            for row, site in enumerate(problem.sites)
        ],
        [kind.vehicle_type(told.count(kind), refills) for kind in kinds],
        [distance],
        [seconds],
    )
    return Referee(problem, tuple(loadings), data, tuple(kinds.index(one) for one in told), terms)


def _refill_s(site: SiteTask, day: TruckDay, terms: Terms) -> int:
    poured = terms.tank_share * sum(day.tanks.usable_gal)
    return round((site.setup_min + poured / site.fill_gal_per_min) * 60)


@dataclass(frozen=True)
class _Kind:
    """A truck as PyVRP knows it: gallons by mix, shift in seconds, costs in its units."""

    capacity: tuple[int, ...]
    begin_s: int
    end_s: int
    per_distance: int
    per_second: int
    going_out: int

    def vehicle_type(self, count: int, refills: list[int]) -> pyvrp.VehicleType:
        """So many of them."""
        return pyvrp.VehicleType(
            count,
            capacity=list(self.capacity),
            fixed_cost=self.going_out,
            tw_early=self.begin_s,
            tw_late=self.end_s,
            # A crew is on the clock from the shift's start.
            start_late=self.begin_s if self.per_second else None,
            unit_distance_cost=self.per_distance,
            unit_duration_cost=self.per_second,
            reload_depots=refills,
            max_reloads=NO_REFILL_LIMIT,
        )


def _told(day: TruckDay, mixes: Sequence[str], terms: Terms) -> _Kind:
    usable = dict(zip(day.mixes, day.tanks.usable_gal, strict=True))
    truck = day.truck
    return _Kind(
        capacity=tuple(int(usable.get(mix_id, 0.0)) for mix_id in mixes),
        begin_s=round(truck.shift_start_min * 60),
        end_s=round(truck.latest_return_min * 60),
        per_distance=round(truck.cost_per_mile * terms.miles / terms.money),
        per_second=round(truck.pay_per_min / 60 / terms.money),
        going_out=round(truck.cost_per_day / terms.money),
    )


def _client(problem: RoutingProblem, day: TruckDay, mixes: Sequence[str], row: int) -> pyvrp.Client:
    """An order. Work that begins in a window ends in ours, so its latest begin is earlier."""
    order = problem.orders[row]
    gun = day.truck.lines[0].gun_gal_per_min
    work = round((problem.setup_min_per_visit + order.gal / gun) * 60)
    opens, closes = 0, MOST
    if order.windows is not None:
        (window,) = order.windows
        opens, closes = round(window.open_min * 60), round(window.close_min * 60) - work
    return pyvrp.Client(
        order.place,
        delivery=[round(order.gal) if mix_id == order.mix_id else 0 for mix_id in mixes],
        service_duration=work,
        tw_early=opens,
        tw_late=closes,
        required=True,
    )


@contextmanager
def two_workers() -> Iterator[ProcessPoolExecutor]:
    """Processes for PyVRP. Spawned: a copy of a process with compiled threads may hang."""
    with ProcessPoolExecutor(RUNS, mp_context=get_context("spawn")) as pool:
        yield pool


class MaxProcessorTime:
    """Ends a run of PyVRP after seconds of this process's processor time, for busy machines."""

    def __init__(self, seconds: float) -> None:
        self._until = time.process_time() + seconds

    def __call__(self, _best_cost: float) -> bool:
        return time.process_time() >= self._until


def search(data: pyvrp.ProblemData, seconds: float, seed: int, by_processor: bool = False) -> Found:
    """One run of seconds by the clock, or of the processor."""
    stop = MaxProcessorTime(seconds) if by_processor else MaxRuntime(seconds)
    best = pyvrp.solve(data, stop, seed=seed, display=False).best
    routes = []
    for route in best.routes():
        stops = [("site" if one.is_depot() else "order", int(one.idx)) for one in route.schedule()]
        routes.append((int(route.vehicle_type()), tuple(stops[1:-1])))
    return Found(
        feasible=bool(best.is_feasible()),
        cost=int(best.distance_cost())
        + int(best.duration_cost())
        + int(best.fixed_vehicle_cost())
        + int(best.uncollected_prizes()),
        left_out=data.num_clients - int(best.num_clients()),
        routes=tuple(routes),
    )


def better_of_two(
    pool: ProcessPoolExecutor,
    given: Referee,
    seconds: float,
    seed: int,
    *,
    by_processor: bool = False,
) -> Found:
    """The better of two runs side by side. Raises RuntimeError when no run finds a plan."""
    for data in (given.data, _optional(given)):
        runs = [
            pool.submit(search, data, seconds, seed + 1000 * turn, by_processor)
            for turn in range(RUNS)
        ]
        good = [found for found in (run.result() for run in runs) if found.feasible]
        if good:
            return min(good, key=lambda found: found.cost)
    raise RuntimeError("PyVRP found no plan, even with orders left out")


def _optional(given: Referee) -> pyvrp.ProblemData:
    clients = [
        pyvrp.Client(
            one.location,
            delivery=one.delivery,
            service_duration=one.service_duration,
            tw_early=one.tw_early,
            tw_late=one.tw_late,
            prize=round(order.price / given.terms.money),
            required=False,
        )
        for one, order in zip(given.data.clients(), given.problem.orders, strict=True)
    ]
    return given.data.replace(clients=clients)


def by_our_rules(given: Referee, found: Found) -> float:
    """Money of PyVRP's plan by the plain walk, with the price of what it leaves out. Raises
    RuntimeError when it breaks a rule of ours: the two models would not be the same."""
    problem = given.problem
    free = [row for row in range(len(problem.trucks))]
    cost, left_out = 0.0, {order.order_id: order.price for order in problem.orders}
    for kind, route in found.routes:
        row = next(one for one in free if given.kind_of[one] == kind)
        free.remove(row)
        truck = problem.trucks[row]
        stops = [
            StopRef(StopKind.ORDER, problem.orders[at].order_id)
            if what == "order"
            else StopRef(StopKind.REFILL, problem.sites[at].site_id)
            for what, at in route
        ]
        walked = walk(problem, truck, given.loadings[row], stops)
        if not walked.feasible:
            raise RuntimeError(f"PyVRP's truck {truck.truck_id} breaks our rules: {walked.fault}")
        cost += walked.cost
        for stop in stops:
            left_out.pop(stop.ref, None)
    return cost + sum(left_out.values())


def by_its_rules(given: Referee, answer: Solution) -> float:
    """Cost of our plan by PyVRP's rules, in its units, with the price of what is left out. Raises
    RuntimeError when it breaks one of them."""
    problem = given.problem
    order_row = {order.order_id: row for row, order in enumerate(problem.orders)}
    site_row = {site.site_id: row for row, site in enumerate(problem.sites)}
    client, depot = pyvrp.ActivityType.CLIENT, pyvrp.ActivityType.DEPOT
    yard = pyvrp.Activity(depot, 0)
    price = sum(problem.orders[order_row[order_id]].price for order_id in answer.unserved)
    cost = price / given.terms.money
    for truck, kind in zip(answer.routes, given.kind_of, strict=True):
        if not truck.stops:
            continue
        inner = [
            pyvrp.Activity(client, order_row[stop.ref])
            if stop.kind is StopKind.ORDER
            else pyvrp.Activity(depot, site_row[stop.ref])
            for stop in truck.stops
        ]
        route = pyvrp.Route(given.data, [yard, *inner, yard], kind)
        if not route.is_feasible():
            raise RuntimeError(f"our truck {truck.truck_id} breaks PyVRP's rules")
        cost += float(route.distance_cost() + route.duration_cost() + route.fixed_vehicle_cost())
    return cost
