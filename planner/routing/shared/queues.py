"""A day in which trucks wait their turn where a site fills only so many at one time (rule 28).

Engines route as if nobody else came. Afterwards the queues of their plan are worked out as the
schedule will work them out (site_queue.py), and stop orders are changed as long as that saves money
or keeps a rule that waiting breaks: a refill earlier or later, at another site, or all refills of a
truck anew without the site. What waiting still breaks is left out.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.walk import full_walk
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.shared.site_queue import DEPART, Refill, Waits, queue_waits
from planner.routing.shared.store import within_stock


@dataclass(frozen=True)
class Queued:
    """A draft with its queues. waits: by truck row; costs: with them, inf where a rule breaks."""

    waits: Mapping[int, Waits]
    costs: tuple[float, ...]

    @property
    def broken(self) -> list[int]:
        """Rows of the trucks for which waiting breaks a rule."""
        return [row for row, cost in enumerate(self.costs) if cost == inf]

    def key(self, draft: Draft) -> tuple[int, float]:
        """What is to be as small as can be: broken trucks, then money."""
        left_out = sum(draft.prices[order] for order in draft.unserved)
        return len(self.broken), left_out + sum(cost for cost in self.costs if cost < inf)


Known = dict[tuple[object, ...], Any]
"""What trucks' days come to that were looked at before: most of them stay as they are when one of
them, or the order of loading, is changed."""


def queued(draft: Draft, known: Known | None = None) -> Queued:
    """The queues of a draft. known: of drafts of the same day, taken and filled in."""
    problem = draft.tables.problem
    at_once = {
        site.site_id: site.trucks_at_once
        for site in problem.sites
        if site.trucks_at_once is not None
    }
    if not at_once:
        return Queued({}, tuple(draft.costs))
    row_of = {day.truck.truck_id: row for row, day in enumerate(draft.days)}
    seen: Known = {} if known is None else known

    def once(what: Callable[[int, Waits], Any], row: int, waits: Waits) -> Any:
        key = (what.__name__, draft.days[row], *draft.stops[row], *sorted(waits.items()))
        if key not in seen:
            seen[key] = what(row, waits)
        return seen[key]

    def refills_of(row: int, waits: Waits) -> list[Refill]:
        day, stops = draft.days[row], draft.stops[row]
        found: list[Refill] = []
        walked = full_walk(day, stops, waits)
        load = walked.load
        if load is not None and load.gal > 0.0 and day.truck.yard_id in at_once:
            lasts = load.leave_min - load.begin_min
            yard = day.truck.yard_id
            found.append(Refill(DEPART, yard, load.arrive_min, load.arrive_min, lasts))
        for at, timing in enumerate(walked.timings):
            site = problem.sites[stops[at] - day.orders] if stops[at] >= day.orders else None
            if site is not None and site.site_id in at_once:
                ready = timing.arrive_min
                if site.open_min is not None:
                    ready = max(ready, site.open_min)
                lasts = timing.leave_min - timing.begin_min
                found.append(Refill(at, site.site_id, timing.arrive_min, ready, lasts))
        return found

    def cost_of(row: int, waits: Waits) -> float:
        return draft.days[row].cost(draft.stops[row], None, waits)

    busy = {site.site_id: site.busy_until for site in problem.sites}
    turns = {name: draft.turns.get(row, 0) for name, row in row_of.items()}
    by_name = queue_waits(
        lambda name, some: once(refills_of, row_of[name], some), list(row_of), at_once, busy, turns
    )
    waits = {row_of[name]: found for name, found in by_name.items()}
    costs = tuple(
        once(cost_of, row, waits[row]) if row in waits else cost
        for row, cost in enumerate(draft.costs)
    )
    return Queued(waits, costs)


def keep_turns(draft: Draft, settle: Callable[[Draft], object] | None = None) -> dict[int, str]:
    """Change stop orders so that they stand when trucks wait their turn. Orders that had to go,
    with why. settle: looks for refills with which all stand before one has to go."""
    gone: dict[int, str] = {}
    _improve(draft)
    if settle is not None and queued(draft).broken:
        settle(draft)
    while queued(draft).broken:
        order, words = _leave_one_out(draft)
        gone[order] = words
        _improve(draft)
    return gone


def _improve(draft: Draft) -> None:
    """Change one truck's stop order at a time, always to the best, while that helps."""
    known: Known = {}
    for _ in range(draft.tuning.shared_queue_rounds):
        now = queued(draft, known)
        if not now.waits:
            return
        best: Draft | None = None
        least = now.key(draft)
        for row, stops in _changes(draft, now):
            if draft.stop.is_set:
                return
            cost = draft.days[row].cost(stops)
            if cost == inf:
                continue
            trial = draft.copy()
            trial.put(row, stops, cost)
            key = queued(trial, known).key(trial)
            helps = key[0] < least[0] or (key[0] == least[0] and key[1] < least[1] - GAIN)
            if helps and within_stock(trial):
                best, least = trial, key
        if best is None:
            return
        draft.adopt(best)


def _changes(draft: Draft, now: Queued) -> Iterator[tuple[int, list[int]]]:
    """Other stop orders of the trucks that refill where somebody waits."""
    most = draft.tuning.shared_moved_most
    crowded = {
        draft.stops[row][at] for row, waits in now.waits.items() for at in waits if at != DEPART
    }
    for row, day in enumerate(draft.days):
        stops = draft.stops[row]
        here = crowded & set(stops)
        for at, stop in enumerate(stops):
            if stop in here:
                rest = [*stops[:at], *stops[at + 1 :]]
                for to in range(max(0, at - most), min(len(rest), at + most) + 1):
                    if to != at:
                        yield row, [*rest[:to], stop, *rest[to:]]
                for site in range(len(day.sites)):
                    if day.orders + site != stop:
                        yield row, [*stops[:at], day.orders + site, *stops[at + 1 :]]
        if here:
            sites = {stop - day.orders for stop in here}
            placed = place_refills(day, draft.orders_of(row), avoid=sites)
            if placed is not None:
                yield row, placed[1]


def _leave_one_out(draft: Draft) -> tuple[int, str]:
    """Off a truck that waiting breaks, take the order whose loss is least; that one, and why."""
    now = queued(draft)
    best: tuple[tuple[int, float], Draft, int, int] | None = None
    for row in now.broken:
        orders = sorted(draft.orders_of(row), key=lambda order: draft.prices[order])
        for order in orders:
            trial = draft.copy()
            trial.take_out(row, [order])
            key = queued(trial).key(trial)
            if best is None or key < best[0]:
                best = key, trial, order, row
            if draft.stop.is_set:
                # It must go on until the plan stands, and takes the one of least price.
                break
    assert best is not None, "a truck without orders does not wait"
    _, trial, order, row = best
    first, day = min(now.waits[row]), draft.days[row]
    site_row = day.tables.site_row[day.truck.yard_id]
    if first != DEPART:
        site_row = draft.stops[row][first] - day.orders
    site = draft.tables.problem.sites[site_row]
    words = (
        f"{day.truck.truck_id} would wait its turn at {site.site_id}, which fills "
        f"{site.trucks_at_once} at one time, and could then not do all of its orders"
    )
    draft.adopt(trial)
    return order, words
