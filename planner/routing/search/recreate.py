"""The second half of a step: absent orders are put back where they cost least."""

import math

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import price_stops
from planner.routing.compiled.refills import place_refills
from planner.routing.compiled.scratch import Scratch
from planner.routing.exact.route_cost import LUNCH
from planner.routing.search.group_days import choose_days
from planner.routing.search.insert import NO_CUT, guess_gap
from planner.routing.search.ruin_state import RuinState
from planner.routing.search.state import SearchState, is_open
from planner.routing.search.survey import lenient_more, put_stops, refill_site
from planner.routing.search.trucks import GAIN, put_sequence, sequence_of


@compiled
def recreate(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState) -> None:
    """Put absent orders back, each at its cheapest; what costs more than its price stays out."""
    _sort_absent(day, hand)
    absent, left = hand.n[c.ABSENT], 0
    for place in range(absent):
        order = hand.absent[place]
        if state.day_of[order] == c.NEW_DAY:
            group = day.order_at[order, c.GROUP]
            choose_days(day, work, state, hand, group)
            # At once, or what comes between takes the room that was seen.
            for row in range(day.group[group, c.FIRST_MEMBER], day.group[group, c.END_MEMBER]):
                insert(day, work, state, hand, day.member[row, c.MEMBER])
        if state.truck_of[order] >= 0:
            continue
        if not insert(day, work, state, hand, order):
            hand.absent[left] = order
            left += 1
    hand.n[c.ABSENT] = left


@compiled
def tidy(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState) -> None:
    """Put refills and lunch anew on the trucks of this step, where that saves money."""
    for truck in range(state.truck.shape[0]):
        if hand.truck[truck, c.UNTIDY]:
            hand.truck[truck, c.UNTIDY] = False
            size = sequence_of(day, work, state, truck)
            put_sequence(day, work, state, truck, size, state.money[truck, c.COST] - GAIN)


@compiled
def _sort_absent(day: DayArrays, hand: RuinState) -> None:
    """Put the absent orders into one of a few sequences."""
    kind, n = np.random.random(), hand.n[c.ABSENT]
    home = day.site_place[day.truck_at[0, c.YARD]]
    for place in range(n):
        order = hand.absent[place]
        there = day.order_at[order, c.PLACE]
        if kind < 0.34:
            key = np.random.random()
        elif kind < 0.62:
            key = -day.order[order, c.GAL]
        elif kind < 0.72:
            key = -day.order[order, c.PRICE] + np.random.random()
        elif kind < 0.82:
            key = -day.legs[0, home, there, c.DRIVE_MIN]
        elif kind < 0.90:
            key = day.legs[0, home, there, c.DRIVE_MIN]
        else:
            key = np.random.random()
            for row in range(
                day.order_at[order, c.FIRST_WINDOW], day.order_at[order, c.END_WINDOW]
            ):
                key += min(1440.0, day.window[row, c.CLOSES] - day.window[row, c.OPENS])
        at = place - 1
        while at >= 0 and hand.key[at] > key:
            hand.key[at + 1] = hand.key[at]
            hand.absent[at + 1] = hand.absent[at]
            at -= 1
        hand.key[at + 1] = key
        hand.absent[at + 1] = order


@compiled
def insert(day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, order: int) -> bool:
    """Serve an order where that costs least, if it costs less than its price."""
    offers = offers_of(day, work, state, hand, order)
    best, best_truck, best_size = day.order[order, c.PRICE], c.NONE, c.ZERO
    for pick in range(offers):
        if hand.guess[pick] >= best:
            break
        truck = hand.offer[pick, c.OFFER_TRUCK]
        more, size = _price_offer(day, work, state, hand, order, pick, best)
        if more < math.inf:
            more += _lenient_on(day, work, state, truck, order, size)
        if more < best:
            best, best_truck, best_size = more, truck, size
            for at in range(size):
                work.trial[at] = work.placed[at]
    if best_truck < 0:
        return False
    put_stops(day, work, state, best_truck, work.trial, best_size)
    state.truck_of[order] = best_truck
    hand.truck[best_truck, c.TOUCHED] = True
    return True


@compiled
def offers_of(
    day: DayArrays, work: Scratch, state: SearchState, hand: RuinState, order: int
) -> int:
    """The least guesses, in order, of the trucks near an order, of those on its cheap days where
    few of these are near, of those that do next to nothing, and of one idle truck of each kind;
    their number."""
    hand.n[c.STAMP] += 1
    stamp, offers, cheap = hand.n[c.STAMP], c.ZERO, c.ZERO
    price, wish = day.order[order, c.PRICE], day.order[order, c.CHEAP_WISH]
    for rank in range(min(int(day.tuning[c.TRUCKS_NEAR]), hand.near.shape[1])):
        truck = state.truck_of[hand.near[order, rank]]
        if truck >= 0 and hand.truck[truck, c.ACTIVE] and hand.truck[truck, c.SEEN] != stamp:
            hand.truck[truck, c.SEEN] = stamp
            offers = _add_offer(day, work, state, hand, truck, order, price, offers)
            if day.wish[order, truck] <= wish and is_open(day, state, truck, order):
                cheap += 1
    few = cheap < day.tuning[c.OFFERS]
    for truck in range(state.truck.shape[0]):
        if not hand.truck[truck, c.ACTIVE]:
            continue
        if state.truck[truck, c.SIZE] > 0:
            light = state.truck[truck, c.SIZE] <= day.tuning[c.LIGHT_STOPS]
            cheap_day = few and day.wish[order, truck] <= wish
            if (light or cheap_day) and hand.truck[truck, c.SEEN] != stamp:
                offers = _add_offer(day, work, state, hand, truck, order, price, offers)
            continue
        like = day.truck_at[truck, c.LIKENESS]
        known = hand.truck[like, c.SEEN_LIKE] == stamp
        if (
            known
            and state.truck[truck, c.LOAD] - day.truck_at[truck, c.FIRST_LOAD]
            == hand.n[c.KIND_LOADING]
        ):
            continue
        hand.truck[like, c.SEEN_LIKE] = stamp
        hand.n[c.KIND_LOADING] = state.truck[truck, c.LOAD] - day.truck_at[truck, c.FIRST_LOAD]
        offers = _add_offer(day, work, state, hand, truck, order, price, offers)
    return offers


@compiled
def _add_offer(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    hand: RuinState,
    truck: int,
    order: int,
    price: float,
    offers: int,
) -> int:
    most = min(int(day.tuning[c.OFFERS]), hand.guess.shape[0])
    # What is dearer than all that will be priced need not be known.
    under = hand.guess[most - 1] if offers == most else price
    guess, gap, cut = guess_gap(day, work, state, truck, order, day.tuning[c.BLINK], under)
    if gap < 0:
        return offers
    at = min(offers, most - 1)
    while at > 0 and hand.guess[at - 1] > guess:
        hand.guess[at] = hand.guess[at - 1]
        for column in range(hand.offer.shape[1]):
            hand.offer[at, column] = hand.offer[at - 1, column]
        at -= 1
    hand.offer[at, c.OFFER_TRUCK], hand.guess[at] = truck, guess
    hand.offer[at, c.OFFER_GAP], hand.offer[at, c.OFFER_CUT] = gap, cut
    return int(min(offers + 1, most))


@compiled
def _price_offer(
    day: DayArrays,
    work: Scratch,
    state: SearchState,
    hand: RuinState,
    order: int,
    pick: int,
    under: float,
) -> tuple[float, int]:
    """Exact money of an offer and the size of its stop order, which is then in `work`; inf when it
    is not below `under`."""
    truck, gap = hand.offer[pick, c.OFFER_TRUCK], hand.offer[pick, c.OFFER_GAP]
    load, size = state.truck[truck, c.LOAD], state.truck[truck, c.SIZE]
    old = state.money[truck, c.COST]
    if hand.offer[pick, c.OFFER_CUT] == NO_CUT:
        for at in range(gap):
            work.placed[at] = state.stops[truck, at]
        work.placed[gap] = order
        for at in range(gap, size):
            work.placed[at + 1] = state.stops[truck, at]
        cost = price_stops(day, work, truck, load, work.placed, size + 1)
        if cost < math.inf:
            if size > 0 and (day.truck[truck, c.LUNCH_MIN] > 0.0 or has_refill(day, state, truck)):
                hand.truck[truck, c.UNTIDY] = True
            return cost - old, size + 1
    elif hand.offer[pick, c.OFFER_CUT] >= 0:
        placed = _with_refill(day, work, state, truck, order, gap, hand.offer[pick, c.OFFER_CUT])
        cost = price_stops(day, work, truck, load, work.placed, placed)
        if cost < math.inf:
            hand.truck[truck, c.UNTIDY] = True
            return cost - old, placed
    count = c.ZERO
    for at in range(size + 1):
        if at == gap:
            work.sequence[count] = order
            count += 1
        if at < size:
            stop = state.stops[truck, at]
            if stop != LUNCH and stop < day.order_at.shape[0]:
                work.sequence[count] = stop
                count += 1
    cost, placed = place_refills(day, work, truck, load, count, old + under)
    return cost - old, placed


@compiled
def _lenient_on(
    day: DayArrays, work: Scratch, state: SearchState, truck: int, order: int, size: int
) -> float:
    """As lenient_more, for the stop order in `work`, which is a truck's with one order more."""
    if state.truck[truck, c.SIZE] == 0:
        return 0.0
    refills = c.ZERO
    for at in range(size):
        if work.placed[at] >= day.order_at.shape[0]:
            refills += 1
    mix, gal = day.order_at[order, c.MIX], day.order[order, c.GAL]
    return lenient_more(day, work, state, truck, refills, mix, gal)


@compiled
def _with_refill(
    day: DayArrays, work: Scratch, state: SearchState, truck: int, order: int, gap: int, cut: int
) -> int:
    """A truck's stops with an order in `gap` and one more refill, into work.placed; their number.
    cut: twice the gap of the refill, and 1 more when it comes after the order in the same gap."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    home, here = day.site_place[day.truck_at[truck, c.YARD]], day.truck_at[truck, c.START_PLACE]
    there, mix = day.order_at[order, c.PLACE], day.order_at[order, c.MIX]
    profile, placed = day.truck_at[truck, c.PROFILE], 0
    for at in range(size + 1):
        after = state.place[truck, at] if at < size else home
        refill_here = at == cut // 2
        if refill_here and (at != gap or cut % 2 == 0):
            target = there if at == gap else after
            site = refill_site(day, profile, truck, here, target, mix)
            work.placed[placed] = orders + site
            placed += 1
        if at == gap:
            work.placed[placed] = order
            placed += 1
            if refill_here and cut % 2 == 1:
                site = refill_site(day, profile, truck, there, after, mix)
                work.placed[placed] = orders + site
                placed += 1
        if at < size:
            work.placed[placed] = state.stops[truck, at]
            placed += 1
        here = after
    return placed


@compiled
def has_refill(day: DayArrays, state: SearchState, truck: int) -> bool:
    """Whether a truck stops to refill."""
    for at in range(state.truck[truck, c.SIZE]):
        if state.stops[truck, at] >= day.order_at.shape[0]:
            return True
    return False
