"""The price of a truck-day: planner/routing/exact/route_cost.py (TruckDay.cost), compiled.

price_stops is the one place where the search prices anything that it keeps.
"""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.fills import draw, fill, pumpable
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.preference_price import told_price, wish_of
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH, SLACK_MIN
from planner.routing.exact.tanks import SLACK_GAL


@compiled
def can_do(day: DayArrays, truck: int, load: int, order: int) -> bool:
    """Whether a truck so loaded may ever do an order: pins, mix, hose, size."""
    mix = day.order_at[order, c.MIX]
    line = day.load_line[load, mix]
    return bool(
        line >= 0
        and day.wish[order, truck] < math.inf
        and day.line[truck, line, c.HOSE_FT] >= day.order[order, c.HOSE_RUN_FT]
        and day.order[order, c.GAL] <= day.load_usable[load, mix] + SLACK_GAL
    )


@compiled
def spray_min(day: DayArrays, truck: int, load: int, order: int) -> float:
    """Minutes at the gun."""
    line = day.load_line[load, day.order_at[order, c.MIX]]
    return float(day.order[order, c.GAL] / day.line[truck, line, c.GUN])


@compiled
def finish(order_at: Whole, window: Floats, order: int, arrive: float, work_min: float) -> float:
    """When work that long ends in the earliest window of an order that fits, inf when none does."""
    for row in range(order_at[order, c.FIRST_WINDOW], order_at[order, c.END_WINDOW]):
        opens = window[row, c.OPENS]
        end = (opens if opens > arrive else arrive) + work_min
        if end <= window[row, c.CLOSES] + SLACK_MIN:
            return end
    return math.inf


@compiled
def lunch_owed(trucks: Floats, truck: int, return_min: float) -> bool:
    """Whether a truck that returns then must have had lunch."""
    return bool(
        trucks[truck, c.LUNCH_MIN] > 0.0
        and trucks[truck, c.SHIFT_START] < trucks[truck, c.LUNCH_TO]
        and return_min > trucks[truck, c.LUNCH_TO]
    )


@compiled
def load_min(trucks: Floats, truck: int, gal: float) -> float:
    """Minutes of the departure's fill."""
    if gal <= 0.0:
        return 0.0
    return float(trucks[truck, c.LOAD_SETUP_MIN] + gal / trucks[truck, c.LOAD_FLOW])


@compiled
def paid_min(trucks: Floats, truck: int, return_min: float, lunched: bool) -> float:
    """Minutes on the clock that are paid of a day that ends then."""
    lunch = trucks[truck, c.LUNCH_MIN] if lunched else 0.0
    return float(return_min - trucks[truck, c.SHIFT_START] - lunch)


@compiled
def plain_money(
    trucks: Floats,
    loads: Floats,
    truck: int,
    load: int,
    return_min: float,
    miles: float,
    lunched: bool,
    beside_min: float,
) -> float:
    """Cost of a day that ends then, with the price of long days, before hours that are paid at
    least. beside_min: paid beside the clock."""
    paid = paid_min(trucks, truck, return_min, lunched) + beside_min
    overtime = max(0.0, return_min - trucks[truck, c.SHIFT_END])
    return float(
        loads[load, c.DAY_COST]
        + paid * trucks[truck, c.PAY]
        + overtime * trucks[truck, c.OVERTIME_PAY]
        + miles * trucks[truck, c.MILE_COST]
        + trucks[truck, c.PER_SQUARED_MIN] * paid * paid
    )


@compiled
def money(
    trucks: Floats,
    loads: Floats,
    truck: int,
    load: int,
    return_min: float,
    miles: float,
    lunched: bool,
    beside_min: float,
) -> float:
    """Cost of a day that ends then, with the price of long days."""
    cost = plain_money(trucks, loads, truck, load, return_min, miles, lunched, beside_min)
    paid = paid_min(trucks, truck, return_min, lunched) + beside_min
    lacking = loads[load, c.PAID_LEAST] - paid
    return float(cost + lacking * trucks[truck, c.PAY]) if lacking > 0.0 else float(cost)


@compiled
def _needs(day: DayArrays, work: Scratch, truck: int, load: int, stops: Whole, size: int) -> None:
    """Per stop the hose gallons and changeover minutes; per fill (0 = none, 1 = departure, then
    one per refill) what is sprayed and goes into hoses until the next one."""
    orders, mixes = day.order_at.shape[0], work.mixes
    first = day.truck_at[truck, c.START_MAKES]
    for line in range(day.line.shape[1]):
        work.mix[c.HELD, line] = int(day.line[truck, line, c.START_HELD])
    for mix in range(mixes):
        work.mix[c.FILL_OF, mix] = 1 if day.site_makes[first, mix] else 0
        work.gal[c.SPRAY, 0, mix] = work.gal[c.SPRAY, 1, mix] = 0.0
        work.gal[c.HOSE, 0, mix] = work.gal[c.HOSE, 1, mix] = 0.0
    fills = 1
    for at in range(size):
        stop = stops[at]
        if stop >= orders:
            fills += 1
            for mix in range(mixes):
                work.gal[c.SPRAY, fills, mix] = work.gal[c.HOSE, fills, mix] = 0.0
                if day.site_makes[stop - orders, mix]:
                    work.mix[c.FILL_OF, mix] = fills
        elif stop != LUNCH:
            mix = day.order_at[stop, c.MIX]
            line = day.load_line[load, mix]
            work.stop[c.DRAWN_GAL, at] = work.stop[c.CHANGE_MIN, at] = 0.0
            if work.mix[c.HELD, line] != mix:
                work.stop[c.DRAWN_GAL, at] = day.line[truck, line, c.HOSE_GAL]
                work.gal[c.HOSE, work.mix[c.FILL_OF, mix], mix] += day.line[truck, line, c.HOSE_GAL]
                if work.mix[c.HELD, line] >= 0:
                    work.stop[c.CHANGE_MIN, at] = day.line[truck, line, c.HOSE_MIN]
                work.mix[c.HELD, line] = mix
            work.gal[c.SPRAY, work.mix[c.FILL_OF, mix], mix] += day.order[stop, c.GAL]


@compiled
def price_stops(
    day: DayArrays, work: Scratch, truck: int, load: int, stops: Whole, size: int
) -> float:
    """Cost of a truck's day with these stops and the prices of its wishes, inf when a rule breaks;
    leaves arrive, leave and end in `work`. A truck without stops is idle."""
    if size == 0:
        return float(day.truck[truck, c.IDLE_MONEY])
    orders, mixes = day.order_at.shape[0], work.mixes
    for at in range(size):
        stop = stops[at]
        if stop != LUNCH and stop < orders and not can_do(day, truck, load, stop):
            return math.inf
    _needs(day, work, truck, load, stops, size)
    levels = work.levels
    for row in range(day.truck_at[truck, c.PARTS]):
        levels[row] = day.load_part[load, row, c.START_GAL]
    for mix in range(mixes):
        work.drawn[mix] = 0.0
        need = work.gal[c.SPRAY, 0, mix] + work.gal[c.HOSE, 0, mix]
        if (
            need > 0.0
            and need > pumpable(day.part, day.load_rows, truck, load, levels, mix) + SLACK_GAL
        ):
            return math.inf
    first, is_out = day.truck_at[truck, c.START_MAKES], day.truck_at[truck, c.IS_OUT] == 1
    loaded = 0.0
    if not is_out:
        loaded = fill(day, work, truck, load, first, levels, c.ONE)
        if loaded < 0.0:
            return math.inf
    beside = load_min(day.truck, truck, loaded)
    profile, home = day.truck_at[truck, c.PROFILE], day.site_place[day.truck_at[truck, c.YARD]]
    now, here = (
        day.truck[truck, c.START_MIN] + day.load[load, c.CLEAN_MIN],
        day.truck_at[truck, c.START_PLACE],
    )
    if day.truck[truck, c.LOAD_BESIDE] <= 0.0:
        now, beside = now + beside, 0.0
    miles, wish = day.truck[truck, c.START_MILES], wish_of(day, truck, stops, size)
    visiting, lunched, fills = -1, day.truck_at[truck, c.START_LUNCHED] == 1, 1
    for at in range(size):
        stop = stops[at]
        if stop == LUNCH:
            work.stop[c.ARRIVE, at] = now
            begin = max(now, day.truck[truck, c.LUNCH_FROM])
            too_soon = at == 0 and not is_out
            if too_soon or lunched or begin > day.truck[truck, c.LUNCH_TO] + SLACK_MIN:
                return math.inf
            now = begin + day.truck[truck, c.LUNCH_MIN]
            lunched, visiting = True, -1
        elif stop < orders:
            there = day.order_at[stop, c.PLACE]
            busy = work.stop[c.CHANGE_MIN, at] + spray_min(day, truck, load, stop)
            if there != visiting:
                now += day.legs[profile, here, there, c.DRIVE_MIN]
                miles += day.legs[profile, here, there, c.MILES]
                here = visiting = there
                busy += day.setup_min
            work.stop[c.ARRIVE, at] = now
            now = finish(day.order_at, day.window, stop, now, busy)
            if now == math.inf:
                return math.inf
            wish += told_price(day.order, stop, now - busy)
            work.drawn[day.order_at[stop, c.MIX]] += (
                day.order[stop, c.GAL] + work.stop[c.DRAWN_GAL, at]
            )
        else:
            site = stop - orders
            there = day.site_place[site]
            now += day.legs[profile, here, there, c.DRIVE_MIN]
            miles += day.legs[profile, here, there, c.MILES]
            here, visiting = there, -1
            work.stop[c.ARRIVE, at] = now
            for mix in range(mixes):
                draw(day.part, day.load_rows, truck, load, levels, mix, work.drawn[mix])
                work.drawn[mix] = 0.0
            fills += 1
            gal = fill(day, work, truck, load, site, levels, fills)
            if gal < 0.0:
                return math.inf
            now = (
                max(now, day.site[site, c.OPENS] + day.truck[truck, c.DAY_MIN])
                + day.site[site, c.SETUP_MIN]
                + gal / day.site[site, c.FLOW]
            )
            if now > day.site[site, c.CLOSES] + day.truck[truck, c.DAY_MIN] + SLACK_MIN:
                return math.inf
        work.stop[c.LEAVE, at] = now
    now += day.legs[profile, here, home, c.DRIVE_MIN]
    miles += day.legs[profile, here, home, c.MILES]
    work.out[c.RETURN_MIN], work.out[c.RETURN_MILES], work.out[c.HAD_LUNCH] = (
        now,
        miles,
        1.0 if lunched else 0.0,
    )
    if now > day.truck[truck, c.LATEST] + SLACK_MIN:
        return math.inf
    if not lunched and lunch_owed(day.truck, truck, now):
        return math.inf
    wish += day.truck[truck, c.PER_REFILL] * (fills - 1)
    return float(money(day.truck, day.load, truck, load, now, miles, lunched, beside) + wish)
