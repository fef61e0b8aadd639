"""A day's plan in the making: every truck's stop order, exactly priced, and orders put into it.

Every change is priced by TruckDay.cost, so a draft keeps every rule at every moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import LUNCH, DayTables, TruckDay
from planner.routing.problem import Loading, Route, Solution, StopToken, TruckSpec
from planner.routing.repair.mend import MENDABLE, mend

REMEMBERED = 60_000
"""Insertions remembered at most (some 20 MB); then memory starts anew."""
GAIN = 1e-7
"""A change must save this much money; float noise must not count as progress."""


class Draft:
    """days: each truck with its loading. stops, costs: by truck. unserved: rows of orders,
    ascending. turns: by truck, in which order the yard loads them (rule 38), replaced and never
    changed. total: money, with the prices of unserved orders. stop: asked between small steps;
    once it is set the draft stays as it is, keeping every rule."""

    def __init__(
        self, tables: DayTables, loadings: Sequence[Loading], stop: StopToken | None = None
    ) -> None:
        self.tables, self.tuning = tables, tables.problem.tuning
        self.stop = stop or StopToken()
        self.days = [TruckDay(tables, row, loading) for row, loading in enumerate(loadings)]
        self.stops: list[list[int]] = [[] for _ in loadings]
        self.costs = [day.idle_cost for day in self.days]
        self.prices = [order.price for order in tables.problem.orders]
        self.unserved = list(range(len(self.prices)))
        self.memory = Memory()
        self.turns: dict[int, int] = {}

    @property
    def total(self) -> float:
        """Money of all trucks and the prices of what is left out."""
        return sum(self.costs) + sum(self.prices[order] for order in self.unserved)

    def copy(self) -> Draft:
        """A draft that may be changed without touching this one."""
        twin = Draft.__new__(Draft)
        twin.tables, twin.days, twin.prices = self.tables, self.days.copy(), self.prices
        twin.tuning = self.tuning
        twin.stops, twin.costs = self.stops.copy(), self.costs.copy()
        twin.unserved = self.unserved.copy()
        twin.memory, twin.stop = self.memory, self.stop
        twin.turns = self.turns
        return twin

    def adopt(self, other: Draft) -> None:
        """Become like another draft of the same day."""
        self.days, self.stops = other.days, other.stops
        self.costs, self.unserved = other.costs, other.unserved
        self.turns = other.turns

    def orders_of(self, row: int) -> list[int]:
        """The truck's orders in their sequence."""
        orders = len(self.prices)
        return [stop for stop in self.stops[row] if stop != LUNCH and stop < orders]

    def put(self, row: int, stops: list[int], cost: float) -> None:
        """Give a truck this stop order, of this exact cost, and keep `unserved` right."""
        orders = len(self.prices)
        before = {stop for stop in self.stops[row] if stop != LUNCH and stop < orders}
        after = {stop for stop in stops if stop != LUNCH and stop < orders}
        self.stops[row], self.costs[row] = stops, cost
        if before != after:
            self.unserved = sorted((set(self.unserved) - after) | (before - after))

    def tidy(self, row: int) -> None:
        """Put the truck's refills and lunch anew where that is cheaper."""
        found = place_refills(
            self.days[row], self.orders_of(row), under_cost=self.costs[row] - GAIN
        )
        if found is not None:
            self.put(row, found[1], found[0])

    def take_out(self, row: int, orders: Iterable[int]) -> None:
        """Take orders off a truck, and from its end more, until what is left stands."""
        gone = set(orders)
        day = self.days[row]
        stops = [stop for stop in self.stops[row] if stop not in gone]
        left = [stop for stop in self.orders_of(row) if stop not in gone]
        cost = day.cost(stops) if left else inf
        while left and cost == inf:
            found = None if self.stop.is_set else place_refills(day, left)
            if found is not None:
                cost, stops = found
            else:
                left.pop()
        if left:
            self.put(row, stops, cost)
        else:
            self.put(row, [], day.idle_cost)

    def best_place(
        self, order: int, under: float, rows: Iterable[int] | None = None
    ) -> tuple[float, int, list[int]] | None:
        """Cheapest way to serve an order below `under`: money more, truck, new stop order."""
        best: tuple[float, int, list[int]] | None = None
        idle: set[tuple[object, ...]] = set()
        for row in range(len(self.days)) if rows is None else rows:
            day = self.days[row]
            if not day.can[order]:
                continue
            if not self.stops[row]:
                # Like trucks that stay home offer the same; one of them is enough.
                like = _like(day)
                if like in idle:
                    continue
                idle.add(like)
            found = self.memory.insertion(day, self.stops[row], self.costs[row], order, under)
            if found is not None:
                under = found[0]
                best = (found[0], row, found[1])
        return best

    def serve(self, orders: Iterable[int]) -> None:
        """Put unserved orders in, each at its cheapest where that is less than its price."""
        for order in orders:
            if self.stop.is_set:
                return
            found = self.best_place(order, self.prices[order])
            if found is not None:
                more, row, stops = found
                self.put(row, stops, self.costs[row] + more)

    def last_chance(self, orders: Iterable[int] | None = None) -> None:
        """Try unserved orders (None = as many as tuned) thoroughly, the dearest first."""
        asked = sorted(
            self.unserved if orders is None else orders, key=lambda row: (-self.prices[row], row)
        )
        # Where hundreds are left out, the trucks are full: each was tried when it was put aside.
        for order in asked[: self.tuning.unserved_tried]:
            best: tuple[float, int, list[int]] | None = None
            under = self.prices[order]
            for row, day in enumerate(self.days):
                if self.stop.is_set:
                    return
                if not day.can[order]:
                    continue
                found = thorough_insertion(day, self.stops[row], self.costs[row], order, under)
                if found is not None:
                    under = found[0]
                    best = (under, row, found[1])
            if best is not None:
                more, row, stops = best
                self.put(row, stops, self.costs[row] + more)

    def answer(self, reasons: dict[str, tuple[str, str]]) -> Solution:
        """The draft as an engine's answer. reasons: of unserved orders, by id."""
        return Solution(
            routes=tuple(
                Route(
                    day.truck.truck_id,
                    day.loading if stops or day.is_out else nothing_loaded(day.truck),
                    self.tables.stops(stops or day.idle_stops),
                    self.turns.get(row, 0),
                )
                for row, (day, stops) in enumerate(zip(self.days, self.stops, strict=True))
            ),
            unserved={
                self.tables.problem.orders[order].order_id: reasons[
                    self.tables.problem.orders[order].order_id
                ]
                for order in self.unserved
            },
        )


class Memory:
    """Insertions already worked out, shared by the copies of a draft: a round of improvement
    changes two or three trucks, and asks the same of all the others again."""

    def __init__(self) -> None:
        self._days: dict[int, TruckDay] = {}
        self._loaded: dict[tuple[int, int], TruckDay] = {}
        self._known: dict[tuple[int, ...], tuple[float, tuple[float, list[int]] | None]] = {}

    def loaded(self, tables: DayTables, row: int, rank: int) -> TruckDay:
        """The truck in that row with its loading of that rank, compiled once."""
        day = self._loaded.get((row, rank))
        if day is None:
            loading = tables.problem.trucks[row].loadings[rank]
            day = self._loaded[row, rank] = TruckDay(tables, row, loading)
        return day

    def insertion(
        self, day: TruckDay, stops: list[int], cost: float, order: int, under: float
    ) -> tuple[float, list[int]] | None:
        """As insertion(); remembered."""
        # Kept alive here, so that its id stays its own.
        self._days[id(day)] = day
        key = (id(day), order, *stops)
        known = self._known.get(key)
        if known is not None:
            asked, found = known
            if found is not None:
                return found if found[0] < under else None
            if under <= asked:
                return None
        found = insertion(day, stops, cost, order, under)
        if len(self._known) >= REMEMBERED:
            self._known.clear()
        self._known[key] = (under, found)
        return found


def nothing_loaded(truck: TruckSpec) -> Loading:
    """The loading of a truck that stays home: nothing, and so nothing to clean for."""
    return Loading((None,) * len(truck.compartments), ())


def _like(day: TruckDay) -> tuple[object, ...]:
    """What makes two trucks at home the same to an order: everything but their names."""
    truck = day.truck
    return (
        truck.yard_id,
        truck.profile,
        truck.shift_start_min,
        truck.shift_end_min,
        truck.latest_return_min,
        truck.pay_per_min,
        truck.cost_per_day,
        truck.cost_per_mile,
        truck.payload_lb,
        truck.lines,
        truck.compartments,
        truck.start,
        truck.prepare_min,
        truck.loads,
        truck.paid_least_min,
        tuple(day.preferences.truck_prices()),
        day.loading,
    )


def insertion(
    day: TruckDay, stops: list[int], cost: float, order: int, under: float, tried: int | None = None
) -> tuple[float, list[int]] | None:
    """Cheapest way to add an order to a truck's stop order below `under` money more; a refill
    is added or lunch moved only when it fits nowhere as the stops are. tried: places of least
    detour that are looked at, None = as the tuning says."""
    places = _detours(day, stops, order)
    best: list[int] | None = None
    mendable: list[list[int]] = []
    for least, at in places[: tried or day.tuning.repair_places]:
        if least >= under:
            break
        trial = [*stops[:at], order, *stops[at:]]
        more = day.cost(trial) - cost
        if more < under:
            under, best = more, trial
        elif day.fault is not None and day.fault[0] in MENDABLE:
            mendable.append(trial)
    if best is None:
        for trial in mendable[: day.tuning.repair_mended]:
            day.cost(trial)
            found = mend(day, trial, cost + under)
            if found is not None:
                under, best = found[0] - cost, found[1]
    return None if best is None else (under, best)


def thorough_insertion(
    day: TruckDay, stops: list[int], cost: float, order: int, under: float, tried: int | None = None
) -> tuple[float, list[int]] | None:
    """As insertion(), and with all refills and lunch put anew at the places of least detour; for
    the last word on an order, not for searching."""
    best = insertion(day, stops, cost, order, under, tried)
    if best is not None:
        under = best[0]
    for least, at in _detours(day, stops, order)[: day.tuning.repair_thorough]:
        if least >= under:
            break
        sequence = [
            stop
            for stop in (*stops[:at], order, *stops[at:])
            if stop != LUNCH and stop < day.orders
        ]
        found = place_refills(day, sequence, under_cost=cost + under)
        if found is not None:
            under = found[0] - cost
            best = (under, found[1])
    return best


def places_of(day: TruckDay, stops: list[int]) -> list[int]:
    """Where the truck stands at each stop; at lunch, where it was before."""
    places = []
    here = day.start_place
    for stop in stops:
        if stop != LUNCH:
            here = day.place[stop] if stop < day.orders else day.sites[stop - day.orders][0]
        places.append(here)
    return places


def _detours(day: TruckDay, stops: list[int], order: int) -> list[tuple[float, int]]:
    """Least money that the order costs at each place of the stop order, cheapest first: the
    detour, its spraying, and a set-up where it begins a visit."""
    truck, minutes, miles = day.truck, day.minutes, day.miles
    # Within the hours that are paid in any case a minute may cost nothing.
    pay = truck.pay_per_min if truck.paid_least_min <= 0.0 else 0.0
    there = day.place[order]
    work = day.spray_min[order]
    places = places_of(day, stops)
    detours = []
    fixed = day.day_cost if not stops and not day.is_out else 0.0
    fixed += day.preferences.of_truck(order)
    before = day.start_place
    for at in range(len(stops) + 1):
        after = places[at] if at < len(places) else day.yard_place
        longer = minutes[before][there] + minutes[there][after] - minutes[before][after]
        further = miles[before][there] + miles[there][after] - miles[before][after]
        joins = there in (before, after)
        detours.append(
            (
                fixed
                + (longer + work + (0.0 if joins else day.setup_min)) * pay
                + further * truck.cost_per_mile,
                at,
            )
        )
        before = after
    detours.sort()
    return detours
