"""Orders of later days put into a finished plan, where trucks would be home early (rule 32)."""

from collections.abc import Collection
from dataclasses import replace

from planner.routing.effort import ctrl_c_sets
from planner.routing.exact.walk import full_walk
from planner.routing.problem import Preferences, RoutingProblem, Solution, StopToken
from planner.routing.repair.draft import GAIN, Draft, insertion
from planner.routing.shared.limits import reasons_anew
from planner.routing.shared.queues import Queued, queued
from planner.routing.shared.store import draft_of, within_stock, without


def take_ahead(
    problem: RoutingProblem, answer: Solution, ahead: Collection[str], most: float, stop: StopToken
) -> tuple[Solution, tuple[str, ...]]:
    """The answer with orders ahead put in, the cheapest first, and those that were. Each costs at
    most so much pay and miles; trucks that stay home stay there, none gets overtime, every other
    order stays with its truck, and the limits that trucks share hold.

    problem: with the orders ahead, of which the answer does not speak. stop: or Ctrl-C: what
    stands is taken.
    """
    # Preferences are no money: without them a draft's cost is pay and miles.
    draft = draft_of(replace(problem, preferences=Preferences()), answer, stop)
    left = {row for row in draft.unserved if problem.orders[row].order_id in ahead}
    with ctrl_c_sets(stop):
        _fill(draft, left, most)
    left &= set(draft.unserved)
    taken = tuple(
        order.order_id
        for row, order in enumerate(problem.orders)
        if order.order_id in ahead and row not in left
    )
    if not taken:
        return answer, ()
    unsaid = {order.order_id: ("", "") for order in problem.orders}
    made = replace(answer, routes=draft.answer(unsaid).routes, refill_gap=None)
    if made.unserved:
        # What would make room is another thing now.
        final = draft_of(without(problem, sorted(left)), made, stop)
        made = replace(made, unserved=reasons_anew(final, answer.unserved))
    return made, taken


def _fill(draft: Draft, left: set[int], most: float) -> None:
    """Put orders in while one costs little enough."""
    known: dict[tuple[int, int], tuple[float, list[int]] | None] = {}
    left = set(left)
    now = queued(draft)
    home = _returns(draft, now)
    while left and not draft.stop.is_set:
        for row, day in enumerate(draft.days):
            for order in left if draft.stops[row] else ():
                if day.can[order] and (order, row) not in known:
                    known[order, row] = insertion(
                        day, draft.stops[row], draft.costs[row], order, most + GAIN
                    )
        places = [
            (found[0], order, row, found[1])
            for (order, row), found in known.items()
            if found is not None and order in left
        ]
        if not places:
            return
        more, order, row, stops = min(places)
        trial = draft.copy()
        trial.put(row, stops, draft.costs[row] + more)
        then = queued(trial)
        late = _returns(trial, then)
        if (
            not then.broken
            and sum(then.costs) - sum(now.costs) <= most + GAIN
            and within_stock(trial)
            and not any(
                after > max(before, day.truck.shift_end_min) + GAIN
                for day, before, after in zip(draft.days, home, late, strict=True)
            )
            and late[row] <= draft.days[row].truck.shift_end_min
        ):
            draft.adopt(trial)
            now, home = then, late
            left.discard(order)
            known = {key: found for key, found in known.items() if key[1] != row}
        else:
            known[order, row] = None


def _returns(draft: Draft, now: Queued) -> list[float]:
    """When each truck is back, waits included; trucks that stay home at 0."""
    return [
        full_walk(day, stops, now.waits.get(row, {})).return_min if stops else 0.0
        for row, (day, stops) in enumerate(zip(draft.days, draft.stops, strict=True))
    ]
