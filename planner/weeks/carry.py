"""What a truck's compartments and hoses hold from one of the calendar's days to the next: what is
left in the evening serves the next morning's first mix, and a change of mix owes its cleaning."""

from collections.abc import Collection, Mapping, Sequence
from copy import copy
from dataclasses import replace
from typing import NamedTuple

from planner.day.day import Workbook
from planner.day.fleet import Truck
from planner.mixing.separation import separation
from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.loading.allowed import loading_of, loadings
from planner.routing.problem import Loading, RoutingProblem, TruckSpec
from planner.routing.repair.draft import Draft


class Carried(NamedTuple):
    """Mix and gallons of each compartment, and the mix in each hose; None = clean. known: whether
    a compartment has got nothing since the calendar's first morning."""

    mixes: tuple[str | None, ...]
    gal: tuple[float, ...]
    hoses: tuple[str | None, ...]
    known: tuple[bool, ...]


PUT_BACK_TIMES = 3
"""Looks for room for orders that lost theirs to a morning's cleaning; most find it at once."""
A_FILL_GAL = 0.5
"""A fill puts in whole gallons; less is rounding."""


class Carry:
    """need_gal: of each mix on a day. Truck-days are named TRUCK@DATE, in the order of days."""

    def __init__(self, book: Workbook, need_gal: Mapping[str, float]) -> None:
        self._book, self._need, self._apart = book, need_gal, separation(book)
        self._known: dict[object, tuple[Loading, ...]] = {}

    @property
    def holds(self) -> bool:
        """Whether some tank holds more than its heel now, and so takes no other mix."""
        return any(
            part.leftover_gal > part.heel_gal
            for truck in self._book.trucks.values()
            for part in truck.compartments
        )

    def now(self) -> dict[str, Carried]:
        """What each truck holds as the tables and records have it."""
        return {name: _held_now(truck) for name, truck in self._book.trucks.items()}

    def mornings(self, draft: Draft) -> dict[str, Carried]:
        """Truck-day -> what its truck holds when it begins, as the draft's days leave it."""
        now = self.now()
        found = {}
        for day, stops in zip(draft.days, draft.stops, strict=True):
            name = day.truck.truck_id.rpartition("@")[0]
            found[day.truck.truck_id] = now[name]
            if stops:
                now[name] = evening(day, stops, now[name])
        return found

    def begin(self, problem: RoutingProblem, mornings: Mapping[str, Carried]) -> RoutingProblem:
        """The problem with trucks that begin as told."""
        trucks = [
            self._beginning(truck, mornings[truck.truck_id])
            if truck.truck_id in mornings
            else truck
            for truck in problem.trucks
        ]
        return replace(problem, trucks=tuple(trucks))

    def loaded_with(self, draft: Draft, row: int, mix_id: str, held: Carried) -> list[TruckDay]:
        """The truck-day with the loadings that carry the mix, those with least to clean first; at
        most as many as are tried for an order. held: that morning."""
        truck = draft.tables.problem.trucks[row]
        able = [one for one in self._beginning(truck, held).loadings if mix_id in one.mix_of]
        able.sort(key=lambda one: one.cleaning_min)
        return [TruckDay(draft.tables, row, one) for one in able[: draft.tuning.repair_rescues]]

    def in_turn(self, draft: Draft, linked: Collection[str] = ()) -> Draft:
        """The draft priced day after day, each truck as the day before leaves it. What finds no
        time beside the cleaning goes where it costs least. linked: orders that stay out then."""
        best = found = self._priced(draft)
        for _ in range(PUT_BACK_TIMES):
            lost = set(found.unserved) - set(draft.unserved)
            names = found.tables.problem.orders
            lost = {order for order in lost if names[order].order_id not in linked}
            if not lost:
                break
            # Elsewhere its mix or its gallons may change a next morning: priced in turn again.
            found = found.copy()
            found.last_chance(lost)
            found = self._priced(found)
            if found.total < best.total:
                best = found
        return best

    def _priced(self, draft: Draft) -> Draft:
        tables, now = copy(draft.tables), self.now()
        trucks = list(tables.problem.trucks)
        found = Draft(tables, (), draft.stop)
        found.prices = draft.prices
        for row, day in enumerate(draft.days):
            name = day.truck.truck_id.rpartition("@")[0]
            morning = self._truck(name, now[name])
            loading = loading_of(self._book, morning, self._apart, day.loading.mix_of)
            here = draft.orders_of(row)
            if here and not _takes(morning, loading):
                # The search took the truck to have been out before, and the tank to be free.
                able = self._beginning(trucks[row], now[name]).loadings
                loading = max(able, key=lambda one: _gal_with(one, draft, here))
            trucks[row] = replace(_holding(trucks[row], now[name]), loadings=(loading,))
            tables.problem = replace(tables.problem, trucks=tuple(trucks))
            found.days.append(TruckDay(tables, row, loading))
            found.stops.append([])
            found.costs.append(found.days[row].idle_cost)
            if here:
                found.put(row, draft.stops[row], 0.0)
                found.take_out(row, [order for order in here if not found.days[row].can[order]])
            if found.stops[row]:
                now[name] = evening(found.days[row], found.stops[row], now[name])
        return found

    def _beginning(self, truck: TruckSpec, held: Carried) -> TruckSpec:
        name = truck.truck_id.rpartition("@")[0]
        key = name, held.mixes, held.gal, held.known
        if key not in self._known:
            self._known[key] = loadings(
                self._book, self._truck(name, held), self._apart, self._need
            )
        return replace(_holding(truck, held), loadings=self._known[key])

    def _truck(self, name: str, held: Carried) -> Truck:
        """The truck as it may be loaded. Gallons over the heel hold a compartment for their mix as
        long as nothing is filled into it: they are there. Those after a fill are its margin: the
        last fill of a day before another mix is made without it."""
        truck = self._book.trucks[name]
        parts = tuple(
            replace(
                part,
                last_mix=mix,
                leftover_gal=gal if known else min(gal, part.heel_gal),
            )
            for part, mix, gal, known in zip(
                truck.compartments, held.mixes, held.gal, held.known, strict=True
            )
        )
        return replace(truck, compartments=parts)


def _takes(morning: Truck, loading: Loading) -> bool:
    """Whether no tank that holds more than its heel is loaded with another mix (rule 4)."""
    return all(
        mix_id in (None, part.last_mix) or part.leftover_gal <= part.heel_gal
        for part, mix_id in zip(morning.compartments, loading.mix_of, strict=True)
    )


def _gal_with(loading: Loading, draft: Draft, orders: Collection[int]) -> float:
    tasks = draft.tables.problem.orders
    return sum(tasks[order].gal for order in orders if tasks[order].mix_id in loading.mix_of)


def evening(day: TruckDay, stops: list[int], morning: Carried) -> Carried:
    """What a truck-day holds when it is back, gallons to 0.01."""
    walked = full_walk(day, stops)
    parts = day.truck.compartments
    levels = walked.end_gal or tuple(part.start_gal for part in parts)
    mixes = tuple(
        part.start_mix if mix is None else mix
        for part, mix in zip(parts, day.loading.mix_of, strict=True)
    )
    hoses = [line.start_mix for line in day.truck.lines]
    for stop in stops:
        if 0 <= stop < len(day.mix_of):
            hoses[day.line_of[day.mix_of[stop]]] = day.mixes[day.mix_of[stop]]
    _, _, spray, hose = day.hoses(stops)
    sprayed = dict(zip(day.mixes, map(sum, zip(*spray, *hose, strict=True)), strict=True))
    begun = morning._replace(gal=tuple(part.start_gal for part in parts))
    known = still_known(begun, day.loading.mix_of, levels, sprayed)
    return Carried(mixes, tuple(round(gal, 2) for gal in levels), tuple(hoses), known)


def still_known(
    morning: Carried,
    loading: Sequence[str | None],
    levels: Sequence[float],
    sprayed: Mapping[str, float],
) -> tuple[bool, ...]:
    """Carried.known after a day. levels: in the evening; sprayed: gallons by mix, those into hoses
    too, where they are known."""
    gone = dict[str, float]()
    for mix, before, gal, left in zip(loading, morning.mixes, morning.gal, levels, strict=True):
        if mix is not None:
            gone[mix] = gone.get(mix, 0.0) + (gal if mix == before else 0.0) - left
    # Of a mix that was filled less is gone than was sprayed.
    filled = {mix for mix, gal in gone.items() if gal < sprayed.get(mix, 0.0) - A_FILL_GAL}
    return tuple(
        known and mix in (None, before) and mix not in filled
        for known, mix, before in zip(morning.known, loading, morning.mixes, strict=True)
    )


def _holding(truck: TruckSpec, held: Carried) -> TruckSpec:
    parts = zip(truck.compartments, held.mixes, held.gal, strict=True)
    lines = zip(truck.lines, held.hoses, strict=True)
    return replace(
        truck,
        lines=tuple(replace(one, start_mix=mix) for one, mix in lines),
        compartments=tuple(replace(one, start_mix=mix, start_gal=gal) for one, mix, gal in parts),
    )


def _held_now(truck: Truck) -> Carried:
    parts = truck.compartments
    return Carried(
        tuple(part.last_mix for part in parts),
        tuple(part.leftover_gal for part in parts),
        tuple(truck.hose_mix.values()),
        (True,) * len(parts),
    )
