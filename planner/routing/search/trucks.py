"""Changing one truck of a plan: its sequence, fewer orders, another loading."""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import can_do, price_stops
from planner.routing.compiled.refills import place_refills
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState
from planner.routing.search.survey import put_stops

GAIN = 1e-7
"""Money that a change must save; float noise must not count."""


@compiled
def sequence_of(day: DayArrays, work: Scratch, state: SearchState, truck: int) -> int:
    """A truck's orders into work.sequence; their number."""
    size = 0
    for at in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop != LUNCH and stop < day.order_at.shape[0]:
            work.sequence[size] = stop
            size += 1
    return size


@compiled
def put_sequence(
    day: DayArrays, work: Scratch, state: SearchState, truck: int, size: int, under: float
) -> bool:
    """Give a truck the sequence in `work` with refills and lunch at their best, if that costs less
    than `under`."""
    cost, stops = place_refills(day, work, truck, state.truck[truck, c.LOAD], size, under)
    if cost == math.inf:
        return False
    return put_stops(day, work, state, truck, work.placed, stops) < math.inf


@compiled
def put_less(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, truck: int, size: int
) -> None:
    """Give a truck work.sequence[:size], fewer orders than it had: the old stops without what is
    gone, and without refills that are not needed any more; refills put anew where that does not
    stand; all orders put in hand where nothing does."""
    if size == 0:
        state.truck[truck, c.SIZE] = 0
        state.money[truck, c.COST] = day.truck[truck, c.IDLE_MONEY]
    elif not _thin_out(day, work, state, hand, truck, size) and not put_sequence(
        day, work, state, truck, size, math.inf
    ):
        for at in range(size):
            take_in_hand(state, hand, work.sequence[at])
        state.truck[truck, c.SIZE] = 0
        state.money[truck, c.COST] = day.truck[truck, c.IDLE_MONEY]


@compiled
def _thin_out(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, truck: int, size: int
) -> bool:
    """Give a truck its old stops with only the orders of work.sequence[:size], which are in their
    old sequence; each refill goes that is dearer than none. False when that does not stand."""
    orders, load = day.order_at.shape[0], state.truck[truck, c.LOAD]
    stops, left, kept = work.trial, c.ZERO, c.ZERO
    for at in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop == LUNCH or stop >= orders:
            stops[left] = stop
            left += 1
        elif kept < size and work.sequence[kept] == stop:
            stops[left] = stop
            left += 1
            kept += 1
    if kept < size:
        return False
    cost = price_stops(day, work, truck, load, stops, left)
    at = 0
    while at < left:
        if stops[at] < orders:
            at += 1
            continue
        refill = stops[at]
        for place in range(at, left - 1):
            stops[place] = stops[place + 1]
        without = price_stops(day, work, truck, load, stops, left - 1)
        # At the same price a stop goes too: two refills in a row at one site cost nothing where
        # set-up is free, and nobody would stop twice.
        if without < math.inf and without <= cost:
            cost = without
            left -= 1
            continue
        for place in range(left - 1, at, -1):
            stops[place] = stops[place - 1]
        stops[at] = refill
        at += 1
    if cost == math.inf or put_stops(day, work, state, truck, stops, left) == math.inf:
        return False
    if left > size:
        hand.truck[truck, c.UNTIDY] = True
    return True


@compiled
def take_in_hand(state: SearchState, hand: RuinState, order: int) -> None:
    """Count an order as absent."""
    state.truck_of[order] = -1
    hand.absent[hand.n[c.ABSENT]] = order
    hand.n[c.ABSENT] += 1


@compiled
def reload_truck(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, truck: int, load: int
) -> None:
    """Give a truck another loading; orders that it can then not do are put in hand."""
    size = sequence_of(day, work, state, truck)
    state.truck[truck, c.LOAD] = load
    hand.truck[truck, c.TOUCHED] = True
    left = c.ZERO
    for at in range(size):
        order = work.sequence[at]
        if can_do(day, truck, load, order):
            work.sequence[left] = order
            left += 1
        else:
            take_in_hand(state, hand, order)
    put_less(day, work, state, hand, truck, left)


@compiled
def most_alike_loading(day: DayArrays, truck: int, load: int) -> int:
    """Of some random loadings of a truck the one that differs from `load` in the fewest gallons of
    mixes: with it the truck keeps most of its orders. -1 = only itself was drawn."""
    first, count = day.truck_at[truck, c.FIRST_LOAD], day.truck_at[truck, c.LOADS]
    best, least = c.NONE, math.inf
    for _ in range(int(day.tuning[c.ALIKE_LOADINGS])):
        other, away = first + np.random.randint(count), 0.0
        for mix in range(day.load_usable.shape[1]):
            away += abs(day.load_usable[other, mix] - day.load_usable[load, mix])
        if other != load and away < least:
            best, least = other, away
    return int(best)
