"""The best day that truck-days seen in a search make together, chosen by OR-Tools."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
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


_FEW_CUTS = "separating/maxroundsroot = 3\nseparating/maxrounds = 0\n"
"""With SCIP's own cuts a choice among 600 truck-days took half as long again."""


def best_day(
    day: DayArrays,
    seen: Iterable[SeenDays],
    most: float,
    likely: int,
    nodes: int,
    seconds: float | None,
) -> tuple[list[int], list[list[int]]] | None:
    """Loading rows and stops per truck of the cheapest day made of truck-days seen: each order once
    or left out at its price, each truck at most one. None when none costs less than `most`, or is
    found among so many likely truck-days, at so many nodes of SCIP's and within so many seconds
    (None = as many as it takes)."""
    cheapest: dict[tuple[int, int, bytes], tuple[float, list[int]]] = {}
    for one in seen:
        for key, value in one.days.items():
            if key not in cheapest or value[0] < cheapest[key][0]:
                cheapest[key] = value
    days = [(*key, *value) for key, value in cheapest.items()]
    most -= float(day.truck[:, c.IDLE_MONEY].sum())
    solver, takes = _model(day, days, "GLOP")
    solver.Solve()
    spare = most - solver.Objective().Value()
    if spare <= 0.0:
        return None
    # What costs more than there is to spare cannot be part of a cheaper day; what takes much of it
    # hardly ever is, and costs SCIP most of its time.
    more = [(take.reduced_cost(), -take.solution_value()) for take in takes]
    cheap = sorted(range(len(days)), key=more.__getitem__)[:likely]
    days = [days[at] for at in sorted(cheap) if more[at][0] <= spare]
    solver, takes = _model(day, days, "SCIP")
    solver.SetSolverSpecificParametersAsString(f"{_FEW_CUTS}limits/nodes = {nodes}")
    if seconds is not None:
        solver.SetTimeLimit(max(1, int(1000 * seconds)))
    if solver.Solve() not in (solver.OPTIMAL, solver.FEASIBLE) or solver.Objective().Value() > most:
        return None
    rows: dict[int, list[int]] = defaultdict(list)
    for row, kind in reversed(list(enumerate(day.truck_at[:, c.LIKENESS].tolist()))):
        rows[kind].append(row)
    loads: list[int] = day.truck_at[:, c.FIRST_LOAD].tolist()
    plan: list[list[int]] = [[] for _ in loads]
    for (kind, load, _, _, stops), take in zip(days, takes, strict=True):
        if take.solution_value() > 0.5:
            row = rows[kind].pop()
            loads[row] += load
            plan[row] = stops
    return loads, plan


def _model(
    day: DayArrays, days: Sequence[tuple[int, int, bytes, float, list[int]]], name: str
) -> tuple[Any, list[Any]]:
    """A solver of that name with the choice among the truck-days, over what idle trucks cost, and a
    variable for each truck-day; relaxed for GLOP."""
    # Half a second to import: only where it is asked.
    from ortools.linear_solver import pywraplp

    solver: Any = pywraplp.Solver.CreateSolver(name)
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
    takes = []
    for kind, _, done, cost, _ in days:
        # No bound of 1 in the relaxation: each order once says it, and reduced costs stay whole.
        take = solver.NumVar(0.0, solver.infinity(), "") if name == "GLOP" else solver.BoolVar("")
        takes.append(take)
        money.SetCoefficient(take, cost - idle[kind])
        trucks[kind].SetCoefficient(take, 1.0)
        for order in np.frombuffer(done, dtype=np.int64).tolist():
            once[order].SetCoefficient(take, 1.0)
    return solver, takes
