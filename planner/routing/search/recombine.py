"""The best day that truck-days seen in a search make together."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.search.cover import CoverPiece, cheapest_cover
from planner.routing.search.state import SearchState


class SeenDays:
    """Truck-days seen lately, the latest `most` of them: for each kind of truck, loading and set of
    orders the cheapest. cost: money; stops: as in SearchState."""

    def __init__(self, day: DayArrays, most: int) -> None:
        self.day, self.most = day, most
        self.days: dict[tuple[int, int, bytes], tuple[float, list[int]]] = {}

    def see(self, state: SearchState) -> None:
        """Keep the truck-days of a plan that are new or cheaper."""
        orders, truck_at = len(self.day.order), self.day.truck_at
        for truck in np.flatnonzero(state.truck[:, c.SIZE]).tolist():
            stops = state.stops[truck, : state.truck[truck, c.SIZE]]
            load = int(state.truck[truck, c.LOAD] - truck_at[truck, c.FIRST_LOAD])
            done = np.sort(stops[(stops >= 0) & (stops < orders)])
            key = int(truck_at[truck, c.LIKENESS]), load, done.tobytes()
            cost = float(state.money[truck, c.COST])
            if key not in self.days or cost < self.days[key][0]:
                self.days.pop(key, None)
                self.days[key] = cost, stops.tolist()
        for old in list(self.days)[: max(0, len(self.days) - self.most)]:
            del self.days[old]


def best_day(
    day: DayArrays, seen: Iterable[SeenDays], most: float, looks: int
) -> tuple[list[int], list[list[int]]] | None:
    """Loading rows and stops per truck of the cheapest day made of truck-days seen: each order once
    or left out at its price, each truck at most one. None when none costs less than `most`, or none
    is found within so many looks at orders."""
    cheapest: dict[tuple[int, int, bytes], tuple[float, list[int]]] = {}
    for one in seen:
        for key, value in one.days.items():
            if key not in cheapest or value[0] < cheapest[key][0]:
                cheapest[key] = value
    kinds: list[int] = day.truck_at[:, c.LIKENESS].tolist()
    idle = dict(zip(kinds, day.truck[:, c.IDLE_MONEY].tolist(), strict=True))
    days = [
        (kind, load, frozenset(np.frombuffer(done, dtype=np.int64).tolist()), cost - idle[kind], at)
        for (kind, load, done), (cost, at) in cheapest.items()
    ]
    prices: list[float] = day.order[:, c.PRICE].tolist()
    trucks = Counter(kinds)
    found = _worth(days, prices, trucks)
    if found is None:
        return None
    worth, per_truck = found
    spare = most - sum(map(idle.__getitem__, kinds)) - sum(worth)
    spare -= sum(per_truck[kind] * count for kind, count in trucks.items())
    pieces = [
        CoverPiece(cost - sum(worth[order] for order in done) - per_truck[kind], done, kind)
        for kind, _, done, cost, _ in days
    ]
    pieces += [
        CoverPiece(price - money, frozenset([order]), None)
        for order, (price, money) in enumerate(zip(prices, worth, strict=True))
    ]
    # What costs more than there is to spare cannot be part of a cheaper day.
    likely = [at for at, piece in enumerate(pieces) if piece.over < spare]
    pieces = [pieces[at]._replace(over=max(0.0, pieces[at].over)) for at in likely]
    unused = {kind: -money for kind, money in per_truck.items()}
    chosen = cheapest_cover(pieces, len(prices), trucks, unused, spare, looks)
    if chosen is None:
        return None
    rows: dict[int, list[int]] = defaultdict(list)
    for row, kind in reversed(list(enumerate(kinds))):
        rows[kind].append(row)
    loads: list[int] = day.truck_at[:, c.FIRST_LOAD].tolist()
    plan: list[list[int]] = [[] for _ in loads]
    for at in sorted(likely[one] for one in chosen):
        if at < len(days):
            kind, load, _, _, stops = days[at]
            row = rows[kind].pop()
            loads[row] += load
            plan[row] = stops
    return loads, plan


def _worth(
    days: Sequence[tuple[int, int, frozenset[int], float, list[int]]],
    prices: Sequence[float],
    trucks: Mapping[int, int],
) -> tuple[list[float], dict[int, float]] | None:
    """What each order is worth, and what one more truck of a kind would change (not positive),
    where parts of truck-days may be taken: the prices of a linear program, by OR-Tools. None when
    it gives up over its own rounding, as it does now and then."""
    # Half a second to import: only where it is asked.
    from ortools.linear_solver import pywraplp

    solver: Any = pywraplp.Solver.CreateSolver("GLOP")
    money: Any = solver.Objective()
    money.SetMinimization()
    once = [solver.Constraint(1.0, 1.0) for _ in prices]
    for row, price in zip(once, prices, strict=True):
        left_out = solver.NumVar(0.0, solver.infinity(), "")
        row.SetCoefficient(left_out, 1.0)
        money.SetCoefficient(left_out, price)
    out = {kind: solver.Constraint(-solver.infinity(), count) for kind, count in trucks.items()}
    for kind, _, done, cost, _ in days:
        # No bound of 1: each order once says it, and what is over stays whole.
        take = solver.NumVar(0.0, solver.infinity(), "")
        money.SetCoefficient(take, cost)
        out[kind].SetCoefficient(take, 1.0)
        for order in done:
            once[order].SetCoefficient(take, 1.0)
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return None
    per_truck = {kind: min(0.0, row.dual_value()) for kind, row in out.items()}
    return [row.dual_value() for row in once], per_truck
