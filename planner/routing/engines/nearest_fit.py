"""The plain stand-in engine: largest needs loaded first, nearest order next, every rule kept.

It is the yardstick for the other engine and plans without OR-Tools; it looks at nothing twice,
so its plans are feasible and plain, not cheap. Effort and seed do not change what it gives.

The end of every engine's work is here too: serve what still fits, say why the rest does not.
"""

from collections.abc import Callable
from math import inf

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.problem import (
    Loading,
    RoutingProblem,
    Solution,
    SolveOptions,
    StopToken,
    TruckSpec,
)
from planner.routing.repair.draft import GAIN, Draft, nothing_loaded
from planner.routing.repair.improve import exchange, rescue
from planner.routing.repair.mend import MENDABLE, mend
from planner.routing.unserved.reasons import reasons
from planner.routing.unserved.relax import as_planned, put_found


def final_pass(draft: Draft, over: Callable[[], bool]) -> Solution:
    """The draft as an answer. Before that, unserved orders are looked at once more, as thoroughly
    as their reasons are, so that no reason says of an order that it could have been served. over:
    asked whether to stop looking for other loadings."""
    serve_what_fits(draft, over)
    return draft.answer(reasons(draft))


def serve_what_fits(draft: Draft, over: Callable[[], bool]) -> None:
    """Every unserved order that saves money when it is put in, as thoroughly as one can look."""
    draft.last_chance()
    rescue(draft, over)
    exchange(draft, over)
    while _serve_as_planned(draft):
        exchange(draft, over)


def _serve_as_planned(draft: Draft) -> bool:
    """Take in what fits for its price, also where a truck must be loaded another way for it.
    Returns whether anything was."""
    busy, before = True, draft.total
    while busy:
        busy = False
        for order in draft.unserved[: draft.tuning.unserved_in_detail]:
            if draft.stop.is_set:
                return False
            found = as_planned(draft, order)
            if found is None or found.more >= draft.prices[order] - GAIN:
                continue
            put_found(draft, found)
            busy = True
    return draft.total < before


class NearestFit:
    """Nearest order next; deterministic."""

    name = "nearest-fit"

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        """As Engine.solve."""
        options.progress(0.0, "nearest order next")
        draft = nearest_fit(DayTables(problem), options.stop)
        options.progress(1.0, "nearest order next")
        return final_pass(draft, lambda: options.stop.is_set)


def nearest_fit(tables: DayTables, stop: StopToken) -> Draft:
    """The engine's draft, as a start or a yardstick for others."""
    draft = Draft(tables, largest_need_first(tables.problem, stop), stop)
    for row in range(len(draft.days)):
        _fill_day(draft, row)
    by_price = sorted(draft.unserved, key=lambda order: (-draft.prices[order], order))
    draft.serve(by_price)
    return draft


def largest_need_first(
    problem: RoutingProblem, stop: StopToken, tankfuls: float | None = None
) -> list[Loading]:
    """A loading per truck, truck by truck: the one that can spray the most worth of the orders
    that the trucks before it leave. Worth is price, so a small mix that nobody carries yet is not
    forgotten for the gallons of the large ones. tankfuls: that each compartment sprays in a day,
    None = as tuned."""
    tankfuls = tankfuls or problem.tuning.nearest_fit_tankfuls
    left = [order.gal for order in problem.orders]
    chosen = []
    for truck in problem.trucks:
        if not truck.loadings or stop.is_set:
            chosen.append(truck.loadings[0] if truck.loadings else nothing_loaded(truck))
            continue
        best = max(
            range(len(truck.loadings)),
            key=lambda row: (_worth(problem, truck, truck.loadings[row], left, tankfuls)[0], -row),
        )
        loading = truck.loadings[best]
        _, left = _worth(problem, truck, loading, left, tankfuls)
        chosen.append(loading)
    return chosen


def _worth(
    problem: RoutingProblem, truck: TruckSpec, loading: Loading, left: list[float], tankfuls: float
) -> tuple[float, list[float]]:
    """Price of the gallons that so many tankfuls of each mix can spray, and what is then left of
    each order. Of the minutes of cleaning the pay is taken off."""
    can_spray: dict[str, float] = {}
    hose_ft: dict[str, float] = {}
    lines = {line.line_id: line for line in truck.lines}
    for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        if mix_id is not None:
            usable = tankfuls * (part.capacity_gal - part.heel_gal)
            can_spray[mix_id] = can_spray.get(mix_id, 0.0) + usable
            hose_ft[mix_id] = lines[part.line_id].hose_ft
    worth = -loading.cleaning_min * truck.pay_per_min
    after = left.copy()
    for row, order in enumerate(problem.orders):
        room = can_spray.get(order.mix_id, 0.0)
        if (
            room <= 0.0
            or after[row] <= 0.0
            or truck.truck_id not in order.allowed_trucks
            or hose_ft[order.mix_id] < order.hose_run_ft
        ):
            continue
        gal = min(room, after[row])
        worth += order.price * gal / order.gal
        can_spray[order.mix_id] = room - gal
        after[row] -= gal
    return worth, after


def _fill_day(draft: Draft, row: int) -> None:
    """Drive to the nearest order that fits, again and again, until regular hours are full."""
    day = draft.days[row]
    stops: list[int] = []
    cost = 0.0
    while not draft.stop.is_set:
        day.cost(stops)
        clock, here = (day.clock, day.here) if stops else (day.start_min, day.start_place)
        waiting = [order for order in draft.unserved if day.can[order]]
        nearest = sorted(waiting, key=lambda order: (_minutes_away(day, here, clock, order), order))
        step = _next_stop(day, stops, nearest)
        if step is None:
            return
        cost, stops = step
        draft.put(row, stops, cost)


def _minutes_away(day: TruckDay, here: int, clock: float, order: int) -> float:
    """Drive and wait for the window."""
    drive = day.minutes[here][day.place[order]]
    spans = day.windows[order]
    if not spans:
        return drive
    return max(drive, min(opens for opens, _ in spans) - clock)


def _next_stop(
    day: TruckDay, stops: list[int], nearest: list[int]
) -> tuple[float, list[int]] | None:
    """Cost and stop order with the first of `nearest` that fits in regular hours."""
    tried = 0
    for order in nearest:
        cost = day.cost([*stops, order])
        found: tuple[float, list[int]] | None = (cost, [*stops, order])
        if day.fault is not None:
            if day.fault[0] not in MENDABLE or tried == day.tuning.nearest_fit_refills:
                continue
            tried += 1
            found = mend(day, [*stops, order], inf)
            if found is None:
                sequence = [stop for stop in [*stops, order] if 0 <= stop < day.orders]
                found = place_refills(day, sequence)
            if found is None:
                continue
            day.cost(found[1])
        assert found is not None
        if day.clock + day.minutes[day.here][day.yard_place] <= day.truck.shift_end_min:
            return found
    return None
