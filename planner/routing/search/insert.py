"""Where an order costs least in a truck's stop order: a quick guess for every gap, in money."""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.fills import pumpable
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import can_do, finish, load_min, money, spray_min
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH, SLACK_MIN
from planner.routing.exact.tanks import SLACK_GAL
from planner.routing.search.state import SearchState, is_open
from planner.routing.search.survey import lenient_more, refill_detour
from planner.routing.search.trucks import GAIN

NEVER = math.inf
NO_CUT = -1
"""No refill more is needed. Else a cut is twice the gap of the refill, and 1 more when it comes
after the order in the same gap; -2 = unknown."""
UNKNOWN_CUT = -2


@compiled
def guess_gap(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    truck: int,
    order: int,
    blink: float,
    under: float,
) -> tuple[float, int, int]:
    """Least money below `under` that an order seems to cost on a truck, the gap for it, and
    whether another refill is needed. A gap is passed over with the chance `blink`.

    The guess sees drive, set-up, changeover, waiting, overtime, pouring and one more refill; it
    does not see rounding, weight or a lunch that moves. inf and -1 when no gap seems possible.
    """
    load, size = state.truck[truck, c.LOAD], state.truck[truck, c.SIZE]
    if size + 3 > work.stops_most or not can_do(day, truck, load, order):
        return NEVER, -1, NO_CUT
    if not is_open(day, state, truck, order):
        return NEVER, -1, NO_CUT
    if size == 0:
        return _guess_first(day, truck, load, order, under)
    orders, profile = day.order_at.shape[0], day.truck_at[truck, c.PROFILE]
    start, there = day.truck_at[truck, c.START_PLACE], day.order_at[order, c.PLACE]
    wish = _guess_wish(day, state, truck, order)
    pay, mile = day.truck[truck, c.PAY], day.truck[truck, c.MILE_COST]
    mix, gal = day.order_at[order, c.MIX], day.order[order, c.GAL]
    leaves = day.truck[truck, c.START_MIN] + day.load[load, c.CLEAN_MIN]
    if day.truck[truck, c.LOAD_BESIDE] <= 0.0:
        leaves += day.truck[truck, c.LOAD_SETUP_MIN]
    free_until = day.truck[truck, c.SHIFT_START] + day.load[load, c.PAID_LEAST]
    if state.money[truck, c.HOME_MIN] > day.truck[truck, c.LUNCH_TO]:
        free_until += day.truck[truck, c.LUNCH_MIN]
    line, spray = day.load_line[load, mix], spray_min(day, truck, load, order)
    change, hose_gal = day.line[truck, line, c.HOSE_MIN], day.line[truck, line, c.HOSE_GAL]
    many_lines = change > 0.0 or hose_gal > 0.0
    last_open = (
        day.window[day.order_at[order, c.END_WINDOW] - 1, c.CLOSES]
        if _opens(day, order)
        else -math.inf
    )
    best, best_gap, best_cut = under, -1, NO_CUT
    before_mix, begun = -1, 0
    refills = state.truck[truck, c.REFILLS]
    kept = lenient_more(day, work, state, truck, refills, mix, gal)
    cutting = lenient_more(day, work, state, truck, refills + 1, mix, gal)
    # A stop takes its set-up at least, since no way round is shorter.
    least_cutting = cutting + day.least_setup_min * pay
    least_kept = min(kept, least_cutting)
    for gap in range(size + 1):
        here = start if gap == 0 else state.place[truck, gap - 1]
        if gap > 0:
            stop = state.stops[truck, gap - 1]
            if stop >= orders:
                if day.site_makes[stop - orders, mix]:
                    begun = gap
            elif stop != LUNCH and day.load_line[load, day.order_at[stop, c.MIX]] == line:
                before_mix = day.order_at[stop, c.MIX]
        if blink > 0.0 and np.random.random() < blink:
            continue
        now = leaves if gap == 0 else state.gap[truck, gap - 1, c.GAP_LEAVE]
        if now > last_open:
            break
        after, joined, joins = _neighbors(day, state, truck, gap, there)
        straight = state.gap[truck, gap, c.GAP_DRIVE_MIN]
        to_min = day.legs[profile, there, here, c.BACK_MIN]
        from_min = day.legs[profile, there, after, c.DRIVE_MIN]
        extra = day.legs[profile, there, here, c.BACK_MILES]
        extra += day.legs[profile, there, after, c.MILES]
        extra -= state.gap[truck, gap, c.GAP_MILES]
        with_fill = gal > state.room[truck, gap, mix] + SLACK_GAL
        least_fill = least_cutting if with_fill else least_kept
        least = wish + extra * mile + least_fill
        if free_until <= state.money[truck, c.HOME_MIN]:
            setups = (0.0 if joined else 1.0) - (1.0 if joins and not joined else 0.0)
            longer = to_min - straight + from_min + spray + setups * day.setup_min
            least += max(0.0, longer - state.gap[truck, gap, c.GAP_SLACK]) * pay
        if least >= best + GAIN:
            # Without waiting, pouring, hoses and overtime; float noise decides nothing.
            continue
        flush, first_use = 0.0, 0.0
        if many_lines:
            times = _changes(day, state, truck, load, gap, line, mix, before_mix)
            flush, first_use = times * change, hose_gal if before_mix != mix else 0.0
        arrive = now + gal * day.margin * state.gap[truck, gap, c.GAP_POUR] + to_min
        busy = spray + flush + (0.0 if joined else day.setup_min)
        end = finish(day.order_at, day.window, order, arrive, busy)
        if end == math.inf:
            continue
        reach = end + from_min
        if joins and not joined:
            reach -= day.setup_min
        limit = state.gap[truck, gap, c.GAP_LATE]
        if gap < size and state.stops[truck, gap] == LUNCH:
            # Lunch is had where the order is; its limit is the minute it begins.
            limit += straight
        if reach > limit + SLACK_MIN:
            continue
        delay = max(0.0, reach - straight - now - state.gap[truck, gap, c.GAP_SLACK])
        home_by = state.money[truck, c.HOME_MIN] + delay
        if home_by > day.truck[truck, c.LATEST] + SLACK_MIN:
            continue
        # Until then they are paid in any case.
        paid_delay = delay if free_until <= state.money[truck, c.HOME_MIN] else home_by - free_until
        paid_delay = max(0.0, paid_delay)
        overtime = max(
            0.0, home_by - max(day.truck[truck, c.SHIFT_END], state.money[truck, c.HOME_MIN])
        )
        spent = wish + paid_delay * pay + extra * mile + overtime * day.truck[truck, c.OVERTIME_PAY]
        if spent + least_fill >= best:
            continue
        cut = NO_CUT
        if gal + first_use > state.room[truck, gap, mix] + SLACK_GAL:
            refill, cut = _guess_refill(
                day, work, state, truck, load, gap, begun, mix, gal + first_use, there, after
            )
            spent += refill + cutting
        else:
            spent += kept
        if spent >= best:
            continue
        best, best_gap, best_cut = spent, gap, cut
    return best, best_gap, best_cut


@compiled
def _guess_wish(day: DayArrays, state: SearchState, truck: int, order: int) -> float:
    """What the wishes say of one more order, with the middle of the others where it is."""
    wish = day.wish[order, truck]
    if day.truck[truck, c.PER_MILE_APART] > 0.0:
        wish += day.truck[truck, c.PER_MILE_APART] * math.hypot(
            day.order[order, c.X_MILES] - state.money[truck, c.MIDDLE_X],
            day.order[order, c.Y_MILES] - state.money[truck, c.MIDDLE_Y],
        )
    return float(wish)


@compiled
def _opens(day: DayArrays, order: int) -> bool:
    return bool(day.order_at[order, c.END_WINDOW] > day.order_at[order, c.FIRST_WINDOW])


@compiled
def _guess_first(
    day: DayArrays, truck: int, load: int, order: int, under: float
) -> tuple[float, int, int]:
    """The guess for a truck that would be idle."""
    profile, home = day.truck_at[truck, c.PROFILE], day.site_place[day.truck_at[truck, c.YARD]]
    there, first = day.order_at[order, c.PLACE], day.truck_at[truck, c.START_PLACE]
    start = day.truck[truck, c.START_MIN] + day.load[load, c.CLEAN_MIN]
    loading = load_min(day.truck, truck, day.order[order, c.GAL])
    beside = loading if day.truck[truck, c.LOAD_BESIDE] > 0.0 else 0.0
    end = finish(
        day.order_at,
        day.window,
        order,
        start + (loading - beside) + day.legs[profile, first, there, c.DRIVE_MIN],
        day.setup_min + spray_min(day, truck, load, order),
    )
    back = end + day.legs[profile, there, home, c.DRIVE_MIN]
    if back > day.truck[truck, c.LATEST] + SLACK_MIN:
        return NEVER, -1, NO_CUT
    miles = day.truck[truck, c.START_MILES] + day.legs[profile, first, there, c.MILES]
    miles += day.legs[profile, there, home, c.MILES]
    spent = (
        money(day.truck, day.load, truck, load, back, miles, c.NO, beside) + day.wish[order, truck]
    )
    spent -= day.truck[truck, c.IDLE_MONEY]
    made = day.site_makes[day.truck_at[truck, c.START_MAKES], day.order_at[order, c.MIX]]
    return (spent, 0, NO_CUT if made else UNKNOWN_CUT) if spent < under else (NEVER, -1, NO_CUT)


@compiled
def _neighbors(
    day: DayArrays, state: SearchState, truck: int, gap: int, there: int
) -> tuple[int, bool, bool]:
    """Place of the stop after a gap; whether an order put there would go on a visit; and whether
    the stop after it would then go on one."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    joined = False
    if gap > 0:
        stop = state.stops[truck, gap - 1]
        joined = stop != LUNCH and stop < orders and day.order_at[stop, c.PLACE] == there
    at = gap
    if at < size and state.stops[truck, at] == LUNCH:
        at += 1
    if at >= size:
        return day.site_place[day.truck_at[truck, c.YARD]], joined, False
    after = state.place[truck, at]
    joins = at == gap and state.stops[truck, at] < orders and after == there
    return after, joined, joins


@compiled
def _changes(
    day: DayArrays,
    state: SearchState,
    truck: int,
    load: int,
    gap: int,
    line: int,
    mix: int,
    before_mix: int,
) -> int:
    """Changeovers of a line more (or fewer) with an order of that mix in a gap."""
    after_mix = -1
    for at in range(gap, state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop != LUNCH and stop < day.order_at.shape[0]:
            other = day.order_at[stop, c.MIX]
            if day.load_line[load, other] == line:
                after_mix = other
                break
    times = 0
    if before_mix >= 0 and before_mix != mix:
        times += 1
    if after_mix >= 0 and after_mix != mix:
        times += 1
    if before_mix >= 0 and after_mix >= 0 and before_mix != after_mix:
        times -= 1
    return times


@compiled
def _guess_refill(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    truck: int,
    load: int,
    gap: int,
    begun: int,
    mix: int,
    gal: float,
    there: int,
    after: int,
) -> tuple[float, int]:
    """Least money of one more refill, and its cut, among the orders between two fills, the first
    gap of which is `begun`, so that an order of `gal` in `gap` lasts; inf when one is not
    enough."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    profile, usable = day.truck_at[truck, c.PROFILE], day.load_usable[load, mix] + SLACK_GAL
    start, home = day.truck_at[truck, c.START_PLACE], day.site_place[day.truck_at[truck, c.YARD]]
    # What a start that does not make the mix has of it is what was left over.
    dry = begun == 0 and not day.site_makes[day.truck_at[truck, c.START_MAKES], mix]
    before = usable
    if dry:
        tank = work.bare
        for row in range(tank.shape[0]):
            tank[row] = day.load_part[load, row, c.START_GAL]
        before = pumpable(day.part, day.load_rows, truck, load, tank, mix) + SLACK_GAL
    total = before - SLACK_GAL - state.room[truck, gap, mix]
    best, best_cut, done = math.inf, UNKNOWN_CUT, 0.0
    at = begun
    while at <= size:
        if at > begun:
            stop = state.stops[truck, at - 1]
            if stop >= orders and day.site_makes[stop - orders, mix]:
                break
            if stop != LUNCH and stop < orders and day.order_at[stop, c.MIX] == mix:
                done += state.gap[truck, at - 1, c.GAP_DRAWN]
        if at == gap:
            here = start if gap == 0 else state.place[truck, gap - 1]
            if (at > begun or dry) and done <= before and total - done + gal <= usable:
                _, spent = refill_detour(day, profile, truck, here, there, mix)
                if spent < best:
                    best, best_cut = spent, 2 * gap
            if done + gal <= before and total - done <= usable:
                _, spent = refill_detour(day, profile, truck, there, after, mix)
                if spent < best:
                    best, best_cut = spent, 2 * gap + 1
        elif at > begun or dry:
            spent = state.gap[truck, at, c.GAP_CUT_MONEY]
            if spent < best and not day.all_made:
                _, spent = refill_detour(
                    day,
                    profile,
                    truck,
                    start if at == 0 else state.place[truck, at - 1],
                    home if at == size else state.place[truck, at],
                    mix,
                )
            earlier = done if at < gap else done + gal
            if spent < best and earlier <= before and total + gal - earlier <= usable:
                best, best_cut = spent, 2 * at
        at += 1
    return best, best_cut
