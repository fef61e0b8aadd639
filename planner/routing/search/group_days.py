"""Days of orders that depend on each other: all of a group are taken out, and put back on the
combination of days that seems to cost least."""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH
from planner.routing.search.insert import guess_gap
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState
from planner.routing.search.trucks import put_less, sequence_of, take_in_hand


@compiled
def begin_days(day: DayArrays, state: SearchState) -> None:
    """Days of each group as near as any combination comes to the stops that the trucks have."""
    if day.group.shape[0] == 0:
        return
    for order in range(state.day_of.shape[0]):
        state.day_of[order] = c.ANY_DAY
    for truck in range(state.truck.shape[0]):
        for at in range(state.truck[truck, c.SIZE]):
            stop = state.stops[truck, at]
            if stop != LUNCH and stop < day.order_at.shape[0]:
                state.day_of[stop] = day.truck_at[truck, c.DAY]
    for group in range(day.group.shape[0]):
        best, most = c.ZERO, c.NONE
        for choice in range(day.group[group, c.CHOICES]):
            alike = c.ZERO
            for row in range(day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]):
                if state.day_of[day.member[row, c.MEMBER]] == _day_in(day, group, choice, row):
                    alike += 1
            if alike > most:
                best, most = choice, alike
        _take_choice(day, state, group, best)
    for order in range(state.day_of.shape[0]):
        if day.order_at[order, c.GROUP] < 0:
            state.day_of[order] = c.ANY_DAY


@compiled
def open_groups(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState) -> None:
    """Take the rest of some groups out of which an order is out already; recreate gives them
    days."""
    if day.group.shape[0] == 0:
        return
    for place in range(hand.n[c.ABSENT]):
        order = hand.absent[place]
        group = day.order_at[order, c.GROUP]
        if group < 0 or state.day_of[order] == c.NEW_DAY:
            continue
        if np.random.random() >= day.tuning[c.DAYS_ANEW]:
            continue
        for row in range(day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]):
            other = day.member[row, c.MEMBER]
            state.day_of[other] = c.NEW_DAY
            truck = state.truck_of[other]
            if truck < 0:
                continue
            size, left = sequence_of(day, work, state, truck), c.ZERO
            for at in range(size):
                if work.sequence[at] != other:
                    work.sequence[left] = work.sequence[at]
                    left += 1
            take_in_hand(state, hand, other)
            hand.truck[truck, c.TOUCHED] = True
            put_less(day, work, state, hand, truck, left)


@compiled
def choose_days(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, group: int
) -> None:
    """Give a group that is out the combination of days that seems to cost least, by chance about
    the step's temperature more."""
    first, end = day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]
    for row in range(first, end):
        _guess_days(day, work, state, hand, row, first)
    best, least = c.ZERO, math.inf
    for choice in range(day.group[group, c.CHOICES]):
        spent = -work.out[c.HEAT] * math.log(max(1e-300, np.random.random()))
        for row in range(first, end):
            one = _day_in(day, group, choice, row)
            if one >= 0:
                spent += hand.day_guess[row - first, one]
            else:
                spent += day.order[day.member[row, c.MEMBER], c.PRICE]
        if spent < least:
            best, least = choice, spent
    _take_choice(day, state, group, best)


@compiled
def _guess_days(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, row: int, first: int
) -> None:
    """The least that an order seems to cost on each day, its price at most."""
    order, like = day.member[row, c.MEMBER], day.member[row, c.LIKE]
    for one in range(hand.day_guess.shape[1]):
        hand.day_guess[row - first, one] = (
            hand.day_guess[like - first, one] if like < row else day.order[order, c.PRICE]
        )
    if like < row:
        return
    state.day_of[order] = c.ANY_DAY
    for truck in range(state.truck.shape[0]):
        if hand.truck[truck, c.ACTIVE] and day.wish[order, truck] < math.inf:
            one = day.truck_at[truck, c.DAY]
            under = hand.day_guess[row - first, one]
            spent, gap, _ = guess_gap(day, work, state, truck, order, day.tuning[c.BLINK], under)
            if gap >= 0:
                hand.day_guess[row - first, one] = spent


@compiled
def _day_in(day: DayArrays, group: int, choice: int, row: int) -> int:
    """The day of an order (row of day.member) in one of its group's combinations."""
    first, end = day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]
    at = day.group[group, c.FIRST_CHOICE] + choice * (end - first) + row - first
    return int(day.choice[at])


@compiled
def _take_choice(day: DayArrays, state: SearchState, group: int, choice: int) -> None:
    for row in range(day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]):
        state.day_of[day.member[row, c.MEMBER]] = _day_in(day, group, choice, row)
