"""The search itself: steps of ruin and recreate with annealed acceptance."""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled, entry
from planner.routing.compiled.price import can_do
from planner.routing.compiled.scratch import Scratch
from planner.routing.search.exchange import exchange
from planner.routing.search.group_days import begin_days, open_groups
from planner.routing.search.recreate import recreate, tidy
from planner.routing.search.ruin import ruin
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState, copy_truck, is_open
from planner.routing.search.trucks import (
    GAIN,
    most_alike_loading,
    put_less,
    reload_truck,
    sequence_of,
)


@compiled
def _collect_absent(state: SearchState, hand: RuinState) -> None:
    hand.n[c.ABSENT] = 0
    for at in range(hand.centers.shape[0]):
        order = hand.centers[at]
        if state.truck_of[order] < 0:
            hand.absent[hand.n[c.ABSENT]] = order
            hand.n[c.ABSENT] += 1


@compiled
def _total_of(day: DayArrays, state: SearchState, hand: RuinState) -> float:
    """Money of the active trucks and of the absent orders."""
    money = 0.0
    for truck in range(state.truck.shape[0]):
        if hand.truck[truck, c.ACTIVE]:
            money += state.money[truck, c.COST]
    for at in range(hand.n[c.ABSENT]):
        money += day.order[hand.absent[at], c.PRICE]
    return money


@compiled
def _unused_of(state: SearchState, hand: RuinState) -> float:
    """Money of the active trucks' last refills that is not used."""
    money = 0.0
    for truck in range(state.truck.shape[0]):
        if hand.truck[truck, c.ACTIVE] and state.truck[truck, c.SIZE] > 0:
            money += state.money[truck, c.UNUSED]
    return money


@compiled
def _take_over(day: DayArrays, work: Scratch, hand: RuinState, state: SearchState) -> None:
    """Place, price and survey a plan of which only loadings and orders are known. Orders that a
    truck cannot do are left out; a truck whose sequence does not stand loses all of it."""
    hand.n[c.ABSENT] = 0
    begin_days(day, state)
    for order in range(state.truck_of.shape[0]):
        state.truck_of[order] = -1
    for truck in range(state.truck.shape[0]):
        size, left = sequence_of(day, work, state, truck), c.ZERO
        for at in range(size):
            order = work.sequence[at]
            can = can_do(day, truck, state.truck[truck, c.LOAD], order)
            if can and is_open(day, state, truck, order):
                work.sequence[left] = order
                state.truck_of[order] = truck
                left += 1
        put_less(day, work, state, hand, truck, left)
    hand.n[c.ABSENT] = 0


@entry
def anneal(
    day: DayArrays,
    work: Scratch,
    hand: RuinState,
    now: SearchState,
    trial: SearchState,
    best: SearchState,
    fresh: bool,
    steps: int,
    seed: int,
    hot: float,
    cold: float,
    reload_chance: float,
    lenience: float,
) -> float:
    """Run `steps` steps from `now`, which is left at the last plan accepted; `best` (a plan seen
    before) becomes the cheapest plan seen. fresh: of `now` only loadings and stops (or only orders)
    are known, and nothing was seen before. hot, cold: acceptance temperature at the first and last
    step, money. lenience: share of a refill's unused part that is not counted in what is accepted;
    `best` is by what plans cost. Returns the best's total over active trucks and centers."""
    np.random.seed(seed)
    work.out[c.LENIENCE] = lenience
    if fresh:
        _take_over(day, work, hand, now)
        _keep_best(now, best)
    _collect_absent(best, hand)
    best_cost = _total_of(day, best, hand)
    _collect_absent(now, hand)
    now_cost = _total_of(day, now, hand)
    trucks = now.truck.shape[0]
    for truck in range(trucks):
        copy_truck(trial, now, truck)
    for order in range(now.truck_of.shape[0]):
        trial.truck_of[order], trial.day_of[order] = now.truck_of[order], now.day_of[order]
    if now_cost < best_cost - GAIN:
        _keep_best(now, best)
        best_cost = now_cost
    now_cost -= lenience * _unused_of(now, hand)
    for step in range(steps):
        work.out[c.HEAT] = heat = hot * (cold / hot) ** (step / steps)
        for truck in range(trucks):
            hand.truck[truck, c.TOUCHED] = hand.truck[truck, c.UNTIDY] = False
        center = one = other = c.NONE
        if reload_chance > 0.0 and np.random.random() < reload_chance:
            center = _reload_some(day, work, trial, hand)
        elif np.random.random() < day.tuning[c.EXCHANGE_CHANCE]:
            # Never after a new loading: it begins from the plan accepted last.
            most = day.tuning[c.EXCHANGE_PATIENCE] * heat
            center, one, other = exchange(day, work, now, trial, hand, most)
        ruin(day, work, trial, hand, center)
        if one >= 0:
            # Not before: strings are taken out of untouched trucks only.
            hand.truck[one, c.TOUCHED] = hand.truck[other, c.TOUCHED] = True
        open_groups(day, work, trial, hand)
        recreate(day, work, trial, hand)
        cost = _total_of(day, trial, hand) - lenience * _unused_of(trial, hand)
        limit = now_cost - heat * math.log(max(1e-300, np.random.random()))
        if cost < limit + day.tuning[c.TIDY_MAY_SAVE] * (now_cost / (1 + now.truck_of.shape[0])):
            tidy(day, work, trial, hand)
            cost = _total_of(day, trial, hand) - lenience * _unused_of(trial, hand)
        if cost < limit:
            for truck in range(trucks):
                if hand.truck[truck, c.TOUCHED]:
                    copy_truck(now, trial, truck)
            for order in range(now.truck_of.shape[0]):
                now.truck_of[order], now.day_of[order] = trial.truck_of[order], trial.day_of[order]
            now_cost = cost
            cost = _total_of(day, trial, hand)
            if cost < best_cost - GAIN:
                best_cost = cost
                _keep_best(trial, best)
        else:
            for truck in range(trucks):
                if hand.truck[truck, c.TOUCHED]:
                    copy_truck(trial, now, truck)
            for order in range(now.truck_of.shape[0]):
                trial.truck_of[order], trial.day_of[order] = now.truck_of[order], now.day_of[order]
            _collect_absent(trial, hand)
    return best_cost


@compiled
def _keep_best(source: SearchState, best: SearchState) -> None:
    """Only what says the plan; the survey of `best` is not used."""
    for truck in range(source.truck.shape[0]):
        best.truck[truck, c.LOAD], best.truck[truck, c.SIZE] = (
            source.truck[truck, c.LOAD],
            source.truck[truck, c.SIZE],
        )
        best.money[truck, c.COST] = source.money[truck, c.COST]
        for at in range(source.truck[truck, c.SIZE]):
            best.stops[truck, at] = source.stops[truck, at]
    for order in range(source.truck_of.shape[0]):
        best.truck_of[order] = source.truck_of[order]


@compiled
def _reload_some(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState) -> int:
    """Another loading for one truck; when orders are absent, half of the time one that can do one
    of them. Returns an order that the truck can do now and could not before, -1 = none was seen:
    what lies around it must be offered anew, or the loading is judged without what it is for."""
    trucks = state.truck.shape[0]
    truck, wanted, load = np.random.randint(trucks), c.NONE, c.NONE
    if not hand.truck[truck, c.ACTIVE] or day.truck_at[truck, c.LOADS] < 2:
        return -1
    before = state.truck[truck, c.LOAD]
    first, count = day.truck_at[truck, c.FIRST_LOAD], day.truck_at[truck, c.LOADS]
    if hand.n[c.ABSENT] > 0 and np.random.random() < 0.5:
        wanted = hand.absent[np.random.randint(hand.n[c.ABSENT])]
        begin = np.random.randint(count)
        for step in range(count):
            other = first + (begin + step) % count
            if other != before and can_do(day, truck, other, wanted):
                load = other
                break
    elif np.random.random() < day.tuning[c.ALIKE_CHANCE]:
        load = most_alike_loading(day, truck, before)
    else:
        among = min(count, int(day.tuning[c.NEAR_LOADINGS])) if np.random.random() < 0.5 else count
        load = first + np.random.randint(among)
    if load < 0 or load == before:
        return -1
    if wanted < 0:
        for _ in range(int(day.tuning[c.NEW_ORDERS_LOOKED])):
            order = hand.centers[np.random.randint(hand.centers.shape[0])]
            if can_do(day, truck, load, order) and not can_do(day, truck, before, order):
                wanted = order
                break
    reload_truck(day, work, state, hand, truck, load)
    return int(wanted)
