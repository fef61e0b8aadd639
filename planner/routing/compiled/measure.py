"""What a sequence of orders asks for before any refill is placed: work, gallons, least rest."""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import lunch_owed, plain_money, spray_min
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import SLACK_MIN
from planner.routing.exact.tanks import SLACK_GAL


@compiled
def measure(day: DayArrays, work: Scratch, truck: int, load: int, size: int) -> bool:
    """Fill the arrays of the first `size` orders of the sequence in `work`. Returns whether some
    place to fill does not make every mix that the sequence uses."""
    mixes = work.mixes
    for line in range(day.line.shape[1]):
        work.mix[c.HELD, line] = int(day.line[truck, line, c.START_HELD])
    for mix in range(mixes):
        work.gal[c.SPRAYED, 0, mix] = work.gal[c.HOSED, 0, mix] = 0.0
        work.tally[c.COUNT, 0, mix] = 0
    for at in range(size):
        order = work.sequence[at]
        mine = day.order_at[order, c.MIX]
        line = day.load_line[load, mine]
        hose, change = 0.0, 0.0
        if work.mix[c.HELD, line] != mine:
            hose = day.line[truck, line, c.HOSE_GAL]
            if work.mix[c.HELD, line] >= 0:
                change = day.line[truck, line, c.HOSE_MIN]
            work.mix[c.HELD, line] = mine
        work.stop[c.BUSY_MIN, at] = change + spray_min(day, truck, load, order)
        for mix in range(mixes):
            work.gal[c.SPRAYED, at + 1, mix] = work.gal[c.SPRAYED, at, mix]
            work.gal[c.HOSED, at + 1, mix] = work.gal[c.HOSED, at, mix]
            work.tally[c.COUNT, at + 1, mix] = work.tally[c.COUNT, at, mix]
        work.tally[c.FIRST_AT, work.tally[c.COUNT, at, mine], mine] = at
        work.gal[c.SPRAYED, at + 1, mine] += day.order[order, c.GAL]
        work.gal[c.HOSED, at + 1, mine] += hose
        work.tally[c.COUNT, at + 1, mine] += 1
    for mix in range(mixes):
        work.mix[c.USED, mix] = 1 if work.tally[c.COUNT, size, mix] > 0 else 0
    _measure_rest(day, work, truck, load, size)
    return _limited(day, work, day.truck_at[truck, c.START_MAKES])


@compiled
def _limited(day: DayArrays, work: Scratch, first: int) -> bool:
    """Whether the start or a site that makes something useful lacks a used mix."""
    for site in range(day.site_makes.shape[0]):
        makes, lacks = False, False
        for mix in range(work.mixes):
            if work.mix[c.USED, mix] == 1:
                if day.site_makes[site, mix]:
                    makes = True
                else:
                    lacks = True
        if lacks and (makes or site == first):
            return True
    return False


@compiled
def _measure_rest(day: DayArrays, work: Scratch, truck: int, load: int, size: int) -> None:
    """Least minutes and money from the arrival at each order to the end: no waiting, and only the
    refills (their set-ups) that the gallons ask for in any case."""
    profile = day.truck_at[truck, c.PROFILE]
    pay, mile = day.truck[truck, c.PAY], day.truck[truck, c.MILE_COST]
    work.stop[c.REST_MIN, size] = work.stop[c.REST_MONEY, size] = 0.0
    work.row[c.REST_FILLS, size] = 0
    there = day.site_place[day.truck_at[truck, c.YARD]]
    for at in range(size - 1, -1, -1):
        here = day.order_at[work.sequence[at], c.PLACE]
        same = at > 0 and day.order_at[work.sequence[at - 1], c.PLACE] == here
        minutes = work.stop[c.BUSY_MIN, at] + (0.0 if same else day.setup_min)
        minutes += day.legs[profile, here, there, c.DRIVE_MIN]
        work.stop[c.REST_MIN, at] = work.stop[c.REST_MIN, at + 1] + minutes
        work.stop[c.REST_MONEY, at] = (
            work.stop[c.REST_MONEY, at + 1]
            + minutes * pay
            + day.legs[profile, here, there, c.MILES] * mile
        )
        there = here
        fills = 0
        for mix in range(work.mixes):
            need = work.gal[c.SPRAYED, size, mix] - work.gal[c.SPRAYED, at, mix]
            need += work.gal[c.HOSED, size, mix] - work.gal[c.HOSED, at, mix]
            usable = day.load_usable[load, mix] + SLACK_GAL
            if need > usable:
                fills = max(fills, math.ceil(need / usable) - 1)
        work.row[c.REST_FILLS, at] = fills


@compiled
def can_prune(
    day: DayArrays,
    work: Scratch,
    truck: int,
    load: int,
    size: int,
    clock: float,
    miles: float,
    lunched: bool,
    at: int,
    here: int,
    more_fills: int,
) -> bool:
    """Whether the day cannot end in time, or only at work.found_cost or more money, when the order
    at `at` (or the yard) is driven to from `here` now. more_fills: refills that are certain, when
    the gallons ask for fewer."""
    profile = day.truck_at[truck, c.PROFILE]
    pay = day.truck[truck, c.PAY]
    if at < size:
        there = day.order_at[work.sequence[at], c.PLACE]
    else:
        there = day.site_place[day.truck_at[truck, c.YARD]]
    drive = day.legs[profile, here, there, c.DRIVE_MIN]
    fills_min = max(work.row[c.REST_FILLS, at], more_fills) * day.least_setup_min
    back = clock + drive + work.stop[c.REST_MIN, at] + fills_min
    if not lunched and lunch_owed(day.truck, truck, back):
        back += day.truck[truck, c.LUNCH_MIN]
    if back > day.truck[truck, c.LATEST] + SLACK_MIN:
        return True
    spent = (
        plain_money(day.truck, day.load, truck, load, clock, miles, lunched, 0.0)
        + work.stop[c.REST_MONEY, at]
    )
    spent += (drive + fills_min) * pay
    spent += day.legs[profile, here, there, c.MILES] * day.truck[truck, c.MILE_COST]
    overtime = back - max(clock, day.truck[truck, c.SHIFT_END])
    if overtime > 0.0:
        spent += overtime * day.truck[truck, c.OVERTIME_PAY]
    return bool(spent >= work.out[c.FOUND_COST])
