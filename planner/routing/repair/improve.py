"""Exact improvement of a draft: take some orders out, put them back where they cost least.

Rounds of ruin and recreate (after Schrimpf et al. 2000, Journal of Computational Physics 159(2),
and the string removal of Christiaens and Vanden Berghe 2020, Transportation Science 54(2), both
from memory) with annealed acceptance. Every step is priced by the rules themselves, so what it
ends with is feasible and never dearer than what it began with.
"""

import math
import random
from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import combinations, pairwise
from math import inf

from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.repair.draft import GAIN, Draft, insertion, places_of, thorough_insertion


def exchange(draft: Draft, over: Callable[[], bool]) -> None:
    """Put unserved orders in where one or two orders of a truck with less price together make room
    and money is saved; those are put in elsewhere if they fit. over: asked whether to stop."""
    settled: dict[tuple[int, int], list[int]] = {}
    left = draft.tuning.repair_exchanges
    busy = True
    while busy:
        busy = False
        dearest = sorted(draft.unserved, key=lambda row: (-draft.prices[row], row))
        for order in dearest[: draft.tuning.unserved_tried]:
            for row, day in enumerate(draft.days):
                stops = draft.stops[row]
                if not day.can[order] or settled.get((order, row)) is stops:
                    continue
                if over() or left <= 0:
                    return
                found, tried = _exchanged(draft, order, row)
                left -= tried
                if found is not None:
                    draft.adopt(found)
                    busy = True
                    break
                settled[order, row] = stops


def _exchanged(draft: Draft, order: int, row: int) -> tuple[Draft | None, int]:
    """The draft with the order on that truck in place of others, and how many places were tried."""
    price, tried = draft.prices[order], 1
    cheaper = [other for other in draft.orders_of(row) if draft.prices[other] < price]
    if not cheaper or _in_place_of(draft, order, row, cheaper, inf) is None:
        return None, tried
    for gone in _few_of(
        sorted(cheaper, key=lambda other: draft.prices[other]), draft.tuning.repair_exchanged
    ):
        under = price - sum(draft.prices[other] for other in gone) - GAIN
        if draft.stop.is_set:
            break
        if under <= 0.0:
            continue
        trial = _in_place_of(draft, order, row, gone, under)
        tried += 1
        if trial is not None:
            trial.serve(gone)
            return trial, tried
    return None, tried


def _few_of(orders: list[int], most: int) -> Iterator[tuple[int, ...]]:
    for count in range(1, most + 1):
        yield from combinations(orders, count)


def _in_place_of(
    draft: Draft, order: int, row: int, gone: Collection[int], under: float
) -> Draft | None:
    """The draft with the order on that truck in place of others, for less than `under` more."""
    trial, day = draft.copy(), draft.days[row]
    trial.take_out(row, gone)
    stops, cost = trial.stops[row], trial.costs[row]
    if len(trial.unserved) != len(draft.unserved) + len(gone) or not _has_time(day, stops, order):
        return None
    under += draft.costs[row] - cost
    # All refills anew takes five times as long, and of pairs there are many.
    look = insertion if len(gone) == draft.tuning.repair_exchanged else thorough_insertion
    found = look(day, stops, cost, order, under, len(stops) + 1)
    if found is None:
        return None
    trial.put(row, found[1], cost + found[0])
    return trial


def _has_time(day: TruckDay, stops: list[int], order: int) -> bool:
    """Whether the truck's day leaves the minutes that the order takes at the least, if every wait
    and every minute of overtime is used for it."""
    if not stops:
        return True
    walk = full_walk(day, stops)
    places = [day.start_place, *places_of(day, stops), day.yard_place]
    there, minutes = day.place[order], day.minutes
    detour = min(minutes[a][there] + minutes[there][b] - minutes[a][b] for a, b in pairwise(places))
    if there not in places:
        detour += day.setup_min
    waits = sum(timing.begin_min - timing.arrive_min for timing in walk.timings)
    left = day.truck.latest_return_min - walk.return_min + waits
    return detour + day.spray_min[order] <= left


def improve(
    draft: Draft,
    rounds: int | None,
    rng: random.Random,
    share_done: Callable[[int], float],
    over: Callable[[], bool],
) -> Draft:
    """The best draft seen. rounds: at most so many (None = until over). share_done: how far the
    work is after so many rounds, 0 to 1; over: asked before each round."""
    best = draft.copy()
    if not draft.prices:
        return best
    now, tuning = draft.copy(), draft.tuning
    near = _near_orders(draft)
    served = max(1, len(draft.prices) - len(draft.unserved))
    order_cost = max(1e-6, sum(draft.costs) / served)
    done = 0
    while (rounds is None or done < rounds) and not over():
        trial = now.copy()
        before = [id(stops) for stops in trial.stops]
        first = None
        if rng.random() < tuning.repair_reloads:
            touched, first = _load_another_way(trial, rng)
        else:
            touched = _ruin(trial, near, rng)
        _recreate(trial, rng, first)
        if trial.total < now.total + tuning.repair_nearly * order_cost:
            for row, stops in enumerate(trial.stops):
                if row in touched or id(stops) != before[row]:
                    trial.tidy(row)
        heat = (
            tuning.repair_warm
            * (tuning.repair_cold / tuning.repair_warm) ** share_done(done)
            * order_cost
        )
        if trial.total < now.total - heat * math.log(max(1e-12, rng.random())):
            now = trial
        if trial.total < best.total - GAIN:
            best = trial
        done += 1
    return best


def _near_orders(draft: Draft) -> list[list[int]]:
    """Of each order all orders by drive there and back, itself first."""
    minutes = draft.tables.minutes[0]
    place = draft.tables.place
    return [
        sorted(
            range(len(place)),
            key=lambda other: (
                other != order,
                minutes[place[order]][place[other]] + minutes[place[other]][place[order]],
                other,
            ),
        )
        for order in range(len(place))
    ]


def _ruin(trial: Draft, near: list[list[int]], rng: random.Random) -> set[int]:
    """Take strings of neighboring orders out of a few trucks around one order, which is an
    unserved one half of the time when there are any. Returns the trucks touched."""
    if trial.unserved and rng.random() < 0.5:
        center = rng.choice(trial.unserved)
    else:
        center = rng.randrange(len(trial.prices))
    truck_of = {order: row for row in range(len(trial.days)) for order in trial.orders_of(row)}
    wanted = max(1, round(rng.expovariate(1.0 / trial.tuning.repair_taken_mean)))
    touched: set[int] = set()
    for order in near[center]:
        row = truck_of.get(order)
        if row is None or row in touched:
            continue
        sequence = trial.orders_of(row)
        length = min(len(sequence), rng.randint(1, trial.tuning.repair_string_most), wanted)
        at = sequence.index(order)
        first = rng.randint(max(0, at - length + 1), min(at, len(sequence) - length))
        trial.take_out(row, sequence[first : first + length])
        touched.add(row)
        wanted -= length
        if wanted <= 0:
            break
    return touched


def _load_another_way(trial: Draft, rng: random.Random) -> tuple[set[int], int | None]:
    """Give one truck another loading, one with the mix of an unserved order where there is one,
    and take out what it can then not do. Returns the trucks touched and that order."""
    problem = trial.tables.problem
    first: int | None = None
    wanted: str | None = None
    rows = [row for row, truck in enumerate(problem.trucks) if len(truck.loadings) > 1]
    if trial.unserved and rng.random() < 0.7:
        shut_out = [
            order for order in trial.unserved if not any(day.can[order] for day in trial.days)
        ]
        first = rng.choice(shut_out or trial.unserved)
        wanted = problem.orders[first].mix_id
        allowed = problem.orders[first].allowed_trucks
        rows = [row for row in rows if problem.trucks[row].truck_id in allowed]
    if not rows:
        return set(), None
    row = rng.choice(rows)
    ranks = _other_ranks(trial, row, wanted)
    if not ranks:
        return set(), None
    # Loadings like the present one are more often of use than a wholly different one.
    rank = ranks[min(len(ranks) - 1, int(rng.expovariate(0.25)))]
    _load(trial, row, rank)
    return {row}, first


def _other_ranks(trial: Draft, row: int, wanted: str | None) -> list[int]:
    """A truck's other loadings that carry `wanted`, those most like the present one first."""
    loadings = trial.days[row].truck.loadings
    now = trial.days[row].loading
    ranks = [
        rank
        for rank, loading in enumerate(loadings)
        if loading != now and (wanted is None or wanted in loading.mix_of)
    ]
    return sorted(
        ranks,
        key=lambda rank: sum(
            a != b for a, b in zip(loadings[rank].mix_of, now.mix_of, strict=True)
        ),
    )


def _load(trial: Draft, row: int, rank: int) -> None:
    """Load a truck another way; what it can then not do is taken out."""
    sequence = trial.orders_of(row)
    trial.days[row] = trial.memory.loaded(trial.tables, row, rank)
    trial.put(row, [], trial.days[row].idle_cost)
    take_over(trial, row, sequence)


def rescue(draft: Draft, over: Callable[[], bool]) -> None:
    """Orders that no truck can do as loaded: load an allowed truck for them where that saves money
    when what it then leaves is put in elsewhere."""
    for order in draft.unserved.copy():
        if any(day.can[order] for day in draft.days):
            continue
        best: Draft | None = None
        for trial in loaded_for(draft, order, over):
            if trial.total < (best or draft).total - GAIN:
                best = trial
        if over():
            return
        if best is not None:
            draft.adopt(best)


def loaded_for(draft: Draft, order: int, over: Callable[[], bool]) -> Iterator[Draft]:
    """Drafts that serve an order by loading one truck for it; what that truck then cannot do is
    put in elsewhere, or left out."""
    problem = draft.tables.problem
    for row, truck in enumerate(problem.trucks):
        if truck.truck_id not in problem.orders[order].allowed_trucks:
            continue
        tried = 0
        for rank in _other_ranks(draft, row, problem.orders[order].mix_id):
            if tried == draft.tuning.repair_rescues or over():
                break
            if not draft.memory.loaded(draft.tables, row, rank).can[order]:
                continue
            tried += 1
            trial = draft.copy()
            _load(trial, row, rank)
            trial.last_chance([order])
            if order not in trial.unserved:
                trial.serve(sorted(trial.unserved, key=lambda left: (-trial.prices[left], left)))
                yield trial


def _recreate(trial: Draft, rng: random.Random, first: int | None) -> None:
    """Put every order that is out back in, `first` before the others in one of a few sequences."""
    orders = trial.unserved.copy()
    problem = trial.tables.problem
    kind = rng.random()
    if kind < 0.4:
        rng.shuffle(orders)
    elif kind < 0.7:
        orders.sort(key=lambda order: (-problem.orders[order].gal, order))
    elif kind < 0.85:
        orders.sort(key=lambda order: (-trial.prices[order], order))
    else:
        orders.sort(key=lambda order: (_open_min(trial, order), order))
    if first is not None:
        trial.serve([first])
    trial.serve(order for order in orders if order != first)


def _open_min(trial: Draft, order: int) -> float:
    """Minutes that an order's windows leave open."""
    spans = trial.tables.windows[order]
    return math.inf if spans is None else sum(closes - opens for opens, closes in spans)


def reload(draft: Draft, over: Callable[[], bool]) -> bool:
    """Give each truck the loading that does its orders cheapest, and what else it lets in.
    Returns whether anything was gained."""
    gained = False
    for row, day in enumerate(draft.days):
        sequence = draft.orders_of(row)
        if not sequence:
            continue
        needed = {draft.tables.problem.orders[order].mix_id for order in sequence}
        offers = [
            TruckDay(draft.tables, row, loading)
            for loading in day.truck.loadings
            if loading != day.loading and needed <= set(loading.mix_of)
        ]
        offers = [other for other in offers if _may_be_better(other, day, needed)]
        for other in offers[: draft.tuning.repair_reloadings]:
            if over():
                return gained
            found = place_refills(other, sequence, under_cost=draft.costs[row] - GAIN)
            if found is not None:
                draft.days[row] = other
                draft.put(row, found[1], found[0])
                gained = True
    return gained


def _may_be_better(other: TruckDay, day: TruckDay, needed: set[str]) -> bool:
    """Whether a loading has more of a needed mix, a faster gun for it, or less to clean."""
    if other.day_cost < day.day_cost:
        return True
    for mix_id in needed:
        new, old = other.mixes.index(mix_id), day.mixes.index(mix_id)
        if other.tanks.usable_gal[new] > day.tanks.usable_gal[old]:
            return True
        guns = other.truck.lines
        new_gun = guns[other.line_of[new]].gun_gal_per_min
        if new_gun > guns[day.line_of[old]].gun_gal_per_min:
            return True
    return False


def polish(draft: Draft, over: Callable[[], bool]) -> None:
    """Move single orders, within and between trucks, as long as that saves money."""
    orders = len(draft.prices)
    busy = True
    while busy and not over():
        busy = False
        for order in range(orders):
            if over():
                return
            row = next((row for row, stops in enumerate(draft.stops) if order in stops), None)
            if row is None:
                continue
            trial = draft.copy()
            trial.take_out(row, [order])
            if len(trial.unserved) != len(draft.unserved) + 1:
                continue
            saved = sum(draft.costs) - sum(trial.costs)
            found = trial.best_place(order, saved - GAIN)
            if found is not None:
                more, to, stops = found
                trial.put(to, stops, trial.costs[to] + more)
                trial.tidy(row)
                draft.adopt(trial)
                busy = True


def take_over(draft: Draft, row: int, sequence: Sequence[int]) -> None:
    """Give a truck a sequence, exactly placed. Where it does not stand, orders that do not fit
    behind those before them are left out."""
    day = draft.days[row]
    kept = [] if draft.stop.is_set else [order for order in sequence if day.can[order]]
    found = place_refills(day, kept)
    if found is None:
        wanted, kept, found = kept, [], (day.idle_cost, [])
        for order in wanted:
            if draft.stop.is_set:
                break
            trial = [*kept, order]
            stops = [*found[1], order]
            cost = day.cost(stops)
            longer = (cost, stops) if cost < math.inf else place_refills(day, trial)
            if longer is not None:
                kept, found = trial, longer
    draft.put(row, found[1], found[0])
