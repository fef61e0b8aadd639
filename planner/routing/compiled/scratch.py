"""Working memory of one search, made once: compiled code allocates nothing while it searches."""

from typing import NamedTuple

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.machine_code import handed_over

LABELS, LABELS_OF_A_PROOF = 4096, 200_000
"""Labels that one placement of refills may make."""
PROVE, QUICK, CAREFUL = 0, 1, 3
"""Labels of one kind kept at one place of a sequence: all that may matter; one, of all sites
together by what they cost on arrival at the next order; some of each site."""


@handed_over
class Scratch(NamedTuple):
    """Scratch; columns are said in columns.py. Nothing in it lives longer than the function that
    filled it, except of the stop order last priced (price.py) its clock, hose gallons and return,
    and how lenient the search is.

    kept: labels of one kind that a placement of refills keeps. mixes: how many there are.
    stops_most: stops that one truck may have. trial, sequence, placed: stop orders and sequences in
    the making. levels, leg_levels: by compartment, gallons on board and after a leg; bare, full: of
    a fill without and with the margin. drawn: by mix, gallons since the last fill.
    """

    kept: int
    mixes: int
    stops_most: int
    trial: Whole
    sequence: Whole
    placed: Whole
    levels: Floats
    leg_levels: Floats
    bare: Floats
    full: Floats
    stop: Floats
    row: Whole
    gal: Floats
    tally: Whole
    mix: Whole
    drawn: Floats
    label: Floats
    label_at: Whole
    out: Floats
    found: Whole


def new_scratch(day: DayArrays, orders: int, kept: int = QUICK) -> Scratch:
    """Memory for a day on which a truck has at most so many orders."""
    mixes, parts = day.site_makes.shape[1], day.part.shape[1]
    # Each order with a refill before it, and lunch.
    most = 2 * orders + 4
    labels = LABELS_OF_A_PROOF if kept == PROVE else LABELS
    return Scratch(
        kept=kept,
        mixes=mixes,
        stops_most=most,
        trial=np.zeros(most + 2, dtype=np.int64),
        sequence=np.zeros(most + 2, dtype=np.int64),
        placed=np.zeros(most + 2, dtype=np.int64),
        levels=np.zeros(parts),
        leg_levels=np.zeros(parts),
        bare=np.zeros(parts),
        full=np.zeros(parts),
        stop=np.zeros((7, most + 2)),
        row=np.zeros((3, most + 2), dtype=np.int64),
        gal=np.zeros((4, most + 2, mixes)),
        tally=np.zeros((2, most + 2, mixes), dtype=np.int64),
        mix=np.zeros((8, max(mixes, day.line.shape[1])), dtype=np.int64),
        drawn=np.zeros(mixes),
        label=np.zeros((labels, c.LEVEL + parts)),
        label_at=np.zeros((labels, c.PROMISED + mixes), dtype=np.int64),
        out=np.zeros(11),
        found=np.zeros(3, dtype=np.int64),
    )
