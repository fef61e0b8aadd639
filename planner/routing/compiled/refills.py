"""Refill stops and lunch put into a sequence of orders at least cost.

A label-setting program over the sequence. A label stands at a refill (or at the departure)
before the order at some place of the sequence: clock, miles, lunch had or not, and the gallons on
board. It is extended to every later refill and to the return; how much goes in at the refill
follows from where the next one is, so a leg between two refills is ridden afresh for each pair.

What makes it exact: at a refill that makes a mix, everything up to the mix's next fill can be
taken on whatever is on board, so gallons on board matter for pouring minutes only, and a label may
drop another when it is ahead by more minutes and money than the other's extra gallons could save.
Mixes that a site does not make are carried by a promise: the label says up to which of the mix's
orders the gallons last, and only refills that keep the promise may follow.

work.kept labels of one kind stay at one place of the sequence (scratch.py says which kinds): QUICK
while searching, CAREFUL for a last word; PROVE keeps all that no other dominates.
"""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.fills import pumpable
from planner.routing.compiled.labels import DONE, compare_at, hang, keep, new_label, next_label
from planner.routing.compiled.legs import lasts, ride
from planner.routing.compiled.machine_code import compiled, entry
from planner.routing.compiled.measure import can_prune, measure
from planner.routing.compiled.preference_price import wish_of
from planner.routing.compiled.price import lunch_owed, money, price_stops
from planner.routing.compiled.promises import (
    as_rode,
    may_end_early,
    mix_need,
    next_promise,
    second_site,
    set_promises,
    set_reach,
)
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH, SLACK_MIN
from planner.routing.exact.tanks import SLACK_GAL


@entry
def place_refills(
    day: DayArrays, work: Scratch, truck: int, load: int, size: int, under: float
) -> tuple[float, int]:
    """Cheapest cost below `under` for the first `size` orders of the sequence in `work` (all of
    which the truck can do), and the number of stops then in its row PLACED; (inf, 0) when there is
    none."""
    if size == 0:
        idle = day.truck[truck, c.IDLE_MONEY]
        return (idle, 0) if under > idle else (math.inf, 0)
    limited = measure(day, work, truck, load, size)
    wish = wish_of(day, truck, work.sequence, size)
    work.out[c.FOUND_COST] = under - wish
    work.found[c.FOUND_LABEL] = -1
    work.found[c.LABELS_MADE] = 0
    if can_prune(
        day,
        work,
        truck,
        load,
        size,
        day.truck[truck, c.START_MIN],
        day.truck[truck, c.START_MILES],
        day.truck_at[truck, c.START_LUNCHED] == 1,
        c.ZERO,
        day.truck_at[truck, c.START_PLACE],
        c.ZERO,
    ):
        return math.inf, 0
    for at in range(size + 1):
        work.row[c.HEAD, at] = work.row[c.TAIL, at] = -1
    _depart(day, work, truck, load, size)
    for at in range(size + 1):
        while True:
            label = next_label(day, work, at)
            if label < 0:
                break
            work.label_at[label, c.STATE] = DONE
            _extend(day, work, truck, load, size, label, limited)
    if work.found[c.FOUND_LABEL] < 0:
        return math.inf, 0
    placed = _write_stops(day, work, size)
    cost = work.out[c.FOUND_COST] + wish
    if day.truck[truck, c.ANY_TOLD] > 0.0:
        # The program does not see what customers were told.
        cost = price_stops(day, work, truck, load, work.placed, placed)
        if cost >= under:
            return math.inf, 0
    return cost, placed


@compiled
def _depart(day: DayArrays, work: Scratch, truck: int, load: int, size: int) -> None:
    """Labels of the departure: one for each way in which what is on board of mixes that the yard
    does not make may be meant to last."""
    first = day.truck_at[truck, c.START_MAKES]
    levels = work.levels
    for row in range(day.truck_at[truck, c.PARTS]):
        levels[row] = day.load_part[load, row, c.START_GAL]
    mixes = work.mixes
    for mix in range(mixes):
        work.mix[c.PROMISE_MOST, mix] = work.mix[c.PROMISE_LEAST, mix] = work.mix[
            c.PROMISE, mix
        ] = -1
        if work.mix[c.USED, mix] == 1 and not day.site_makes[first, mix]:
            on_board = pumpable(day.part, day.load_rows, truck, load, levels, mix)
            most = 0
            while most < work.tally[c.COUNT, size, mix] and (
                mix_need(work, size, mix, c.ZERO, most + 1) <= on_board + SLACK_GAL
            ):
                most += 1
            work.mix[c.PROMISE_MOST, mix] = work.mix[c.PROMISE, mix] = most
            early = may_end_early(day, work, truck, c.NONE)
            work.mix[c.PROMISE_LEAST, mix] = most if early else 0
    while True:
        label = new_label(day, work, truck, c.ZERO, c.NONE)
        if label < 0:
            return
        work.label[label, c.CLOCK] = day.truck[truck, c.START_MIN] + day.load[load, c.CLEAN_MIN]
        work.label[label, c.BESIDE] = 0.0
        work.label[label, c.MILES_SO_FAR] = day.truck[truck, c.START_MILES]
        work.label[label, c.PAID] = work.label[label, c.WISH] = 0.0
        work.label_at[label, c.LUNCHED] = day.truck_at[truck, c.START_LUNCHED]
        work.label_at[label, c.PARENT] = -1
        work.label_at[label, c.LUNCH_AT] = -1
        for row in range(day.truck_at[truck, c.PARTS]):
            work.label[label, c.LEVEL + row] = day.load_part[load, row, c.START_GAL]
        for mix in range(mixes):
            work.label_at[label, c.PROMISED + mix] = work.mix[c.PROMISE, mix]
        hang(work, c.ZERO, label)
        if not next_promise(work):
            return


@compiled
def _extend(
    day: DayArrays, work: Scratch, truck: int, load: int, size: int, label: int, limited: bool
) -> None:
    """A label to the return, and to every refill that may come next."""
    at, site = work.label_at[label, c.AT], work.label_at[label, c.SITE]
    makes = day.truck_at[truck, c.START_MAKES] if site < 0 else site
    place = day.truck_at[truck, c.START_PLACE] if site < 0 else day.site_place[site]
    clock, miles = work.label[label, c.CLOCK], work.label[label, c.MILES_SO_FAR]
    lunched = work.label_at[label, c.LUNCHED] == 1
    if site >= 0 and can_prune(
        day, work, truck, load, size, clock, miles, lunched, at, place, c.ZERO
    ):
        return
    _to_return(day, work, truck, load, size, label, makes)
    if can_prune(day, work, truck, load, size, clock, miles, lunched, at, place, c.ONE):
        return
    if limited:
        set_reach(day, work, load, size, at, makes)
    for until in range(at, size):
        if not lasts(day, work, load, label, makes, until):
            return
        if limited:
            _to_limited_sites(day, work, truck, load, size, label, makes, until)
        elif until > at:
            for mix in range(work.mixes):
                work.mix[c.PROMISE, mix] = work.tally[c.COUNT, until, mix]
            if not ride(day, work, truck, load, size, label, makes, until):
                # A later refill means more to pour and to do before it: it will not fit either.
                return
            for rank in range(day.near_sites.shape[2]):
                near = _site_near(day, work, truck, until, size, rank)
                _arrive(day, work, truck, load, size, label, near, until)


@compiled
def _site_near(day: DayArrays, work: Scratch, truck: int, until: int, size: int, rank: int) -> int:
    """A site worth a stop before the order at `until`: in turn from those near the place before
    it and near its own, without saying one twice when there are few sites."""
    profile = day.truck_at[truck, c.PROFILE]
    here = (
        day.order_at[work.sequence[until - 1], c.PLACE]
        if until > 0
        else day.truck_at[truck, c.START_PLACE]
    )
    if day.near_sites.shape[2] == day.site_place.shape[0]:
        return rank
    if rank % 2 == 0:
        return int(day.near_sites[profile, here, rank // 2])
    return int(day.near_sites[profile, day.order_at[work.sequence[until], c.PLACE], rank // 2])


@compiled
def _to_return(
    day: DayArrays, work: Scratch, truck: int, load: int, size: int, label: int, makes: int
) -> None:
    """Through all orders left and home."""
    if not lasts(day, work, load, label, makes, size):
        return
    for mix in range(work.mixes):
        work.mix[c.PROMISE, mix] = work.tally[c.COUNT, size, mix]
        if (
            work.mix[c.USED, mix] == 1
            and not day.site_makes[makes, mix]
            and work.label_at[label, c.PROMISED + mix] != work.mix[c.PROMISE, mix]
        ):
            return
    if not ride(day, work, truck, load, size, label, makes, size):
        return
    profile, home = day.truck_at[truck, c.PROFILE], day.site_place[day.truck_at[truck, c.YARD]]
    here = (
        day.order_at[work.sequence[size - 1], c.PLACE]
        if size > work.label_at[label, c.AT]
        else day.site_place[makes]
    )
    drive = day.legs[profile, here, home, c.DRIVE_MIN]
    miles = work.out[c.LEG_MILES] + day.legs[profile, here, home, c.MILES]
    for turn in range(2):
        now = work.out[c.LEG_PLAIN + turn] + drive
        lunched = turn == 1 or work.label_at[label, c.LUNCHED] == 1
        if now > day.truck[truck, c.LATEST] + SLACK_MIN:
            continue
        if not lunched and lunch_owed(day.truck, truck, now):
            continue
        cost = money(day.truck, day.load, truck, load, now, miles, lunched, work.out[c.LEG_BESIDE])
        cost += work.label[label, c.WISH]
        if cost < work.out[c.FOUND_COST]:
            work.out[c.FOUND_COST] = cost
            work.found[c.FOUND_LABEL] = label
            work.found[c.FOUND_LUNCH] = int(work.out[c.LEG_LUNCH_AT]) if turn == 1 else -1


@compiled
def _to_limited_sites(
    day: DayArrays,
    work: Scratch,
    truck: int,
    load: int,
    size: int,
    label: int,
    makes: int,
    until: int,
) -> None:
    """To refills before the order at `until` when some places do not make every mix."""
    rode = fits = False
    for rank in range(day.near_sites.shape[2]):
        site = _site_near(day, work, truck, until, size, rank)
        if until == work.label_at[label, c.AT] and not second_site(
            day, work, truck, label, makes, site
        ):
            continue
        if not set_promises(day, work, truck, load, size, label, makes, site, until):
            continue
        while True:
            if not rode or not as_rode(day, work, makes):
                fits = ride(day, work, truck, load, size, label, makes, until)
                rode = True
                for mix in range(work.mixes):
                    work.mix[c.RODE, mix] = work.mix[c.PROMISE, mix]
            if fits:
                _arrive(day, work, truck, load, size, label, site, until)
            if not next_promise(work):
                break


@compiled
def _arrive(
    day: DayArrays,
    work: Scratch,
    truck: int,
    load: int,
    size: int,
    label: int,
    site: int,
    until: int,
) -> None:
    """Labels at the next refill, from the leg just ridden."""
    profile, place = day.truck_at[truck, c.PROFILE], day.site_place[site]
    if until > work.label_at[label, c.AT]:
        here = day.order_at[work.sequence[until - 1], c.PLACE]
    elif work.label_at[label, c.SITE] >= 0:
        here = day.site_place[work.label_at[label, c.SITE]]
    else:
        here = day.truck_at[truck, c.START_PLACE]
    midnight = day.truck[truck, c.DAY_MIN]
    drive = day.legs[profile, here, place, c.DRIVE_MIN]
    miles = work.out[c.LEG_MILES] + day.legs[profile, here, place, c.MILES]
    for turn in range(2):
        clock = work.out[c.LEG_PLAIN + turn]
        if clock == math.inf:
            continue
        lunched = turn == 1 or work.label_at[label, c.LUNCHED] == 1
        clock = max(clock + drive, day.site[site, c.OPENS] + midnight) + day.site[site, c.SETUP_MIN]
        if clock > day.site[site, c.CLOSES] + midnight + SLACK_MIN:
            continue
        if can_prune(day, work, truck, load, size, clock, miles, lunched, until, place, c.ZERO):
            continue
        new = new_label(day, work, truck, until, site)
        if new < 0:
            return
        work.label[new, c.CLOCK], work.label[new, c.MILES_SO_FAR] = clock, miles
        work.label[new, c.WISH] = work.label[label, c.WISH] + day.truck[truck, c.PER_REFILL]
        work.label[new, c.BESIDE] = work.out[c.LEG_BESIDE]
        compare_at(day, work, truck, load, size, new, lunched)
        work.label_at[new, c.LUNCHED] = 1 if lunched else 0
        work.label_at[new, c.LUNCH_AT] = int(work.out[c.LEG_LUNCH_AT]) if turn == 1 else -1
        work.label_at[new, c.PARENT] = label
        for row in range(day.truck_at[truck, c.PARTS]):
            work.label[new, c.LEVEL + row] = work.leg_levels[row]
        for mix in range(work.mixes):
            kept_back = work.mix[c.USED, mix] == 1 and not day.site_makes[site, mix]
            work.label_at[new, c.PROMISED + mix] = work.mix[c.PROMISE, mix] if kept_back else -1
        keep(day, work, truck, load, new)


@compiled
def _write_stops(day: DayArrays, work: Scratch, size: int) -> int:
    """The stop order that ends with the best label's leg, into work.placed; its length."""
    orders = day.order_at.shape[0]
    total, until = 0, size
    label, lunch = work.found[c.FOUND_LABEL], work.found[c.FOUND_LUNCH]
    # Back to front, then turned round.
    while label >= 0:
        at = work.label_at[label, c.AT]
        if lunch == until:
            work.placed[total] = LUNCH
            total += 1
        for place in range(until - 1, at - 1, -1):
            work.placed[total] = work.sequence[place]
            total += 1
            if lunch == place:
                work.placed[total] = LUNCH
                total += 1
        if work.label_at[label, c.SITE] >= 0:
            work.placed[total] = orders + work.label_at[label, c.SITE]
            total += 1
        until, lunch, label = at, work.label_at[label, c.LUNCH_AT], work.label_at[label, c.PARENT]
    for place in range(total // 2):
        other = total - 1 - place
        work.placed[place], work.placed[other] = (work.placed[other], work.placed[place])
    return total
