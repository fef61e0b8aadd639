"""Groups of orders whose days depend on each other, in a draft that was made with one combination
of days for each: the others looked at where one leaves an order out or costs more."""

import random
from collections.abc import Sequence

from planner.routing.exact.route_cost import DayTables
from planner.routing.problem import OrderGroup, RoutingProblem
from planner.routing.repair.draft import GAIN, Draft


def with_other_days(problem: RoutingProblem, draft: Draft, chance: random.Random) -> Draft:
    """The draft on the whole problem, with every group of which an order is left out on the
    combination that costs least beside everything else. problem: with every day of each order."""
    whole = Draft(DayTables(problem), [day.loading for day in draft.days], draft.stop)
    for row, stops in enumerate(draft.stops):
        if stops:
            whole.put(row, stops, draft.costs[row])
    whole.prices = draft.prices
    for group in problem.groups:
        rows = [whole.tables.order_row[name] for name in group.order_ids]
        if set(rows) & set(whole.unserved):
            _best_of(whole, group, rows, chance)
    return whole


def _best_of(draft: Draft, group: OrderGroup, rows: Sequence[int], chance: random.Random) -> None:
    """Put the group's orders on the days that cost least."""
    bare = draft.copy()
    for at in range(len(bare.days)):
        if mine := set(rows) & set(bare.orders_of(at)):
            bare.take_out(at, mine)
    best = draft
    looks = min(draft.tuning.calendar_group_looks, len(group.days))
    for days in chance.sample(group.days, looks):
        if draft.stop.is_set:
            break
        trial = bare.copy()
        for order, day in sorted(
            zip(rows, days, strict=True), key=lambda one: (-bare.prices[one[0]], one[0])
        ):
            if day is not None:
                _put(trial, order, day)
        if trial.total < best.total - GAIN:
            best = trial
    if best is not draft:
        draft.adopt(best)


def _put(draft: Draft, order: int, day: int) -> None:
    """Where it costs least on that day; an idle truck is loaded for it."""
    trucks = [row for row, one in enumerate(draft.days) if one.truck.day == day]
    loaded = draft.copy()
    for row in trucks:
        if loaded.stops[row] or loaded.days[row].can[order]:
            continue
        for rank in range(len(loaded.days[row].truck.loadings)):
            other = loaded.memory.loaded(loaded.tables, row, rank)
            if other.can[order]:
                loaded.days[row] = other
                loaded.costs[row] = other.idle_cost
                break
    found = loaded.best_place(order, draft.prices[order], trucks)
    if found is not None:
        more, row, stops = found
        draft.days[row] = loaded.days[row]
        draft.put(row, stops, loaded.costs[row] + more)
