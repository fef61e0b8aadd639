"""Working memory of one search, made once: compiled code allocates nothing while it searches."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayNumbers, Floats, Whole

LABELS = 4096
"""Labels that one placement of refills may make."""


class Work(NamedTuple):
    """Scratch; columns are said in columns.py. Nothing in it lives longer than the function that
    filled it, except of the stop order last priced (price.py) its clock, hose gallons and return,
    and how lenient the search is.

    mixes: how many there are. stops_most: stops that one truck may have. drawn: by mix, gallons
    since the last fill.
    """

    mixes: int
    stops_most: int
    stop: Floats
    row: Whole
    gal: Floats
    tally: Whole
    mix: Whole
    drawn: Floats
    tank: Floats
    label: Floats
    label_at: Whole
    out: Floats
    found: Whole


def new_work(day: DayNumbers, labels: int = LABELS) -> Work:
    """Memory for a day. labels: how many one placement of refills may make."""
    mixes, parts = day.site_makes.shape[1], day.part.shape[1]
    most = stops_most(len(day.order))
    return Work(
        mixes=mixes,
        stops_most=most,
        stop=np.zeros((7, most + 2)),
        row=np.zeros((6, most + 2), dtype=np.int64),
        gal=np.zeros((4, most + 2, mixes)),
        tally=np.zeros((2, most + 2, mixes), dtype=np.int64),
        mix=np.zeros((6, max(mixes, day.line.shape[1])), dtype=np.int64),
        drawn=np.zeros(mixes),
        tank=np.zeros((4, parts)),
        label=np.zeros((labels, c.LEVEL + parts)),
        label_at=np.zeros((labels, c.PROMISED + mixes), dtype=np.int64),
        out=np.zeros(9),
        found=np.zeros(3, dtype=np.int64),
    )


def stops_most(orders: int) -> int:
    """Stops that one truck can have in the search: a day holds no more than MOST_OF_A_TRUCK orders,
    each with a refill before it, and lunch."""
    return 2 * min(orders, MOST_OF_A_TRUCK) + 4


MOST_OF_A_TRUCK = 120
"""Orders that one truck is given at most: ten hours of five minutes each."""
