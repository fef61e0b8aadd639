"""The best day that truck-days seen in a search make together, chosen by OR-Tools."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
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
    day: DayArrays, seen: Iterable[SeenDays], nodes: int, seconds: float | None
) -> tuple[float, list[int], list[list[int]]] | None:
    """Cost, loading rows and stops per truck of the cheapest day made of truck-days seen: each
    order once or left out at its price, each truck at most one. nodes: at which SCIP looks at
    most. None when none is found within so many seconds (None = as many as it takes)."""
    # Half a second to import: only where it is asked.
    from ortools.linear_solver import pywraplp

    solver: Any = pywraplp.Solver.CreateSolver("SCIP")
    solver.SetSolverSpecificParametersAsString(f"limits/nodes = {nodes}")
    if seconds is not None:
        solver.SetTimeLimit(max(1, int(1000 * seconds)))
    kinds = day.truck_at[:, c.LIKENESS].tolist()
    money: Any = solver.Objective()
    money.SetMinimization()
    once = [solver.Constraint(1.0, 1.0) for _ in day.order]
    for row, price in zip(once, day.order[:, c.PRICE].tolist(), strict=True):
        left_out = solver.NumVar(0.0, 1.0, "")
        row.SetCoefficient(left_out, 1.0)
        money.SetCoefficient(left_out, price)
    trucks = {kind: solver.Constraint(0.0, count) for kind, count in Counter(kinds).items()}
    idle = dict(zip(kinds, day.truck[:, c.IDLE_MONEY].tolist(), strict=True))
    taken: list[tuple[Any, int, int, list[int]]] = []
    for one in seen:
        for (kind, load, done), (cost, stops) in one.days.items():
            take = solver.BoolVar("")
            taken.append((take, kind, load, stops))
            money.SetCoefficient(take, cost - idle[kind])
            trucks[kind].SetCoefficient(take, 1.0)
            for order in np.frombuffer(done, dtype=np.int64).tolist():
                once[order].SetCoefficient(take, 1.0)
    if solver.Solve() not in (solver.OPTIMAL, solver.FEASIBLE):
        return None
    rows: dict[int, list[int]] = defaultdict(list)
    for row, kind in reversed(list(enumerate(kinds))):
        rows[kind].append(row)
    loads: list[int] = day.truck_at[:, c.FIRST_LOAD].tolist()
    plan: list[list[int]] = [[] for _ in kinds]
    for take, kind, load, stops in taken:
        if take.solution_value() > 0.5:
            row = rows[kind].pop()
            loads[row] += load
            plan[row] = stops
    return money.Value() + float(day.truck[:, c.IDLE_MONEY].sum()), loads, plan
