"""What fills and draws do to compartments: planner/routing/exact/tanks.py, compiled.

test_search_price holds the two together.
"""

import math

from planner.mixing.fills import WHOLE_GALLON_SLACK
from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.tanks import SHORT, SLACK_GAL, SLACK_LB, TOO_HEAVY

NOISE_GAL = WHOLE_GALLON_SLACK


@compiled
def pumpable(
    part: Floats, load_rows: Whole, truck: int, load: int, levels: Floats, mix: int
) -> float:
    """Gallons of a mix over the heels."""
    gal = 0.0
    for place in range(load_rows.shape[2]):
        row = load_rows[load, mix, place]
        if row < 0:
            break
        over = levels[row] - part[truck, row, c.HEEL]
        if over > 0.0:
            gal += over
    return gal


@compiled
def draw(
    part: Floats, load_rows: Whole, truck: int, load: int, levels: Floats, mix: int, gal: float
) -> None:
    """Take gallons of a mix out, each compartment down to its heel before the next."""
    if gal <= 0.0:
        return
    last = -1
    for place in range(load_rows.shape[2]):
        row = load_rows[load, mix, place]
        if row < 0:
            break
        if last >= 0:
            take = min(gal, max(0.0, levels[last] - part[truck, last, c.HEEL]))
            levels[last] -= take
            gal -= take
        last = row
    levels[last] -= gal


@compiled
def _pour(
    part: Floats,
    load_rows: Whole,
    truck: int,
    load: int,
    levels: Floats,
    mix: int,
    gal: float,
    into: Floats,
) -> float:
    """Spread pumpable gallons over a mix's compartments, heel first; returns what found no room."""
    for place in range(load_rows.shape[2]):
        row = load_rows[load, mix, place]
        if row < 0:
            break
        if gal <= NOISE_GAL:
            return 0.0
        level = levels[row]
        room = max(0.0, part[truck, row, c.CAPACITY] - level)
        dry_heel = max(0.0, part[truck, row, c.HEEL] - level)
        if room <= dry_heel:
            continue
        add = min(float(math.ceil(gal + dry_heel - NOISE_GAL)), room)
        into[row] = add
        gal -= add - dry_heel
    return gal


@compiled
def fill(
    day: DayArrays, work: Scratch, truck: int, load: int, site: int, levels: Floats, at: int
) -> float:
    """Top up at a site for what row `at` of work.gal says is sprayed and goes into hoses until the
    next fill; returns the gallons added, or SHORT or TOO_HEAVY (levels are then of no use)."""
    parts = day.truck_at[truck, c.PARTS]
    bare, full = work.bare, work.full
    any_short = False
    for row in range(parts):
        bare[row] = 0.0
        full[row] = 0.0
    for mix in range(work.mixes):
        spray, hose = work.gal[c.SPRAY, at, mix], work.gal[c.HOSE, at, mix]
        need = spray + hose
        if need <= 0.0 or not day.site_makes[site, mix]:
            continue
        on_board = pumpable(day.part, day.load_rows, truck, load, levels, mix)
        if on_board >= need - NOISE_GAL:
            continue
        any_short = True
        if (
            _pour(day.part, day.load_rows, truck, load, levels, mix, need - on_board, bare)
            > SLACK_GAL
        ):
            return SHORT
        target = spray * day.margin + hose
        _pour(day.part, day.load_rows, truck, load, levels, mix, target - on_board, full)
    spare_lb = math.inf
    if day.load[load, c.BINDS] > 0.0:
        spare_lb = day.truck[truck, c.PAYLOAD_LB]
        for row in range(parts):
            spare_lb -= (levels[row] + bare[row]) * day.load_part[load, row, c.LB_PER_GAL]
        if spare_lb < -SLACK_LB:
            return TOO_HEAVY
    if not any_short:
        return 0.0
    added = 0.0
    for row in range(parts):
        gal = bare[row]
        extra = full[row] - gal
        if extra > 0.0:
            pounds = day.load_part[load, row, c.LB_PER_GAL]
            if extra * pounds > spare_lb:
                extra = max(0.0, float(math.floor(spare_lb / pounds)))
            gal += extra
            spare_lb -= extra * pounds
        levels[row] += gal
        added += gal
    return added
