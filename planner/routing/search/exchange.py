"""Two trucks exchange parts of their days: ends, tankfuls, or whole days with other loadings.

A string that ruin takes out is shorter than a tankful, so no step of ruin and recreate alone hands
a tankful to another truck: every day on the way would leave orders out or refill once more.
"""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import can_do
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState, copy_truck, is_open
from planner.routing.search.trucks import put_sequence, sequence_of, take_in_hand


@compiled
def exchange(
    day: DayArrays,
    work: Scratch,
    now: SearchState,
    trial: SearchState,
    hand: RuinState,
    most: float,
) -> tuple[int, int, int]:
    """Exchange parts of two trucks' days in `trial`, which is as `now`. What a truck cannot do is
    put in hand. Returns an order at the joint and the two trucks; -1 when nothing changed, since
    a rule would break or the two days would cost `most` more."""
    order = hand.centers[np.random.randint(hand.centers.shape[0])]
    one, kind = now.truck_of[order], np.random.random()
    if one < 0 or not hand.truck[one, c.ACTIVE]:
        return c.NONE, c.NONE, c.NONE
    days = day.tuning[c.EXCHANGE_DAYS]
    tankfuls = days + day.tuning[c.EXCHANGE_TANKFULS]
    other, joint = _partner(day, now, hand, order, one, kind < days)
    if other < 0:
        return c.NONE, c.NONE, c.NONE
    at, first, end, size = _tankful(day, now, one, order)
    other_at, other_first, other_end, other_size = _tankful(day, now, other, joint)
    load, other_load = now.truck[one, c.LOAD], now.truck[other, c.LOAD]
    turned = kind >= days and np.random.random() < 0.5
    if kind < days:
        first, end, other_first, other_end = c.ZERO, size, c.ZERO, other_size
        load = _best_load(day, work, one, sequence_of(day, work, now, other))
        other_load = _best_load(day, work, other, sequence_of(day, work, now, one))
    elif kind >= tankfuls:
        at_refill = np.random.random() < day.tuning[c.EXCHANGE_AT_REFILL]
        first, end = end if at_refill else at + 1, size
        if turned:
            other_end = other_end if at_refill else other_at + 1
            other_first = c.ZERO
        else:
            other_first = other_first if at_refill else max(0, other_at)
            other_end = other_size
    new_size = size - (end - first) + (other_end - other_first)
    if max(new_size, size + other_size - new_size) > (work.stops_most - 4) // 2:
        return c.NONE, c.NONE, c.NONE
    trial.truck[one, c.LOAD], trial.truck[other, c.LOAD] = load, other_load
    count = _joined(day, work, now, trial, one, first, end, other, other_first, other_end, turned)
    good = put_sequence(day, work, trial, one, count, math.inf)
    if good:
        count = _joined(
            day, work, now, trial, other, other_first, other_end, one, first, end, turned
        )
        good = put_sequence(day, work, trial, other, count, math.inf)
    if not good or (
        _counted(work, trial, one) + _counted(work, trial, other)
        >= _counted(work, now, one) + _counted(work, now, other) + most
    ):
        copy_truck(trial, now, one)
        copy_truck(trial, now, other)
        return c.NONE, c.NONE, c.NONE
    _say_whose(day, work, now, trial, hand, one, other)
    return order, one, other


@compiled
def _best_load(day: DayArrays, work: Scratch, truck: int, count: int) -> int:
    """The loading of a truck that can do most of the first `count` orders of work.sequence."""
    first, loads = day.truck_at[truck, c.FIRST_LOAD], day.truck_at[truck, c.LOADS]
    begin, most, best = np.random.randint(loads), c.NONE, first
    for step in range(loads):
        load, done = first + (begin + step) % loads, c.ZERO
        for at in range(count):
            if can_do(day, truck, load, work.sequence[at]):
                done += 1
        if done > most:
            most, best = done, load
    return int(best)


@compiled
def _partner(
    day: DayArrays, now: SearchState, hand: RuinState, order: int, one: int, whole: bool
) -> tuple[int, int]:
    """Another truck, and an order of its near this one, -1 = any."""
    trucks = now.truck.shape[0]
    idle = np.random.random() < day.tuning[c.EXCHANGE_IDLE]
    if whole or idle:
        begin = np.random.randint(trucks)
        for step in range(trucks):
            truck = (begin + step) % trucks
            fits = whole or now.truck[truck, c.SIZE] == 0
            if truck != one and hand.truck[truck, c.ACTIVE] and fits:
                return truck, c.NONE
        return c.NONE, c.NONE
    looked = min(int(day.tuning[c.TRUCKS_NEAR]), hand.near.shape[1])
    begin = np.random.randint(looked)
    for step in range(looked):
        near = hand.near[order, (begin + step) % looked]
        truck = now.truck_of[near]
        if truck >= 0 and truck != one and hand.truck[truck, c.ACTIVE]:
            return truck, near
    return c.NONE, c.NONE


@compiled
def _tankful(
    day: DayArrays, state: SearchState, truck: int, order: int
) -> tuple[int, int, int, int]:
    """Where an order is among its truck's orders, first and end of those between the refills
    around it (of the first tankful for -1), and how many orders there are."""
    count, at, first, end = c.ZERO, c.NONE, c.ZERO, c.NONE
    for place in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, place]
        if stop == LUNCH:
            continue
        if stop < day.order_at.shape[0]:
            if stop == order:
                at = count
            count += 1
        elif at < 0 <= order:
            first = count
        elif end < 0:
            end = count
    return at, first, count if end < 0 else end, count


@compiled
def _joined(
    day: DayArrays,
    work: Scratch,
    now: SearchState,
    trial: SearchState,
    truck: int,
    first: int,
    end: int,
    other: int,
    other_first: int,
    other_end: int,
    turned: bool,
) -> int:
    """A truck's orders with those of another's part in place of its own from `first` to `end`,
    into work.sequence; their number. turned: the part back to front."""
    count = _append(day, work, now, trial, truck, truck, c.ZERO, first, c.ZERO)
    begun = count
    count = _append(day, work, now, trial, truck, other, other_first, other_end, count)
    if turned:
        for step in range((count - begun) // 2):
            left, right = begun + step, count - 1 - step
            kept = work.sequence[left]
            work.sequence[left] = work.sequence[right]
            work.sequence[right] = kept
    return _append(day, work, now, trial, truck, truck, end, work.stops_most, count)


@compiled
def _append(
    day: DayArrays,
    work: Scratch,
    now: SearchState,
    trial: SearchState,
    truck: int,
    source: int,
    first: int,
    end: int,
    count: int,
) -> int:
    """Orders `first` to `end` of a truck that another can do, behind those in work.sequence."""
    place = c.ZERO
    for at in range(now.truck[source, c.SIZE]):
        stop = now.stops[source, at]
        if stop != LUNCH and stop < day.order_at.shape[0]:
            can = can_do(day, truck, trial.truck[truck, c.LOAD], stop)
            if first <= place < end and can and is_open(day, now, truck, stop):
                work.sequence[count] = stop
                count += 1
            place += 1
    return count


@compiled
def _counted(work: Scratch, state: SearchState, truck: int) -> float:
    """Money of a truck's day as the search counts it, as lenient as it is."""
    cost: float = state.money[truck, c.COST]
    if state.truck[truck, c.SIZE] > 0:
        cost -= work.out[c.LENIENCE] * state.money[truck, c.UNUSED]
    return cost


@compiled
def _say_whose(
    day: DayArrays,
    work: Scratch,
    now: SearchState,
    trial: SearchState,
    hand: RuinState,
    one: int,
    other: int,
) -> None:
    """Which of two trucks has each of their orders; those that neither has are put in hand."""
    for truck in (one, other):
        for at in range(sequence_of(day, work, now, truck)):
            trial.truck_of[work.sequence[at]] = c.NONE
    for truck in (one, other):
        for at in range(sequence_of(day, work, trial, truck)):
            trial.truck_of[work.sequence[at]] = truck
    for truck in (one, other):
        for at in range(sequence_of(day, work, now, truck)):
            if trial.truck_of[work.sequence[at]] < 0:
                take_in_hand(trial, hand, work.sequence[at])
