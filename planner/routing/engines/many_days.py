"""Several days laid one after another on one clock: a truck on a day is a truck of its own.

The compiled search takes such a problem as it is. What differs from a day: it begins where
yesterday's answer ended, orders that may also come after the last day are worth what they would
cost then, and orders may depend on each other's days.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Mapping
from concurrent import futures
from contextlib import suppress
from dataclasses import replace
from functools import partial
from importlib.util import find_spec
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from planner.routing.compiled.day_arrays import DayArrays, day_arrays
from planner.routing.compiled.python_api import place_refills
from planner.routing.effort import TELL_EVERY_S, Spending
from planner.routing.engines.nearest_fit import largest_need_first, nearest_fit
from planner.routing.engines.other_days import with_other_days
from planner.routing.engines.searched import COMPILING, loadings_of, read_back
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.loading.allowed import standing_loadings
from planner.routing.problem import (
    Loading,
    OrderGroup,
    RoutingProblem,
    SolveOptions,
    StopToken,
)
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.repair.improve import improve

if TYPE_CHECKING:
    from planner.routing.search.parallel import Searcher

Start = Mapping[str, tuple[tuple[str | None, ...], tuple[str, ...]]]
"""Truck -> the mixes of its loading and its orders, of an answer to begin with."""
PLAIN_MOST_S = 20.0
"""After Ctrl-C while the search is compiled, until a plain calendar is taken unfinished."""


def lay_days(
    problem: RoutingProblem,
    options: SolveOptions,
    *,
    start: Start | None = None,
    later: Mapping[str, float] = MappingProxyType({}),
    threads: int = 2,
) -> tuple[Draft, str]:
    """The best draft found, and the engine that made it: 'search', or 'nearest-fit' where that is
    asked for or nothing can be compiled. later: orders that can still be done after the last day ->
    money that this counts for; leaving them out costs that and what an order costs on the road.
    Once the token is set the best so far is taken."""
    tuning, seed = options.effort.tuning, options.seed
    near, taken, light = tuning.calendar_trucks_near, tuning.search_taken_mean, 0
    if is_large := len(problem.orders) > tuning.calendar_recombine_orders:
        near, taken = tuning.calendar_trucks_near_large, tuning.calendar_taken_mean_large
        light = tuning.calendar_light_stops_large
    tuned = replace(
        tuning, search_trucks_near=near, search_taken_mean=taken, search_light_stops=light
    )
    problem = replace(problem, tuning=tuned)
    # Where few steps are to be had, two searches on one core are worse than one of twice the steps.
    searches = 1 if is_large and threads == 1 else 2
    spending = Spending(options)
    able = problem.orders and problem.trucks and all(one.loadings for one in problem.trucks)
    # Where there is nothing to lay, no engine stands in for another.
    name = "nearest-fit" if able else options.engine
    draft = None
    if options.engine == "search" and able and find_spec("numba") is not None:
        from planner.routing.search.first_run import CannotCompile

        plain = partial(_plain, problem, seed, start, later)
        with suppress(CannotCompile):
            arrays = day_arrays(problem)
            draft = _while_compiling(arrays, spending, plain)
            if draft is None:
                name = "search"
                draft = _searched(problem, arrays, spending, seed, start, later, threads, searches)
    if draft is None:
        draft = _plain(problem, seed, start, later, spending, StopToken())
    spending.tell(1.0, "orders that were left out")
    group_of = {name: group for group in problem.groups for name in group.order_ids}
    _open_idle(draft, group_of)
    _last_looks(draft, group_of)
    return draft, name


def _searched(
    problem: RoutingProblem,
    arrays: DayArrays,
    spending: Spending,
    seed: int,
    start: Start | None,
    later: Mapping[str, float],
    threads: int,
    searches: int,
) -> Draft:
    """By one compiled search, or two beside each other."""
    from planner.routing.compiled import columns as c
    from planner.routing.search.parallel import Searcher, SearchLeg, plan_of, run_together
    from planner.routing.search.recombine import best_day

    tuning = problem.tuning
    first_load: list[int] = arrays.truck_at[:, c.FIRST_LOAD].tolist()
    row_of = {order.order_id: row for row, order in enumerate(problem.orders)}
    fleet, given = _begin(problem, start, standing_loadings(problem))
    loads = [
        first + truck.loadings.index(loading)
        for first, truck, loading in zip(first_load, problem.trucks, fleet, strict=True)
    ]
    stops = [[row_of[name] for name in names] for names in given]
    arrays.order[:, c.CHEAP_WISH] = arrays.wish.min(axis=1)
    total = spending.effort.count and spending.effort.count * tuning.calendar_steps_per_count
    most = _seen_most(problem, total)
    searchers = [Searcher(arrays, 2 * seed + one, tuning, most) for one in range(searches)]
    spending.tell(0.0, "a first calendar")
    for searcher in searchers:
        searcher.start_from(loads, stops)
    # The first step puts every order somewhere; its plan says what an order costs on the road.
    first = [SearchLeg(1.0, 1.0, 1, None, 0.0)] * searches
    run_together(searchers, first, 1e-3, threads=threads)
    heat = min(_road_money(searcher) for searcher in searchers)
    arrays.order[:, c.CHEAP_WISH] += heat
    prices = [order.price for order in problem.orders]
    for name, lateness in later.items():
        row = row_of[name]
        gun = max(line.gun_gal_per_min for truck in problem.trucks for line in truck.lines)
        pay = float(np.mean([truck.pay_per_min for truck in problem.trucks]))
        busy_min = problem.orders[row].gal / gun + problem.setup_min_per_visit
        prices[row] = tuning.calendar_later_cost * heat + busy_min * pay + lateness
    arrays.order[:, c.PRICE] = prices
    parts = tuning.calendar_parts
    begin = 0.0 if start is None else tuning.calendar_warm_from
    best_cost, best = np.inf, plan_of(searchers[0])

    def put_together() -> None:
        """The worse search goes on from the best calendar that truck-days seen make."""
        ranked = sorted(searchers, key=lambda one: one.cost)
        better, worse = ranked[0], ranked[-1]
        if most and not spending.stopped:
            seen = [one.seen for one in searchers]
            if found := best_day(arrays, seen, better.cost, tuning.search_recombine_looks):
                worse.start_from(*found)

    for part in range(parts):
        if spending.stopped:
            break
        if part >= tuning.calendar_exchange_from:
            put_together()
            leader = min(searchers, key=lambda one: one.cost)
            loads, stops, _ = plan_of(leader)
            for searcher in searchers:
                if searcher is not leader:
                    searcher.start_from(loads, stops)
        steps = None if total is None else max(1, total * 2 // searches // parts)
        legs = [
            SearchLeg(
                begin + (1.0 - begin) * part / parts,
                begin + (1.0 - begin) * (part + 1) / parts,
                steps,
                spending.until((part + 1) / parts),
                tuning.calendar_reload_chance if part < parts - 1 else 0.0,
            )
        ] * searches
        share = (part + 1) / parts

        def tell(share: float = share) -> None:
            spending.tell(share, "laying the days")

        run_together(searchers, legs, heat, lambda: spending.stopped, tell, threads)
        if part == parts - 1:
            put_together()
        leader = min(searchers, key=lambda one: one.cost)
        if leader.cost < best_cost:
            best_cost, best = leader.cost, plan_of(leader)
    loads, stops, costs = best
    loadings = loadings_of(problem, first_load, loads)
    priced = tuple(
        replace(order, price=price) for order, price in zip(problem.orders, prices, strict=True)
    )
    tables = DayTables(replace(problem, orders=priced))
    return read_back(Draft(tables, loadings, spending.stop), stops, costs)


def _seen_most(problem: RoutingProblem, steps: int | None) -> int:
    """Truck-days that a search of so many steps (None = by the clock) remembers, to put the best
    calendar together from them; 0 = it is not."""
    tuning, orders = problem.tuning, len(problem.orders)
    few = steps is not None and steps < tuning.calendar_recombine_steps * orders
    # Which days of a group go together is not seen there.
    if problem.groups or few or orders > tuning.calendar_recombine_orders:
        return 0
    return tuning.search_seen_days


def _road_money(searcher: Searcher) -> float:
    """As Searcher.order_money, without what an order pays on the best of its days: no choice of
    days changes that, and where it is much, a search by it stays too warm."""
    served = np.flatnonzero(searcher.best.truck_of >= 0)
    least = searcher.day.wish[served].min(axis=1).mean() if len(served) else 0.0
    return max(1e-3, searcher.order_money() - float(least))


def _while_compiling(
    arrays: DayArrays, spending: Spending, plain: Callable[[Spending, StopToken], Draft]
) -> Draft | None:
    """Compile the search, if need be; a plain calendar, made meanwhile, when the stop comes first:
    whole, or as far as it is PLAIN_MOST_S later. Raises CannotCompile."""
    from planner.routing.search.first_run import FirstRun

    compiling = FirstRun(arrays)
    if not compiling.is_needed:
        return None
    enough, ended = StopToken(), StopToken()
    limit = threading.Timer(PLAIN_MOST_S, enough.set)
    limit.daemon = True

    def wait() -> bool:
        try:
            if made := compiling.done(spending.stop, lambda: None):
                enough.set()
            else:
                limit.start()
            return made
        finally:
            ended.set()

    def tell(share: float, text: str) -> None:
        spending.tell(0.0, COMPILING + spending.so_far)

    with futures.ThreadPoolExecutor(1) as pool:
        found = pool.submit(wait)
        try:
            draft = plain(
                Spending(SolveOptions(spending.effort, progress=tell, stop=ended)), enough
            )
            while not found.done():
                tell(0.0, "")
                futures.wait([found], timeout=TELL_EVERY_S)
        except BaseException:  # The compiler is not waited for.
            spending.stop.set()
            raise
        finally:
            limit.cancel()
    if not found.result():
        return draft
    spending.begin_anew()
    return None


def _open_idle(draft: Draft, group_of: Mapping[str, OrderGroup]) -> None:
    """Send an idle truck-day out for orders that are left out and together are worth it. One by
    one they never are: each would pay the whole day. group_of: orders that stay as they are."""
    tasks, tuning = draft.tables.problem.orders, draft.tables.problem.tuning
    while not draft.stop.is_set:
        lost = [row for row in draft.unserved if tasks[row].order_id not in group_of]
        choices = []
        for row, day in enumerate(draft.days):
            if draft.stops[row] or not lost:
                continue
            for loading in dict.fromkeys((day.truck.loadings[0], day.loading)):
                other = TruckDay(draft.tables, row, loading)
                could = [order for order in lost if other.can[order]]
                gain = sum(draft.prices[order] for order in could) - other.day_cost
                if could and gain > 0.0:
                    choices.append((gain, row, other, could))
        best = draft
        choices.sort(key=lambda one: (-one[0], one[1]))
        for _, row, day, could in choices[: tuning.calendar_idle_looks]:
            trial = draft.copy()
            trial.days[row] = day
            for order in could:
                found = trial.best_place(order, np.inf, [row])
                if found is not None:
                    trial.put(row, found[2], trial.costs[row] + found[0])
            for order in trial.orders_of(row):
                less = trial.copy()
                less.take_out(row, (order,))
                if less.total < trial.total:
                    trial = less
            if trial.total < best.total - GAIN:
                best = trial
        if best is draft:
            return
        draft.adopt(best)


def _last_looks(draft: Draft, group_of: Mapping[str, OrderGroup]) -> None:
    """Put orders in that still fit, the dearest first."""
    problem = draft.tables.problem
    looks = draft.tables.problem.tuning.calendar_last_looks
    lost = sorted(draft.unserved, key=lambda row: (-draft.prices[row], row))[:looks]
    for order in lost:
        rows = None
        if group := group_of.get(name := problem.orders[order].order_id):
            placed = {
                problem.orders[one].order_id: day.truck.day
                for row, day in enumerate(draft.days)
                for one in draft.orders_of(row)
            }
            known = {at: placed[one] for at, one in enumerate(group.order_ids) if one in placed}
            at = group.order_ids.index(name)
            able = {
                days[at]
                for days in group.days
                if all(days[other] == one for other, one in known.items())
            }
            rows = [row for row, day in enumerate(draft.days) if day.truck.day in able]
        if draft.stop.is_set:
            return
        found = draft.best_place(order, draft.prices[order], rows)
        if found is not None:
            more, row, stops = found
            draft.put(row, stops, draft.costs[row] + more)


def _begin(
    problem: RoutingProblem, start: Start | None, otherwise: list[Loading]
) -> tuple[list[Loading], list[list[str]]]:
    """Loading and orders of each truck to begin with; what is no longer there is left out."""
    known = {order.order_id for order in problem.orders}
    fleet, names = [], []
    for truck, loading in zip(problem.trucks, otherwise, strict=True):
        mixes, orders = (start or {}).get(truck.truck_id, ((), ()))
        fleet.append(next((one for one in truck.loadings if one.mix_of == mixes), loading))
        names.append([name for name in orders if name in known])
        known -= set(orders)
    return fleet, names


def _plain(
    problem: RoutingProblem,
    seed: int,
    start: Start | None,
    later: Mapping[str, float],
    spending: Spending,
    needless: StopToken,
) -> Draft:
    """Without compiled code: nearest order next, day after day, then improved by the rules
    themselves; the days of a group are chosen before, and others only where they leave an order
    out. needless: ends the first part, too, which a
    stop of the spending leaves whole."""
    spending.tell(0.0, "a first calendar")
    whole, chance = problem, random.Random(seed)
    if problem.groups:
        problem = _with_days_chosen(problem, start or {}, chance)
    tables = DayTables(problem)
    if start is None:
        draft = nearest_fit(tables, needless)
    else:
        fleet, names = _begin(problem, start, largest_need_first(problem, needless))
        draft = Draft(tables, fleet, needless)
        for row, given in enumerate(names):
            can = [tables.order_row[name] for name in given]
            can = [order for order in can if draft.days[row].can[order]]
            found = place_refills(draft.days[row], can) if can else None
            if found is not None:
                draft.put(row, found[1], found[0])
        draft.serve(sorted(draft.unserved, key=lambda row: (-draft.prices[row], row)))
    served = len(draft.prices) - len(draft.unserved)
    for name, lateness in later.items():
        draft.prices[tables.order_row[name]] = sum(draft.costs) / max(1, served) + lateness
    rounds = spending.effort.count

    def share_done(done: int) -> float:
        share = 0.5 if rounds is None else done / rounds
        spending.tell(share, "laying the days")
        return share

    draft.stop, until = spending.stop, spending.until(1.0)
    if spending.stopped:
        return draft
    draft = improve(draft, rounds, random.Random(seed), share_done, lambda: spending.over(until))
    return with_other_days(whole, draft, chance) if whole.groups else draft


def _with_days_chosen(
    problem: RoutingProblem, start: Start, chance: random.Random
) -> RoutingProblem:
    """The problem with one combination of days left to each group: as near as any to what it
    begins with, of those one that leaves few out, of those any."""
    day_of = {truck.truck_id: truck.day for truck in problem.trucks}
    placed = {name: day_of[truck] for truck, (_, names) in start.items() for name in names}
    only: dict[str, int | None] = {}
    for group in problem.groups:
        wanted = [placed.get(name) for name in group.order_ids]

        def worth(
            days: tuple[int | None, ...], wanted: list[int | None] = wanted
        ) -> tuple[int, int]:
            alike = sum(a == b is not None for a, b in zip(days, wanted, strict=True))
            return alike, -days.count(None)

        best = max(chance.sample(group.days, len(group.days)), key=worth)
        only |= zip(group.order_ids, best, strict=True)
    return replace(
        problem,
        orders=tuple(
            replace(
                one,
                allowed_trucks=frozenset(
                    name for name in one.allowed_trucks if day_of.get(name) == only[one.order_id]
                ),
            )
            if one.order_id in only
            else one
            for one in problem.orders
        ),
    )
