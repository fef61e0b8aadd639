"""Limits that trucks share, kept by any engine: what the store holds (rule 27), and sites that
fill only so many trucks at one time (rule 28), in the morning, too (rule 38).

Before routing it is chosen which orders wait for want of a product; the engine then routes the
others as if each truck were alone. Its plan is held to the limits: where hoses, heels and
roundings of several trucks take too much out of the store, orders of the lowest price go; trucks
queue, and what waiting breaks is done otherwise or left out; what then fits comes in, in other
stop orders where these save enough of the product.

Trucks that are ready together are loaded in turns (rule 38). Every truck waits on paid time, and
what a wait costs hangs on its day: whose customers open late loses nothing. So orders of loading
are priced with the whole day behind them: all of them for a few trucks, else changed by twos as
long as that helps.
"""

import copy
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations, permutations
from typing import Final

from planner.routing.effort import ctrl_c_sets
from planner.routing.problem import (
    Engine,
    RoutingProblem,
    Solution,
    SolveOptions,
    StopToken,
    TruckSpec,
)
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.shared.queues import Known, Queued, keep_turns, queued
from planner.routing.shared.settled import Settling
from planner.routing.shared.site_queue import DEPART
from planner.routing.shared.store import (
    draft_of,
    drop_beyond_stock,
    lacking,
    who_waits,
    within_stock,
    without,
)
from planner.routing.shared.thrift import save_product
from planner.routing.shared.whole import cut_out, parts_in_turn, torn_orders
from planner.routing.unserved.offers import Relaxation
from planner.routing.unserved.reasons import Reason, explained, impossible, reasons
from planner.routing.unserved.relax import (
    FoundRoom,
    as_planned,
    day_with,
    insertion_with,
    put_found,
)

ALL_ORDERS_UP_TO: Final = 5
"""Trucks at one yard of which every order is tried: 120 of them take a fifth of a second."""
USUAL_SHARE: Final = 0.75
"""Of what a truck can hold or carry, before its day is known."""
USUAL_LB_PER_GAL: Final = 8.5


def in_best_turns(draft: Draft) -> None:
    """Set the order in which the draft's trucks are loaded."""
    known: Known = {}
    now = queued(draft, known)
    for rows in _yards(draft, now):
        in_turn = sorted(
            rows, key=lambda row: (draft.turns.get(row, 0), _begin(draft, now, row), row)
        )
        now = _with(draft, in_turn, known)
        while True:
            best, least = None, now.key(draft)
            for other in _others(in_turn):
                found = _with(draft, other, known)
                key = found.key(draft)
                if key[0] < least[0] or (key[0] == least[0] and key[1] < least[1] - GAIN):
                    best, least = other, key
            if best is None:
                break
            in_turn, now = best, _with(draft, best, known)
            # A stopped plan has its one look, too: turns as they come cost it more orders.
            if len(rows) <= ALL_ORDERS_UP_TO or draft.stop.is_set:
                break
        # Told as they begin, so that the plan's own times say the order.
        now = _with(draft, sorted(in_turn, key=lambda row: _begin(draft, now, row)), known)


def with_usual_waits(problem: RoutingProblem) -> RoutingProblem:
    """The problem for an engine that routes each truck as if it were alone: its morning with the
    wait that its place in the yard's queue usually means, the quickest to load first."""
    trucks = {truck.truck_id: truck for truck in problem.trucks}
    for site in problem.sites:
        mine = [
            (
                truck.shift_start_min + truck.prepare_min,
                _usual_min(truck, site.setup_min, site.fill_gal_per_min),
                name,
            )
            for name, truck in trucks.items()
            if truck.yard_id == site.site_id and truck.loads == "morning" and truck.start is None
        ]
        if site.trucks_at_once is None or len(mine) <= site.trucks_at_once:
            continue
        free = [0.0] * site.trucks_at_once
        for ready, lasts, name in sorted(mine):
            begin = max(ready, min(free))
            free[free.index(min(free))] = begin + lasts
            trucks[name] = replace(trucks[name], prepare_min=begin - trucks[name].shift_start_min)
    if all(trucks[truck.truck_id] is truck for truck in problem.trucks):
        return problem
    return replace(problem, trucks=tuple(trucks.values()))


def _usual_min(truck: TruckSpec, setup_min: float, flow: float) -> float:
    holds = sum(part.capacity_gal - part.start_gal for part in truck.compartments)
    return setup_min + USUAL_SHARE * min(holds, truck.payload_lb / USUAL_LB_PER_GAL) / flow


def _yards(draft: Draft, now: Queued) -> Iterator[list[int]]:
    """Trucks of each yard where somebody waits for his first fill."""
    crowded = {draft.days[row].truck.yard_id for row, waits in now.waits.items() if DEPART in waits}
    for yard_id in sorted(crowded):
        yield [
            row
            for row, day in enumerate(draft.days)
            if draft.stops[row]
            and day.truck.yard_id == yard_id
            and day.truck.loads == "morning"
            and not day.is_out
        ]


def _begin(draft: Draft, now: Queued, row: int) -> float:
    return now.waits.get(row, {}).get(DEPART, draft.days[row].start_min)


def _with(draft: Draft, in_turn: list[int], known: Known) -> Queued:
    draft.turns = draft.turns | {row: place for place, row in enumerate(in_turn)}
    return queued(draft, known)


def _others(in_turn: list[int]) -> Iterator[list[int]]:
    if len(in_turn) <= ALL_ORDERS_UP_TO:
        yield from map(list, permutations(in_turn))
        return
    for one, other in combinations(range(len(in_turn)), 2):
        swapped = in_turn.copy()
        swapped[one], swapped[other] = swapped[other], swapped[one]
        yield swapped
        moved = in_turn.copy()
        moved.insert(other, moved.pop(one))
        yield moved


SAVING_TRIED: Final = 24
"""Times that product is saved for an order, a third of a second each."""

TAKEN_IN_AFTER_A_STOP: Final = 8
"""Orders that are tried in a stopped plan: a tenth of a second."""

SETTLING = "refills and lunches of all trucks at once"
WAITING = "the trucks that could do it would wait too long for their turn to refill"


class SharedLimits:
    """An engine whose plans keep these limits; a day without them is the engine's own."""

    def __init__(self, engine: Engine, *, last_word: bool = False) -> None:
        """last_word: CP-SAT has it on refills (planner/routing/shared/settled.py)."""
        self._engine, self._last_word = engine, last_word

    @property
    def name(self) -> str:
        """The engine's; after solving, of the one that made the plan."""
        return self._engine.name

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        """As Engine.solve; Ctrl-C sets the token, too. Orders of which parts would be left out are
        left out whole (rule 39), and the day is solved again without them."""
        problem = replace(problem, tuning=options.effort.tuning)
        answer, gone = self._solve(problem, options), dict[str, tuple[str, str]]()
        while True:
            unserved = {**answer.unserved, **gone}
            gone = torn_orders(problem, unserved)
            if gone.keys() <= unserved.keys():
                routes = tuple(parts_in_turn(answer.routes, problem))
                return replace(answer, routes=routes, unserved=unserved | gone)
            answer = self._without(problem, gone, answer, options)

    def _without(
        self,
        problem: RoutingProblem,
        gone: Mapping[str, object],
        before: Solution,
        options: SolveOptions,
    ) -> Solution:
        """The day solved again without some orders. Once it is stopped an engine has hardly begun:
        then what it did before is kept without them, if that is better."""
        rows = [row for row, one in enumerate(problem.orders) if one.order_id in gone]
        rest = without(problem, rows)
        again = None if options.stop.is_set else self._solve(rest, options)
        if again is not None and not options.stop.is_set:
            return again
        draft, why = held_to_limits(rest, cut_out(problem, before, gone), options.stop)
        if again is not None and draft_of(rest, again, options.stop).total < draft.total:
            return again
        return draft.answer({name: (one.code, one.text) for name, one in why.items()})

    def _solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        stop = options.stop
        settling = Settling(options.effort, options.seed) if self._last_word else None
        if settling is not None:
            options = replace(options, effort=settling.rest)
        with ctrl_c_sets(stop):
            if not shares_limits(problem):
                answer = self._engine.solve(problem, options)
                if settling is None or stop.is_set:
                    return answer
                options.progress(1.0, SETTLING)
                draft = draft_of(problem, answer, stop)
                gap = settling.settle(draft)
                return replace(draft.answer(answer.unserved), refill_gap=gap)
            waiting = who_waits(problem, stop)
            alone = with_usual_waits(without(problem, waiting))
            answer = self._engine.solve(alone, options)
            if settling is not None and not stop.is_set:
                options.progress(1.0, SETTLING)
            draft, reasons = held_to_limits(problem, answer, stop, settling)
            return replace(
                draft.answer({name: (one.code, one.text) for name, one in reasons.items()}),
                refill_gap=None if settling is None else settling.gap,
            )


def reasons_anew(draft: Draft, before: Mapping[str, tuple[str, str]]) -> dict[str, tuple[str, str]]:
    """Solution.unserved of a finished draft. before: why before the last change."""
    if not shares_limits(draft.tables.problem):
        return reasons(draft)
    code = {row: before[_id(draft, row)][0] for row in draft.unserved}
    waiting = {row for row in draft.unserved if code[row] == "STORE"}
    gone = {
        row: before[_id(draft, row)][1]
        for row in draft.unserved
        if code[row] == "SITE" and before[_id(draft, row)][1] != WAITING
    }
    return {name: (one.code, one.text) for name, one in _reasons(draft, waiting, gone).items()}


def shares_limits(problem: RoutingProblem) -> bool:
    """Whether the store or a site limits several trucks together."""
    return bool(problem.stock) or any(site.trucks_at_once is not None for site in problem.sites)


def held_to_limits(
    problem: RoutingProblem, answer: Solution, stop: StopToken, settling: Settling | None = None
) -> tuple[Draft, dict[str, Reason]]:
    """An answer that keeps no shared limits, as a draft that does, and why orders are left out.
    Orders that the answer does not speak of are those that wait for want of a product. settling:
    who has the last word on refills."""
    draft = draft_of(problem, answer, stop)
    waiting = {row for row in draft.unserved if _id(draft, row) not in answer.unserved}
    served = set(range(len(problem.orders))) - set(draft.unserved)
    drop_beyond_stock(draft)
    waiting |= served & set(draft.unserved)
    in_best_turns(draft)
    gone = keep_turns(draft, None if settling is None else settling.settle)
    _take_in(draft, draft.unserved.copy(), waiting)
    in_best_turns(draft)
    if settling is not None:
        settling.settle(draft)
    return draft, _reasons(draft, waiting, gone)


def _id(draft: Draft, row: int) -> str:
    return draft.tables.problem.orders[row].order_id


def _asked(draft: Draft, rows: Iterable[int], waiting: set[int]) -> list[int]:
    """Orders for which a place is looked for: all that wait, and the first others."""
    rows = list(rows)
    others = [row for row in rows if row not in waiting][: draft.tuning.unserved_in_detail]
    return [row for row in rows if row in waiting or row in others]


def _take_in(draft: Draft, rows: list[int], waiting: set[int]) -> None:
    """Put orders in where that keeps the limits and saves money, the dearest first."""
    by_price = sorted(_asked(draft, rows, waiting), key=lambda row: (-draft.prices[row], row))
    tries, left = SAVING_TRIED, TAKEN_IN_AFTER_A_STOP
    for row in by_price:
        left -= draft.stop.is_set
        if left < 0:
            return
        for found in _places(draft, row):
            trial = draft.copy()
            put_found(trial, found)
            stands = within_stock(trial)
            if not stands and tries and not draft.stop.is_set:
                tries -= 1
                stands = save_product(trial, draft.prices[row] - found.more)
            if stands and queued(trial).key(trial) < queued(draft).key(draft):
                draft.adopt(trial)
                break


def _places(draft: Draft, row: int) -> Iterator[FoundRoom]:
    """Places for an order that cost less than leaving it out: the cheapest, then, where the store
    is short and other trucks wait less, the best on each truck as it is loaded. Once the plan is
    stopped, the cheapest with its refills where they are."""
    if draft.stop.is_set:
        place = draft.best_place(row, draft.prices[row])
        if place is not None:
            more, truck, stops = place
            as_it_is = Relaxation(draft.days[truck].truck.truck_id)
            yield FoundRoom(as_it_is, truck, tuple(stops), more)
        return
    first = as_planned(draft, row)
    if first is None or first.more >= draft.prices[row]:
        return
    yield first
    if draft.tables.problem.stock:
        others = []
        for truck, day in enumerate(draft.days):
            as_it_is = Relaxation(day.truck.truck_id)
            found = insertion_with(draft, row, truck, as_it_is, draft.prices[row])
            if found is not None and found.row != first.row:
                others.append(found)
        yield from sorted(others, key=lambda one: one.more)


def _reasons(draft: Draft, waiting: set[int], gone: dict[int, str]) -> dict[str, Reason]:
    given: dict[str, Reason] = {}
    others = []
    asked = set(_asked(draft, draft.unserved, waiting))
    for row in draft.unserved:
        look = row in asked and not draft.stop.is_set
        limited = _limited(draft, row, row in waiting) if look else None
        if row in gone:
            limited = Reason("SITE", gone[row])
        if limited is None:
            others.append(row)
        else:
            given[_id(draft, row)] = limited
    return given | explained(draft, others, lambda order, found: _stands(draft, order, found))


def _limited(draft: Draft, row: int, waits: bool) -> Reason | None:
    """The shared limit for which an order is left out, if it is one."""
    found = as_planned(draft, row)
    fits = found is not None and found.more < draft.prices[row]
    if fits or (waits and impossible(draft, row) is None):
        words = lacking(draft, row, found)
        if words is not None:
            return Reason("STORE", words)
    return Reason("SITE", WAITING) if fits else None


def _stands(draft: Draft, order: int, found: FoundRoom) -> bool:
    """Whether a room for an order keeps the limits, too."""
    trial = draft.copy()
    day = day_with(draft, order, found.row, found.room)
    cost = day.cost(found.stops)
    if found.room.one_more:
        day = copy.copy(day)
        day.truck = replace(day.truck, truck_id=f"{day.truck.truck_id} again")
        trial.days, trial.stops, trial.costs = (
            [*trial.days, day],
            [*trial.stops, list(found.stops)],
            [*trial.costs, cost],
        )
    else:
        trial.days[found.row] = day
        trial.stops[found.row], trial.costs[found.row] = list(found.stops), cost
    return within_stock(trial) and not queued(trial).broken
