"""Two searches side by side that exchange their best plans.

Two threads of one process: compiled code holds no lock of Python's, so both cores work, and there
is nothing to start, to send or to leave behind. What each search does depends on its seed and its
number of steps only, so an effort by count gives the same plan on one core or two.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import in_machine_code
from planner.routing.compiled.scratch import new_scratch
from planner.routing.search.anneal import anneal
from planner.routing.search.recombine import SeenDays
from planner.routing.search.ruin_state import new_ruin_state
from planner.routing.search.state import SearchState, new_state
from planner.routing.tuning import Tuning

MOST_OF_A_TRUCK = 120
"""Orders that one truck is given at most: ten hours of five minutes each."""
LOOK_S = 0.05
FIRST_RATE = 2000.0
"""Steps a second that a search is taken to make before it has been seen."""


@dataclass(frozen=True)
class SearchLeg:
    """A part of an annealing: from one share of it to another. steps: how many, until: when the
    clock says it ends; with both, whichever comes first. reload_chance: of another loading for a
    truck, per step."""

    begin: float
    end: float
    steps: int | None
    until: float | None
    reload_chance: float


class Searcher:
    """One search with its memory. best: cheapest plan seen, cost: its money; seen: truck-days of
    the plans between its blocks, the latest seen_most; rate: steps a second lately."""

    def __init__(self, day: DayArrays, seed: int, tuning: Tuning, seen_most: int = 0) -> None:
        self.day, self.seed, self.tuning = day, seed, tuning
        most = min(len(day.order), MOST_OF_A_TRUCK)
        self.work, self.hand = (
            new_scratch(day, most),
            new_ruin_state(day, tuning.search_near_orders),
        )
        self.now, self.trial = new_state(day, self.work), new_state(day, self.work)
        self.best = new_state(day, self.work)
        self.seen = SeenDays(day, seen_most)
        self.blocks, self.steps = 0, 0
        self.rate = FIRST_RATE
        self._anneal = in_machine_code(anneal)

    @property
    def cost(self) -> float:
        """Money of the best plan with the prices of orders left out."""
        best = self.best
        left_out = self.day.order[best.truck_of < 0, c.PRICE]
        return float(best.money[:, c.COST].sum() + left_out.sum())

    def start_from(self, loads: Sequence[int], stops: Sequence[Sequence[int]]) -> None:
        """Forget all and begin with these loading rows and stops (or only orders) per truck."""
        now = self.now
        now.truck[:, c.LOAD] = loads
        now.truck[:, c.SIZE] = [len(one) for one in stops]
        for truck, one in enumerate(stops):
            now.stops[truck, : len(one)] = one
        self._call(True, 0, 1.0, 1.0, 0.0, 0.0)

    def learn(self, other: Searcher) -> None:
        """Go on from another search's best plan."""
        self.now.truck[:] = other.best.truck
        self.now.stops[:] = other.best.stops
        self._call(True, 0, 1.0, 1.0, 0.0, 0.0)

    def priced_by(self, day: DayArrays) -> None:
        """Go on from the best plan at the prices of that day, which differs in nothing else."""
        loads, stops, _ = plan_of(self)
        self.day = day
        self.start_from(loads, stops)

    def order_money(self) -> float:
        """What an order costs on the road, on average: money of the trucks without spraying and
        set-up, which are the same wherever it is done."""
        best, day = self.best, self.day
        served = np.flatnonzero(best.truck_of >= 0)
        if not len(served):
            return 1.0
        truck = best.truck_of[served]
        load = best.truck[truck, c.LOAD]
        line = day.load_line[load, day.order_at[served, c.MIX]]
        busy = day.order[served, c.GAL] / day.line[truck, line, c.GUN] + day.setup_min
        spent = float(best.money[:, c.COST].sum() - (busy * day.truck[truck, c.PAY]).sum())
        return max(1e-3, spent / len(served))

    def run(self, leg: SearchLeg, heat: float, stop: Callable[[], bool]) -> None:
        """Search through a leg. heat: money that shares of temperature are of."""
        begun, done = time.monotonic(), 0
        while not stop():
            if leg.steps is not None:
                if done >= leg.steps or (leg.until and time.monotonic() >= leg.until):
                    return
                steps = min(self.tuning.search_block_steps, leg.steps - done)
                first, last = done / leg.steps, (done + steps) / leg.steps
            else:
                assert leg.until is not None
                now, steps = time.monotonic(), self._steps_of(LOOK_S)
                if now >= leg.until:
                    return
                first = last = (now - begun) / max(1e-3, leg.until - begun)
            hot, cold = (
                heat
                * self.tuning.search_hot
                * (self.tuning.search_cold / self.tuning.search_hot)
                ** (leg.begin + share * (leg.end - leg.begin))
                for share in (first, last)
            )
            along = leg.begin + first * (leg.end - leg.begin)
            lenience = min(1.0, (1.0 - along) / (1.0 - self.tuning.search_lenient_until))
            self._block(steps, hot, cold, leg.reload_chance, lenience)
            done += steps

    def _steps_of(self, seconds: float) -> int:
        """Steps that take about so long."""
        return int(min(20_000, max(10, self.rate * seconds)))

    def _block(
        self, steps: int, hot: float, cold: float, reload_chance: float, lenience: float
    ) -> None:
        begun = time.monotonic()
        self._call(False, steps, hot, cold, reload_chance, lenience)
        if self.seen.most:
            self.seen.see(self.now)
            self.seen.see(self.best)
        self.blocks += 1
        self.steps += steps
        self.rate = steps / max(1e-6, time.monotonic() - begun)

    def _call(
        self,
        fresh: bool,
        steps: int,
        hot: float,
        cold: float,
        reload_chance: float,
        lenience: float,
    ) -> None:
        seed = (self.seed * 1_000_003 + self.blocks) % 2**32
        self._anneal(
            self.day,
            self.work,
            self.hand,
            self.now,
            self.trial,
            self.best,
            fresh,
            steps,
            seed,
            hot,
            cold,
            reload_chance,
            lenience,
        )


def run_together(
    searchers: Sequence[Searcher],
    legs: Sequence[SearchLeg],
    heat: float,
    stop: Callable[[], bool] = lambda: False,
    tell: Callable[[], None] = lambda: None,
    threads: int = 2,
) -> None:
    """Each search through its leg, on two cores where there are two. stop: asked between blocks;
    tell: called now and then from this thread. threads: at most so many at once."""
    workers = min(len(searchers), threads, os.cpu_count() or 1)
    with ThreadPoolExecutor(workers) as pool:
        waiting = {
            pool.submit(searcher.run, leg, heat, stop)
            for searcher, leg in zip(searchers, legs, strict=True)
        }
        while waiting:
            done, waiting = wait(waiting, timeout=0.2)
            for future in done:
                future.result()
            tell()


def plan_of(searcher: Searcher) -> tuple[list[int], list[list[int]], list[float]]:
    """Loading row, stop order and cost of each truck in a search's best plan."""
    best: SearchState = searcher.best
    sizes = best.truck[:, c.SIZE]
    return (
        best.truck[:, c.LOAD].tolist(),
        [best.stops[truck, :size].tolist() for truck, size in enumerate(sizes)],
        best.money[:, c.COST].tolist(),
    )
