"""The plan that a search changes: stop orders per truck, and what was seen on them."""

from typing import NamedTuple

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.machine_code import compiled, handed_over
from planner.routing.compiled.scratch import Scratch


@handed_over
class SearchState(NamedTuple):
    """A plan; columns are said in columns.py. Rows: trucks; columns: stops, or the gaps before each
    stop and before the return.

    truck, money, stops: loading, size and exact cost. truck_of: per order, -1 = not served; day_of:
    per order, the only day whose trucks may do it now. The rest is what survey.py sees on the
    trucks that go out: place of each stop (of lunch, of the stop before it); gap; room (truck, gap,
    mix): gallons that the fill before a gap could still hold; drawn (truck, mix): gallons of its
    whole day.
    """

    truck: Whole
    money: Floats
    truck_of: Whole
    day_of: Whole
    stops: Whole
    place: Whole
    gap: Floats
    room: Floats
    drawn: Floats


def new_state(day: DayArrays, work: Scratch) -> SearchState:
    """Every truck at home, each with its first loading."""
    trucks, gaps = len(day.truck), work.stops_most + 1
    state = SearchState(
        truck=np.zeros((trucks, 3), dtype=np.int64),
        money=np.zeros((trucks, 6)),
        truck_of=np.full(len(day.order), -1, dtype=np.int64),
        day_of=np.full(len(day.order), c.ANY_DAY, dtype=np.int64),
        stops=np.zeros((trucks, gaps), dtype=np.int64),
        place=np.zeros((trucks, gaps), dtype=np.int64),
        gap=np.zeros((trucks, gaps, 8)),
        room=np.zeros((trucks, gaps, work.mixes)),
        drawn=np.zeros((trucks, work.mixes)),
    )
    state.truck[:, c.LOAD] = day.truck_at[:, c.FIRST_LOAD]
    state.money[:, c.COST] = day.truck[:, c.IDLE_MONEY]
    return state


@compiled
def is_open(day: DayArrays, state: SearchState, truck: int, order: int) -> bool:
    """Whether a truck's day is one that an order's group leaves it now."""
    only = state.day_of[order]
    return bool(only == c.ANY_DAY or only == day.truck_at[truck, c.DAY])


@compiled
def copy_truck(into: SearchState, source: SearchState, truck: int) -> None:
    """Everything about one truck (truck_of and day_of are per order and stay)."""
    size = source.truck[truck, c.SIZE]
    for column in range(source.truck.shape[1]):
        into.truck[truck, column] = source.truck[truck, column]
    for column in range(source.money.shape[1]):
        into.money[truck, column] = source.money[truck, column]
    for mix in range(source.drawn.shape[1]):
        into.drawn[truck, mix] = source.drawn[truck, mix]
    for at in range(size + 1):
        into.stops[truck, at] = source.stops[truck, at]
        into.place[truck, at] = source.place[truck, at]
        for column in range(source.gap.shape[2]):
            into.gap[truck, at, column] = source.gap[truck, at, column]
        for mix in range(source.room.shape[2]):
            into.room[truck, at, mix] = source.room[truck, at, mix]
