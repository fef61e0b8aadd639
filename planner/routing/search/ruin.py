"""The first half of a step: strings of neighboring orders are taken out of a few trucks."""

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.scratch import Scratch
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState
from planner.routing.search.trucks import put_less, sequence_of, take_in_hand


@compiled
def ruin(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, center: int) -> None:
    """Take strings of neighboring orders out of a few trucks around one order, -1 = a random
    one."""
    served, out = 0, 0
    for truck in range(state.truck.shape[0]):
        if state.truck[truck, c.SIZE] > 0 and hand.truck[truck, c.ACTIVE]:
            served += state.truck[truck, c.SIZE]
            out += 1
    if out == 0:
        return
    longest = min(day.tuning[c.STRING_MOST], served / out)
    strings = int(
        np.random.random() * (4.0 * day.tuning[c.TAKEN_MEAN] / (1.0 + longest) - 1.0) + 1.0
    )
    if center < 0:
        center = hand.centers[np.random.randint(hand.centers.shape[0])]
        if hand.n[c.ABSENT] > 0 and np.random.random() < day.tuning[c.ABSENT_CENTER]:
            center = hand.absent[np.random.randint(hand.n[c.ABSENT])]
    taken = 0
    for rank in range(hand.near.shape[1]):
        if taken >= strings:
            break
        order = hand.near[center, rank]
        truck = state.truck_of[order]
        if truck >= 0 and hand.truck[truck, c.ACTIVE] and not hand.truck[truck, c.TOUCHED]:
            _take_string(day, work, state, hand, truck, order, longest)
            taken += 1


@compiled
def _take_string(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    hand: RuinState,
    truck: int,
    order: int,
    longest: float,
) -> None:
    """Take a string that holds `order` out of a truck; some in its middle may stay."""
    size = sequence_of(day, work, state, truck)
    at = 0
    while work.sequence[at] != order:
        at += 1
    length = min(size, int(np.random.random() * min(float(size), longest) + 1.0))
    stays = 0
    if 1 < length < size and np.random.random() < day.tuning[c.SPLIT_CHANCE]:
        stays = 1
        while length + stays < size and np.random.random() < day.tuning[c.SPLIT_LONGER]:
            stays += 1
    whole = length + stays
    first_most, first_least = min(at, size - whole), max(0, at - whole + 1)
    first = first_least + np.random.randint(first_most - first_least + 1)
    stay_from = first + 1 + np.random.randint(length - 1) if stays > 0 else size
    left = c.ZERO
    for place in range(size):
        gone = first <= place < first + whole
        if gone and not stay_from <= place < stay_from + stays:
            take_in_hand(state, hand, work.sequence[place])
        else:
            work.sequence[left] = work.sequence[place]
            left += 1
    hand.truck[truck, c.TOUCHED] = True
    put_less(day, work, state, hand, truck, left)
