"""What a search has in hand between taking orders out and putting them back."""

from typing import NamedTuple

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.machine_code import handed_over


@handed_over
class RuinState(NamedTuple):
    """What is in hand between the halves; columns are said in columns.py.

    near (order, rank): orders by drive there and back. centers: orders around which strings are
    taken. absent: orders not served, the first n[c.ABSENT] of it; key: what they are sorted by.
    truck, offer, guess: by truck and by offer; guess: money that an offer seems to take; day_guess
    (member, day): the least that an order of a group seems to take.
    """

    near: Whole
    centers: Whole
    n: Whole
    absent: Whole
    key: Floats
    truck: Whole
    offer: Whole
    guess: Floats
    day_guess: Floats


def new_ruin_state(day: DayArrays, near_orders: int) -> RuinState:
    """Memory for a day; every truck active, every order a center. near_orders: neighbors of each
    that are looked through for trucks to take strings from."""
    orders, trucks = len(day.order), len(day.truck)
    place = day.order_at[:, c.PLACE]
    away = day.legs[0, :, :, c.DRIVE_MIN][np.ix_(place, place)]
    away = away + away.T
    np.fill_diagonal(away, -1.0)
    near = np.argsort(away, axis=1, kind="stable")[:, : min(orders, near_orders)]
    hand = RuinState(
        near=np.ascontiguousarray(near.astype(np.int64)),
        centers=np.arange(orders, dtype=np.int64),
        n=np.zeros(3, dtype=np.int64),
        absent=np.zeros(orders + 1, dtype=np.int64),
        key=np.zeros(orders + 1),
        truck=np.zeros((trucks, 5), dtype=np.int64),
        offer=np.zeros((trucks, 3), dtype=np.int64),
        guess=np.zeros(trucks),
        day_guess=np.zeros(
            (
                int((day.group[:, c.END_MEMBER] - day.group[:, c.FIRST_MEMBER]).max(initial=0)),
                int(day.truck_at[:, c.DAY].max(initial=0)) + 1,
            )
        ),
    )
    hand.truck[:, c.ACTIVE] = 1
    return hand
