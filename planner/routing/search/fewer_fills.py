"""Whether the same trucks and loadings could do a day's orders with one fill less, by CP-SAT.

Which trucks and fills a day has is settled while an annealing is hot; a plan with a fill too many
is never left again. Gallons alone tell such plans from others.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from math import ceil, floor
from typing import Any

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats
from planner.routing.loading.assign import solved
from planner.routing.problem import StopToken
from planner.routing.search.parallel import Searcher

HUNDREDTHS = 100
"""Of gallons and minutes, in the model: needs rounded up, room rounded down."""


def saves_a_fill(
    day: DayArrays,
    loads: Sequence[int],
    stops: Sequence[Sequence[int]],
    effort: float,
    seed: int,
    stop: StopToken,
) -> bool:
    """Whether the orders that a plan does could be given to its trucks, loaded as they are, so that
    one departure or refill less holds their gallons of each mix. Minutes are told roughly (each
    order by the least detour it is to the truck's present orders), windows not at all. False, too,
    where CP-SAT's deterministic time `effort` is too short to know, and on a day that has begun:
    what is on board then is no fill."""
    if day.truck_at[:, c.IS_OUT].any():
        return False
    model = _Fills(day, loads, stops)
    return solved(model.model, effort, seed, stop) is not None


def dearer_fills(day: DayArrays, money: float) -> DayArrays:
    """The day with so much more to pay for each departure and each refill."""
    truck, load = day.truck.copy(), day.load.copy()
    truck[:, c.PER_REFILL] += money
    load[:, c.DAY_COST] += money
    return day._replace(truck=truck, load=load)


def anneal_with_dearer_fills(
    searchers: Sequence[Searcher], run: Callable[[float, float, float, float], None], heat: float
) -> None:
    """Two searches anneal from their best plans, at first with every fill dearer. run: both
    through a part of an annealing, from one share of it to another, with so much of the steps, and
    by the clock until so much of the time is over. heat: as in Searcher.run."""
    tuning, plain = searchers[0].tuning, searchers[0].day
    begin, until = tuning.search_last_from, tuning.search_again_dearer_until
    middle = begin + (1.0 - begin) * until
    dear = dearer_fills(plain, tuning.search_again_dearer * heat)
    for searcher in searchers:
        searcher.priced_by(dear)
    run(begin, middle, until, until)
    for searcher in searchers:
        searcher.priced_by(plain)
    rest = (1.0 - until) / 2.0
    run(middle, (middle + 1.0) / 2.0, rest, until + rest)
    better, worse = sorted(searchers, key=lambda searcher: searcher.cost)
    worse.learn(better)
    run((middle + 1.0) / 2.0, 1.0, rest, 1.0)


class _Fills:
    """The model: which truck does an order, and how often each is filled."""

    def __init__(
        self, day: DayArrays, loads: Sequence[int], stops: Sequence[Sequence[int]]
    ) -> None:
        # Half a second to import: only where it is asked.
        from ortools.sat.python import cp_model

        self.day, self.loads = day, loads
        count = len(day.order)
        self.sequences = [[stop for stop in one if 0 <= stop < count] for one in stops]
        refills = [sum(stop >= count for stop in one) for one in stops]
        # CP-SAT's classes are not typed for strict checking; Any goes no further than here.
        self.model: Any = cp_model.CpModel()
        self.gives: dict[tuple[int, int], Any] = {}
        now = sum(1 + more for one, more in zip(self.sequences, refills, strict=True) if one)
        self.fills = [self.model.new_int_var(0, max(0, now - 1), "") for _ in loads]
        self.model.add(sum(self.fills) <= now - 1)
        for truck in range(len(loads)):
            self._add_truck(truck)
        for order in itertools.chain(*self.sequences):
            self.model.add_exactly_one(
                [
                    self.gives[key]
                    for truck in range(len(loads))
                    if (key := (order, truck)) in self.gives
                ]
            )

    def _add_truck(self, truck: int) -> None:
        day, model, load = self.day, self.model, self.loads[truck]
        gal: dict[int, list[Any]] = {}
        minutes: list[Any] = []
        row = day.truck[truck]
        spare = row[c.LATEST] - row[c.SHIFT_START] - row[c.LUNCH_MIN]
        spare -= self._drive_min(truck)
        for order in itertools.chain(*self.sequences):
            mix = day.order_at[order, c.MIX]
            line = day.load_line[load, mix]
            if line < 0 or day.wish[order, truck] == np.inf:
                continue
            given = self.gives[order, truck] = model.new_bool_var("")
            mine = order in self.sequences[truck]
            model.add_hint(given, mine)
            need = day.order[order, c.GAL] * day.margin
            gal.setdefault(int(mix), []).append(ceil(need * HUNDREDTHS) * given)
            detour = self._detour_min(truck, order)
            if mine:
                spare += detour
            busy = day.order[order, c.GAL] / day.line[truck, line, c.GUN] + day.setup_min + detour
            minutes.append(ceil(busy * HUNDREDTHS) * given)
        for mix, used in gal.items():
            usable = floor(day.load_usable[load, mix] * HUNDREDTHS)
            model.add(sum(used) <= usable * self.fills[truck])
        refill = ceil(day.least_setup_min * HUNDREDTHS)
        # The departure's fill takes no time here.
        model.add(sum(minutes) + refill * self.fills[truck] <= floor(spare * HUNDREDTHS) + refill)

    def _drive_min(self, truck: int) -> float:
        return float(sum(self._legs(truck)[a, b] for a, b in self._pairs(truck, -1)))

    def _detour_min(self, truck: int, order: int) -> float:
        """The least by which an order makes the way of a truck's other orders longer."""
        legs, here = self._legs(truck), self.day.order_at[order, c.PLACE]
        return float(
            min(legs[a, here] + legs[here, b] - legs[a, b] for a, b in self._pairs(truck, order))
        )

    def _legs(self, truck: int) -> Floats:
        profile = self.day.truck_at[truck, c.PROFILE]
        return self.day.legs[profile, :, :, c.DRIVE_MIN]

    def _pairs(self, truck: int, without: int) -> Iterator[tuple[int, int]]:
        """Places next to each other on the way of a truck's orders, without one of them."""
        day = self.day
        yard = day.site_place[day.truck_at[truck, c.YARD]]
        way = [day.order_at[one, c.PLACE] for one in self.sequences[truck] if one != without]
        return itertools.pairwise([yard, *way, yard])
