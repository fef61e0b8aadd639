"""One leg: from a refill (or the departure) through orders of the sequence up to the next one."""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats
from planner.routing.compiled.fills import draw, fill
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import finish, load_min
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import SLACK_MIN
from planner.routing.exact.tanks import SLACK_GAL


@compiled
def need_until(work: Scratch, size: int, mix: int, at: int, count: int) -> int:
    """Place in the sequence up to which gallons must last for `count` orders of a mix."""
    if count >= work.tally[c.COUNT, size, mix]:
        return size
    return int(max(at, work.tally[c.FIRST_AT, count, mix]))


@compiled
def lasts(
    day: DayArrays, work: Scratch, load: int, label: int, makes_site: int, until: int
) -> bool:
    """Whether every mix can reach `until` from a label's refill."""
    at = work.label_at[label, c.AT]
    for mix in range(work.mixes):
        if work.mix[c.USED, mix] != 1:
            continue
        if day.site_makes[makes_site, mix]:
            need = work.gal[c.SPRAYED, until, mix] - work.gal[c.SPRAYED, at, mix]
            need += work.gal[c.HOSED, until, mix] - work.gal[c.HOSED, at, mix]
            if need > day.load_usable[load, mix] + SLACK_GAL:
                return False
        elif work.tally[c.COUNT, until, mix] > work.label_at[label, c.PROMISED + mix]:
            return False
    return True


@compiled
def lunch_end(trucks: Floats, truck: int, clock: float) -> float:
    """When lunch ends if it begins now, inf when it may not."""
    if trucks[truck, c.LUNCH_MIN] <= 0.0:
        return math.inf
    begin = max(clock, trucks[truck, c.LUNCH_FROM])
    if begin > trucks[truck, c.LUNCH_TO] + SLACK_MIN:
        return math.inf
    return float(begin + trucks[truck, c.LUNCH_MIN])


@compiled
def ride(
    day: DayArrays,
    work: Scratch,
    truck: int,
    load: int,
    size: int,
    label: int,
    makes_site: int,
    until: int,
) -> bool:
    """Fill at a label's refill for what is promised and ride to `until`; False when it cannot be.

    Leaves in work.leg: clock without and with lunch in the leg, before which order lunch is, miles;
    in work.leg_levels the gallons on board then.
    """
    at = work.label_at[label, c.AT]
    levels = work.leg_levels
    for row in range(day.truck_at[truck, c.PARTS]):
        levels[row] = work.label[label, c.LEVEL + row]
    for mix in range(work.mixes):
        work.gal[c.SPRAY, 0, mix] = work.gal[c.HOSE, 0, mix] = 0.0
        if work.mix[c.USED, mix] == 1 and day.site_makes[makes_site, mix]:
            last = need_until(work, size, mix, at, work.mix[c.PROMISE, mix])
            work.gal[c.SPRAY, 0, mix] = (
                work.gal[c.SPRAYED, last, mix] - work.gal[c.SPRAYED, at, mix]
            )
            work.gal[c.HOSE, 0, mix] = work.gal[c.HOSED, last, mix] - work.gal[c.HOSED, at, mix]
    poured = fill(day, work, truck, load, makes_site, levels, c.ZERO)
    if poured < 0.0:
        return False
    if not _clocks(day, work, truck, label, poured, until):
        return False
    for mix in range(work.mixes):
        if work.mix[c.USED, mix] == 1:
            gal = work.gal[c.SPRAYED, until, mix] - work.gal[c.SPRAYED, at, mix]
            gal += work.gal[c.HOSED, until, mix] - work.gal[c.HOSED, at, mix]
            draw(day.part, day.load_rows, truck, load, levels, mix, gal)
    return True


@compiled
def _clocks(
    day: DayArrays, work: Scratch, truck: int, label: int, poured: float, until: int
) -> bool:
    """The clocks of a leg: without lunch so far, and with lunch somewhere in it, side by side."""
    profile = day.truck_at[truck, c.PROFILE]
    site, at = work.label_at[label, c.SITE], work.label_at[label, c.AT]
    lunched = work.label_at[label, c.LUNCHED] == 1
    plain, miles = work.label[label, c.CLOCK], work.label[label, c.MILES_SO_FAR]
    late, fresh, lunch_at = math.inf, math.inf, -1
    here, beside = day.truck_at[truck, c.START_PLACE], work.label[label, c.BESIDE]
    if site >= 0:
        here = day.site_place[site]
        plain += poured / day.site[site, c.FLOW]
        if plain > day.site[site, c.CLOSES] + day.truck[truck, c.DAY_MIN] + SLACK_MIN:
            return False
    elif day.truck_at[truck, c.IS_OUT] == 0:
        if day.truck[truck, c.LOAD_BESIDE] > 0.0:
            beside += load_min(day.truck, truck, poured)
        else:
            plain += load_min(day.truck, truck, poured)
    if not lunched and (site >= 0 or day.truck_at[truck, c.IS_OUT] == 1):
        fresh = lunch_end(day.truck, truck, plain)
    latest = day.truck[truck, c.LATEST] + SLACK_MIN
    for place in range(at, until):
        order = work.sequence[place]
        there = day.order_at[order, c.PLACE]
        drive = day.legs[profile, here, there, c.DRIVE_MIN]
        miles += day.legs[profile, here, there, c.MILES]
        whole = work.stop[c.BUSY_MIN, place] + day.setup_min
        joined = place > at and here == there
        plain = finish(
            day.order_at,
            day.window,
            order,
            plain + drive,
            work.stop[c.BUSY_MIN, place] if joined else whole,
        )
        if late < math.inf:
            late = finish(
                day.order_at,
                day.window,
                order,
                late + drive,
                work.stop[c.BUSY_MIN, place] if joined else whole,
            )
        if fresh < math.inf:
            fresh = finish(day.order_at, day.window, order, fresh + drive, whole)
            if fresh < late:
                late, lunch_at = fresh, place
        if min(plain, late) > latest - work.stop[c.REST_MIN, place + 1]:
            return False
        here = there
        fresh = math.inf if lunched else lunch_end(day.truck, truck, plain)
    if fresh < late:
        late, lunch_at = fresh, until
    work.out[c.LEG_PLAIN], work.out[c.LEG_LATE], work.out[c.LEG_LUNCH_AT], work.out[c.LEG_MILES] = (
        plain,
        late,
        float(lunch_at),
        miles,
    )
    work.out[c.LEG_BESIDE] = beside
    return plain < math.inf or late < math.inf
