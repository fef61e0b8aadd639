"""Taking orders out of a plan and putting them back: the two halves of a step of the search."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.routing.evaluate import LUNCH
from planner.routing.search import columns as c
from planner.routing.search.compiled import compiled, merged
from planner.routing.search.insert import NO_CUT, guess_gap
from planner.routing.search.numbers import DayNumbers, Floats, Whole
from planner.routing.search.price import can_do, price_stops
from planner.routing.search.refills import KEPT, place_refills
from planner.routing.search.state import State, put_stops, refill_site
from planner.routing.search.work import Work

NEAR_ORDERS = 300
"""Neighbours of an order that are looked through for trucks to take strings from."""
TRUCKS_NEAR = 40
"""Neighbours of an order whose trucks are offered it."""
STRING_MOST = 10.0
TAKEN_MEAN = 10.0
"""Longest string, and orders taken out per step on average (Christiaens and Vanden Berghe 2020,
Transportation Science 54(2): 10 and 10; from memory)."""
SPLIT_CHANCE, SPLIT_LONGER = 0.5, 0.01
"""A string that leaves some orders in its middle, and the chance that it leaves one more (same
source)."""
BLINK = 0.01
"""Chance that a gap is not seen (same source)."""
GAIN = 1e-7
"""Money that a re-placement must save; float noise must not count."""
OFFERS_TRIED = 4
"""Trucks whose guess for an order is priced exactly, the best first."""


class Hand(NamedTuple):
    """What is in hand between the halves; columns are said in columns.py.

    near (order, rank): orders by drive there and back. centres: orders around which strings are
    taken. absent: orders not served, the first n[c.ABSENT] of it; key: what they are sorted by.
    truck, offer, guess: by truck and by offer; guess: money that an offer seems to take.
    """

    near: Whole
    centres: Whole
    n: Whole
    absent: Whole
    key: Floats
    truck: Whole
    offer: Whole
    guess: Floats


def new_hand(day: DayNumbers) -> Hand:
    """Memory for a day; every truck active, every order a centre."""
    orders, trucks = len(day.order), len(day.truck)
    place = day.order_at[:, c.PLACE]
    away = day.legs[0, :, :, c.DRIVE_MIN][np.ix_(place, place)]
    away = away + away.T
    np.fill_diagonal(away, -1.0)
    near = np.argsort(away, axis=1, kind="stable")[:, : min(orders, NEAR_ORDERS)]
    hand = Hand(
        near=np.ascontiguousarray(near.astype(np.int64)),
        centres=np.arange(orders, dtype=np.int64),
        n=np.zeros(3, dtype=np.int64),
        absent=np.zeros(orders + 1, dtype=np.int64),
        key=np.zeros(orders + 1),
        truck=np.zeros((trucks, 5), dtype=np.int64),
        offer=np.zeros((trucks, 3), dtype=np.int64),
        guess=np.zeros(trucks),
    )
    hand.truck[:, c.ACTIVE] = 1
    return hand


@compiled
def sequence_of(day: DayNumbers, work: Work, state: State, truck: int) -> int:
    """A truck's orders into work.row[c.SEQUENCE]; their number."""
    size = 0
    for at in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop != LUNCH and stop < day.order_at.shape[0]:
            work.row[c.SEQUENCE, size] = stop
            size += 1
    return size


@compiled
def put_sequence(
    day: DayNumbers, work: Work, state: State, truck: int, size: int, under: float
) -> bool:
    """Give a truck the sequence in `work` with refills and lunch at their best, if that costs less
    than `under`."""
    cost, stops = place_refills(day, work, truck, state.truck[truck, c.LOAD], size, under, KEPT)
    if cost == math.inf:
        return False
    return put_stops(day, work, state, truck, work.row[c.PLACED], stops) < math.inf


@merged
def put_less(day: DayNumbers, work: Work, state: State, hand: Hand, truck: int, size: int) -> None:
    """Give a truck work.sequence[:size], fewer orders than it had: the old stops without what is
    gone, and without refills that are not needed any more; refills put anew where that does not
    stand; all orders put in hand where nothing does."""
    if size == 0:
        state.truck[truck, c.SIZE] = 0
        state.money[truck, c.COST] = 0.0
    elif not _thin_out(day, work, state, hand, truck, size) and not put_sequence(
        day, work, state, truck, size, math.inf
    ):
        for at in range(size):
            take_in_hand(state, hand, work.row[c.SEQUENCE, at])
        state.truck[truck, c.SIZE] = 0
        state.money[truck, c.COST] = 0.0


@compiled
def _thin_out(day: DayNumbers, work: Work, state: State, hand: Hand, truck: int, size: int) -> bool:
    """Give a truck its old stops with only the orders of work.sequence[:size], which are in their
    old sequence; each refill goes that is dearer than none. False when that does not stand."""
    orders, load = day.order_at.shape[0], state.truck[truck, c.LOAD]
    stops, left, kept = work.row[c.TRIAL], 0, 0
    for at in range(state.truck[truck, c.SIZE]):
        stop = state.stops[truck, at]
        if stop == LUNCH or stop >= orders:
            stops[left] = stop
            left += 1
        elif kept < size and work.row[c.SEQUENCE, kept] == stop:
            stops[left] = stop
            left += 1
            kept += 1
    if kept < size:
        return False
    cost = price_stops(day, work, truck, load, stops, left)
    at = 0
    while at < left:
        if stops[at] < orders:
            at += 1
            continue
        refill = stops[at]
        for place in range(at, left - 1):
            stops[place] = stops[place + 1]
        without = price_stops(day, work, truck, load, stops, left - 1)
        if without < cost:
            cost = without
            left -= 1
            continue
        for place in range(left - 1, at, -1):
            stops[place] = stops[place - 1]
        stops[at] = refill
        at += 1
    if cost == math.inf or put_stops(day, work, state, truck, stops, left) == math.inf:
        return False
    if left > size:
        hand.truck[truck, c.UNTIDY] = True
    return True


@compiled
def take_in_hand(state: State, hand: Hand, order: int) -> None:
    """Count an order as absent."""
    state.truck_of[order] = -1
    hand.absent[hand.n[c.ABSENT]] = order
    hand.n[c.ABSENT] += 1


@merged
def ruin(day: DayNumbers, work: Work, state: State, hand: Hand) -> None:
    """Take strings of neighbouring orders out of a few trucks around one order."""
    served, out = 0, 0
    for truck in range(state.truck.shape[0]):
        if state.truck[truck, c.SIZE] > 0 and hand.truck[truck, c.ACTIVE]:
            served += state.truck[truck, c.SIZE]
            out += 1
    if out == 0:
        return
    longest = min(STRING_MOST, served / out)
    strings = int(np.random.random() * (4.0 * TAKEN_MEAN / (1.0 + longest) - 1.0) + 1.0)
    centre = hand.centres[np.random.randint(hand.centres.shape[0])]
    if hand.n[c.ABSENT] > 0 and np.random.random() < 0.1:
        centre = hand.absent[np.random.randint(hand.n[c.ABSENT])]
    taken = 0
    for rank in range(hand.near.shape[1]):
        if taken >= strings:
            break
        order = hand.near[centre, rank]
        truck = state.truck_of[order]
        if truck >= 0 and hand.truck[truck, c.ACTIVE] and not hand.truck[truck, c.TOUCHED]:
            _take_string(day, work, state, hand, truck, order, longest)
            taken += 1


@merged
def _take_string(
    day: DayNumbers, work: Work, state: State, hand: Hand, truck: int, order: int, longest: float
) -> None:
    """Take a string that holds `order` out of a truck; some in its middle may stay."""
    size = sequence_of(day, work, state, truck)
    at = 0
    while work.row[c.SEQUENCE, at] != order:
        at += 1
    length = min(size, int(np.random.random() * min(float(size), longest) + 1.0))
    stays = 0
    if 1 < length < size and np.random.random() < SPLIT_CHANCE:
        stays = 1
        while length + stays < size and np.random.random() < SPLIT_LONGER:
            stays += 1
    whole = length + stays
    first_most, first_least = min(at, size - whole), max(0, at - whole + 1)
    first = first_least + np.random.randint(first_most - first_least + 1)
    stay_from = first + 1 + np.random.randint(length - 1) if stays > 0 else size
    left = 0
    for place in range(size):
        gone = first <= place < first + whole
        if gone and not stay_from <= place < stay_from + stays:
            take_in_hand(state, hand, work.row[c.SEQUENCE, place])
        else:
            work.row[c.SEQUENCE, left] = work.row[c.SEQUENCE, place]
            left += 1
    hand.truck[truck, c.TOUCHED] = True
    put_less(day, work, state, hand, truck, left)


@merged
def recreate(day: DayNumbers, work: Work, state: State, hand: Hand) -> None:
    """Put absent orders back, each at its cheapest; what costs more than its price stays out."""
    _sort_absent(day, hand)
    absent, left = hand.n[c.ABSENT], 0
    for place in range(absent):
        order = hand.absent[place]
        if not insert(day, work, state, hand, order):
            hand.absent[left] = order
            left += 1
    hand.n[c.ABSENT] = left


@merged
def tidy(day: DayNumbers, work: Work, state: State, hand: Hand) -> None:
    """Put refills and lunch anew on the trucks of this step, where that saves money."""
    for truck in range(state.truck.shape[0]):
        if hand.truck[truck, c.UNTIDY]:
            hand.truck[truck, c.UNTIDY] = False
            size = sequence_of(day, work, state, truck)
            put_sequence(day, work, state, truck, size, state.money[truck, c.COST] - GAIN)


@compiled
def _sort_absent(day: DayNumbers, hand: Hand) -> None:
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


@merged
def insert(day: DayNumbers, work: Work, state: State, hand: Hand, order: int) -> bool:
    """Serve an order where that costs least, if it costs less than its price."""
    offers = _offers(day, work, state, hand, order)
    best, best_truck, best_size = day.order[order, c.PRICE], -1, 0
    for _ in range(OFFERS_TRIED):
        pick = -1
        for place in range(offers):
            if hand.guess[place] < best and (pick < 0 or hand.guess[place] < hand.guess[pick]):
                pick = place
        if pick < 0:
            break
        truck = hand.offer[pick, c.OFFER_TRUCK]
        more, size = _price_offer(day, work, state, hand, order, pick, best)
        hand.guess[pick] = math.inf
        if more < best:
            best, best_truck, best_size = more, truck, size
            for at in range(size):
                work.row[c.TRIAL, at] = work.row[c.PLACED, at]
    if best_truck < 0:
        return False
    put_stops(day, work, state, best_truck, work.row[c.TRIAL], best_size)
    state.truck_of[order] = best_truck
    hand.truck[best_truck, c.TOUCHED] = True
    return True


@compiled
def _offers(day: DayNumbers, work: Work, state: State, hand: Hand, order: int) -> int:
    """Guesses of the trucks near an order and of one idle truck of each kind; their number."""
    hand.n[c.STAMP] += 1
    stamp, offers = hand.n[c.STAMP], 0
    price = day.order[order, c.PRICE]
    for rank in range(min(TRUCKS_NEAR, hand.near.shape[1])):
        truck = state.truck_of[hand.near[order, rank]]
        if truck >= 0 and hand.truck[truck, c.ACTIVE] and hand.truck[truck, c.SEEN] != stamp:
            hand.truck[truck, c.SEEN] = stamp
            offers = _add_offer(day, work, state, hand, truck, order, price, offers)
    for truck in range(state.truck.shape[0]):
        if state.truck[truck, c.SIZE] > 0 or not hand.truck[truck, c.ACTIVE]:
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
    day: DayNumbers,
    work: Work,
    state: State,
    hand: Hand,
    truck: int,
    order: int,
    price: float,
    offers: int,
) -> int:
    guess, gap, cut = guess_gap(day, work, state, truck, order, BLINK, price)
    if gap < 0:
        return offers
    hand.offer[offers, c.OFFER_TRUCK], hand.guess[offers] = truck, guess
    hand.offer[offers, c.OFFER_GAP], hand.offer[offers, c.OFFER_CUT] = gap, cut
    return offers + 1


@merged
def _price_offer(
    day: DayNumbers,
    work: Work,
    state: State,
    hand: Hand,
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
            work.row[c.PLACED, at] = state.stops[truck, at]
        work.row[c.PLACED, gap] = order
        for at in range(gap, size):
            work.row[c.PLACED, at + 1] = state.stops[truck, at]
        cost = price_stops(day, work, truck, load, work.row[c.PLACED], size + 1)
        if cost < math.inf:
            if size > 0 and (day.truck[truck, c.LUNCH_MIN] > 0.0 or has_refill(day, state, truck)):
                hand.truck[truck, c.UNTIDY] = True
            return cost - old, size + 1
    elif hand.offer[pick, c.OFFER_CUT] >= 0:
        placed = _with_refill(day, work, state, truck, order, gap, hand.offer[pick, c.OFFER_CUT])
        cost = price_stops(day, work, truck, load, work.row[c.PLACED], placed)
        if cost < math.inf:
            hand.truck[truck, c.UNTIDY] = True
            return cost - old, placed
    count = 0
    for at in range(size + 1):
        if at == gap:
            work.row[c.SEQUENCE, count] = order
            count += 1
        if at < size:
            stop = state.stops[truck, at]
            if stop != LUNCH and stop < day.order_at.shape[0]:
                work.row[c.SEQUENCE, count] = stop
                count += 1
    cost, placed = place_refills(day, work, truck, load, count, old + under, KEPT)
    return cost - old, placed


@compiled
def _with_refill(
    day: DayNumbers, work: Work, state: State, truck: int, order: int, gap: int, cut: int
) -> int:
    """A truck's stops with an order in `gap` and one more refill, into work.placed; their number.
    cut: twice the gap of the refill, and 1 more when it comes after the order in the same gap."""
    orders, size = day.order_at.shape[0], state.truck[truck, c.SIZE]
    home = day.site_place[day.truck_at[truck, c.YARD]]
    here, there, mix = home, day.order_at[order, c.PLACE], day.order_at[order, c.MIX]
    profile, placed = day.truck_at[truck, c.PROFILE], 0
    for at in range(size + 1):
        after = state.place[truck, at] if at < size else home
        refill_here = at == cut // 2
        if refill_here and (at != gap or cut % 2 == 0):
            target = there if at == gap else after
            site = refill_site(day, profile, truck, here, target, mix)
            work.row[c.PLACED, placed] = orders + site
            placed += 1
        if at == gap:
            work.row[c.PLACED, placed] = order
            placed += 1
            if refill_here and cut % 2 == 1:
                site = refill_site(day, profile, truck, there, after, mix)
                work.row[c.PLACED, placed] = orders + site
                placed += 1
        if at < size:
            work.row[c.PLACED, placed] = state.stops[truck, at]
            placed += 1
        here = after
    return placed


@compiled
def has_refill(day: DayNumbers, state: State, truck: int) -> bool:
    """Whether a truck stops to refill."""
    for at in range(state.truck[truck, c.SIZE]):
        if state.stops[truck, at] >= day.order_at.shape[0]:
            return True
    return False


@merged
def reload_truck(
    day: DayNumbers, work: Work, state: State, hand: Hand, truck: int, load: int
) -> None:
    """Give a truck another loading; orders that it can then not do are put in hand."""
    size = sequence_of(day, work, state, truck)
    state.truck[truck, c.LOAD] = load
    hand.truck[truck, c.TOUCHED] = True
    left = 0
    for at in range(size):
        order = work.row[c.SEQUENCE, at]
        if can_do(day, truck, load, order):
            work.row[c.SEQUENCE, left] = order
            left += 1
        else:
            take_in_hand(state, hand, order)
    put_less(day, work, state, hand, truck, left)
