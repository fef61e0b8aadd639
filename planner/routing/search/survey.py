"""A stop order is put on a truck, and what inserting asks is seen once for all its gaps."""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Whole
from planner.routing.compiled.fills import pumpable
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import price_stops, spray_min
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH, SLACK_MIN
from planner.routing.search.state import SearchState


@compiled
def put_stops(
    day: DayArrays, work: Scratch, state: SearchState, truck: int, stops: Whole, size: int
) -> float:
    """Give a truck this stop order if it keeps every rule; returns its cost, or inf (and then
    nothing is changed)."""
    cost = price_stops(day, work, truck, state.truck[truck, c.LOAD], stops, size)
    if cost == math.inf:
        return cost
    for at in range(size):
        state.stops[truck, at] = stops[at]
    state.truck[truck, c.SIZE] = size
    state.money[truck, c.COST] = cost
    if size > 0:
        _survey(day, work, state, truck)
    return cost


@compiled
def _survey(day: DayArrays, work: Scratch, state: SearchState, truck: int) -> None:
    """What inserting asks, from the clock that price_stops left in `work`."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    here = day.truck_at[truck, c.START_PLACE]
    pour = 0.0
    if day.truck[truck, c.LOAD_BESIDE] <= 0.0:
        pour = 1.0 / day.truck[truck, c.LOAD_FLOW]
    for at in range(size):
        stop = state.stops[truck, at]
        state.gap[truck, at, c.GAP_POUR] = pour
        if stop >= orders:
            here = day.site_place[stop - orders]
            pour = 1.0 / day.site[stop - orders, c.FLOW]
        elif stop != LUNCH:
            here = day.order_at[stop, c.PLACE]
        state.place[truck, at] = here
        state.gap[truck, at, c.GAP_LEAVE] = work.stop[c.LEAVE, at]
    state.gap[truck, size, c.GAP_POUR] = pour
    state.money[truck, c.HOME_MIN] = work.out[c.RETURN_MIN]
    _survey_clock(day, work, state, truck)
    _survey_room(day, work, state, truck)
    _survey_cuts(day, state, truck)
    _survey_refills(day, state, truck)
    if day.truck[truck, c.PER_MILE_APART] > 0.0:
        _survey_middle(day, state, truck)


@compiled
def _survey_clock(day: DayArrays, work: Scratch, state: SearchState, truck: int) -> None:
    """late and slack, back to front."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    profile, home = day.truck_at[truck, c.PROFILE], day.site_place[day.truck_at[truck, c.YARD]]
    load = state.truck[truck, c.LOAD]
    latest = day.truck[truck, c.LATEST] + SLACK_MIN
    state.gap[truck, size, c.GAP_LATE] = latest
    state.gap[truck, size, c.GAP_SLACK] = 0.0
    after, waited = home, 0.0
    for at in range(size - 1, -1, -1):
        stop = state.stops[truck, at]
        here = state.place[truck, at]
        latest -= day.legs[profile, here, after, c.DRIVE_MIN]
        busy = work.stop[c.LEAVE, at] - work.stop[c.ARRIVE, at]
        if stop == LUNCH:
            busy = day.truck[truck, c.LUNCH_MIN]
            latest = min(latest - busy, day.truck[truck, c.LUNCH_TO] + SLACK_MIN)
            waited += max(0.0, day.truck[truck, c.LUNCH_FROM] - work.stop[c.ARRIVE, at])
        elif stop >= orders:
            site = stop - orders
            midnight = day.truck[truck, c.DAY_MIN]
            wait = max(0.0, day.site[site, c.OPENS] + midnight - work.stop[c.ARRIVE, at])
            busy -= wait
            waited += wait
            latest = min(latest, day.site[site, c.CLOSES] + midnight + SLACK_MIN) - busy
        else:
            busy = work.stop[c.CHANGE_MIN, at] + spray_min(day, truck, load, stop)
            if _begins_visit(day, state, truck, at):
                busy += day.setup_min
            waited += max(0.0, work.stop[c.LEAVE, at] - work.stop[c.ARRIVE, at] - busy)
            latest = _latest_begin(day, stop, latest, busy)
        state.gap[truck, at, c.GAP_LATE] = latest
        state.gap[truck, at, c.GAP_SLACK] = waited
        after = here


@compiled
def _begins_visit(day: DayArrays, state: SearchState, truck: int, at: int) -> bool:
    """Whether an order is the first of its visit."""
    if at == 0:
        return True
    before = state.stops[truck, at - 1]
    return bool(
        before == LUNCH
        or before >= day.order_at.shape[0]
        or day.order_at[before, c.PLACE] != day.order_at[state.stops[truck, at], c.PLACE]
    )


@compiled
def _latest_begin(day: DayArrays, order: int, leave_by: float, busy: float) -> float:
    """Latest arrival at an order that must be left by then."""
    for row in range(
        day.order_at[order, c.END_WINDOW] - 1, day.order_at[order, c.FIRST_WINDOW] - 1, -1
    ):
        begin = min(leave_by, day.window[row, c.CLOSES] + SLACK_MIN) - busy
        if begin >= day.window[row, c.OPENS] - SLACK_MIN:
            return float(begin)
    return leave_by - busy


@compiled
def _survey_room(day: DayArrays, work: Scratch, state: SearchState, truck: int) -> None:
    """Gallons of each mix that the fill before each gap could still hold."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    load, first_fill = state.truck[truck, c.LOAD], day.truck_at[truck, c.START_MAKES]
    for mix in range(state.room.shape[2]):
        usable = day.load_usable[load, mix]
        if day.load_line[load, mix] < 0:
            continue
        room = usable
        if not day.site_makes[first_fill, mix]:
            for row in range(day.truck_at[truck, c.PARTS]):
                work.bare[row] = day.load_part[load, row, c.START_GAL]
            room = pumpable(day.part, day.load_rows, truck, load, work.bare, mix)
        first = 0
        for at in range(size + 1):
            stop = state.stops[truck, at] if at < size else orders
            if at == size or (stop >= orders and day.site_makes[stop - orders, mix]):
                for gap in range(first, at + 1):
                    state.room[truck, gap, mix] = room
                first, room = at + 1, usable
            elif stop != LUNCH and stop < orders and day.order_at[stop, c.MIX] == mix:
                drawn = day.order[stop, c.GAL] + work.stop[c.DRAWN_GAL, at]
                state.gap[truck, at, c.GAP_DRAWN] = drawn
                room -= drawn


@compiled
def _survey_cuts(day: DayArrays, state: SearchState, truck: int) -> None:
    """Each gap's drive to the next place, and the least money of one more refill in it: detour and
    set-up."""
    profile, size = day.truck_at[truck, c.PROFILE], state.truck[truck, c.SIZE]
    home, here = day.site_place[day.truck_at[truck, c.YARD]], day.truck_at[truck, c.START_PLACE]
    for at in range(size + 1):
        after = state.place[truck, at] if at < size else home
        _, spent = refill_detour(day, profile, truck, here, after, c.NONE)
        state.gap[truck, at, c.GAP_CUT_MONEY] = spent
        if at < size and state.stops[truck, at] == LUNCH:
            # Lunch is had where the stop before it is.
            after = state.place[truck, at + 1] if at + 1 < size else home
        state.gap[truck, at, c.GAP_DRIVE_MIN] = day.legs[profile, here, after, c.DRIVE_MIN]
        state.gap[truck, at, c.GAP_MILES] = day.legs[profile, here, after, c.MILES]
        here = state.place[truck, at] if at < size else home


@compiled
def _survey_refills(day: DayArrays, state: SearchState, truck: int) -> None:
    """Refills, gallons of the day by mix, and what of the last refill is not used."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    for mix in range(state.drawn.shape[1]):
        state.drawn[truck, mix] = 0.0
    refills = c.ZERO
    least: float = state.gap[truck, size, c.GAP_CUT_MONEY]
    for at in range(size):
        stop = state.stops[truck, at]
        least = min(least, state.gap[truck, at, c.GAP_CUT_MONEY])
        if stop >= orders:
            refills += 1
        elif stop != LUNCH:
            state.drawn[truck, day.order_at[stop, c.MIX]] += state.gap[truck, at, c.GAP_DRAWN]
    state.truck[truck, c.REFILLS] = refills
    state.money[truck, c.LEAST_REFILL] = least if least < math.inf else 0.0
    state.money[truck, c.UNUSED] = unused_refill(day, state, truck, refills, c.NONE, 0.0)


@compiled
def unused_refill(
    day: DayArrays, state: SearchState, truck: int, refills: int, mix: int, more_gal: float
) -> float:
    """Money of the last of a truck's refills, in the share that its gallons of the day do not use:
    nearly all of it when a gallon less would save the stop. mix, more_gal: with so much more of a
    mix, -1 = none. Takes every fill for full and every site to make every mix."""
    if refills == 0:
        return 0.0
    load, used = state.truck[truck, c.LOAD], 0.0
    for one in range(state.drawn.shape[1]):
        usable = day.load_usable[load, one]
        gal = state.drawn[truck, one] + (more_gal if one == mix else 0.0)
        if usable > 0.0 and gal > refills * usable:
            used += gal / usable - refills
    return max(0.0, 1.0 - used) * float(state.money[truck, c.LEAST_REFILL])


@compiled
def lenient_more(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    truck: int,
    refills: int,
    mix: int,
    more_gal: float,
) -> float:
    """Money that the search, as lenient as it is, counts more (or less) than it costs to have
    `refills` and so much more of a mix on a truck that goes out."""
    lenience = work.out[c.LENIENCE]
    if lenience == 0.0:
        return 0.0
    unused = unused_refill(day, state, truck, refills, mix, more_gal)
    return float(lenience * (state.money[truck, c.UNUSED] - unused))


@compiled
def _survey_middle(day: DayArrays, state: SearchState, truck: int) -> None:
    """Middle of the truck's orders."""
    x, y, count = 0.0, 0.0, 0
    for at in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop != LUNCH and stop < day.order_at.shape[0]:
            x += day.order[stop, c.X_MILES]
            y += day.order[stop, c.Y_MILES]
            count += 1
    state.money[truck, c.MIDDLE_X] = x / max(1, count)
    state.money[truck, c.MIDDLE_Y] = y / max(1, count)


@compiled
def refill_detour(
    day: DayArrays, profile: int, truck: int, here: int, after: int, mix: int
) -> tuple[float, float]:
    """Minutes and money of the cheapest refill with a mix (-1 = any) on the way between two places:
    detour and set-up."""
    site = refill_site(day, profile, truck, here, after, mix)
    if site < 0:
        return math.inf, math.inf
    return _detour(day, profile, truck, here, after, site)


@compiled
def refill_site(day: DayArrays, profile: int, truck: int, here: int, after: int, mix: int) -> int:
    """Site of the cheapest refill with a mix (-1 = any) on the way between two places, -1 = none is
    open."""
    best, best_site = math.inf, -1
    for rank in range(day.near_sites.shape[2]):
        site = day.near_sites[profile, here, rank]
        makes = mix < 0 or day.site_makes[site, mix]
        closes = day.site[site, c.CLOSES] + day.truck[truck, c.DAY_MIN]
        if makes and closes > day.truck[truck, c.SHIFT_START]:
            _, spent = _detour(day, profile, truck, here, after, site)
            if spent < best:
                best, best_site = spent, site
    return best_site


@compiled
def _detour(
    day: DayArrays, profile: int, truck: int, here: int, after: int, site: int
) -> tuple[float, float]:
    place = day.site_place[site]
    minutes = day.site[site, c.SETUP_MIN] - day.legs[profile, here, after, c.DRIVE_MIN]
    minutes += day.legs[profile, here, place, c.DRIVE_MIN]
    minutes += day.legs[profile, place, after, c.DRIVE_MIN]
    miles = day.legs[profile, here, place, c.MILES] + day.legs[profile, place, after, c.MILES]
    miles -= day.legs[profile, here, after, c.MILES]
    return minutes, minutes * day.truck[truck, c.PAY] + miles * day.truck[truck, c.MILE_COST]
