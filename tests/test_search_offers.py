"""Which trucks an order is offered to: the least guesses of all, in order.

Outside reference: trying every truck with no limit to its guess (ours, no pruning between trucks).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.compiled.scratch import new_scratch
from planner.routing.search.insert import guess_gap
from planner.routing.search.recreate import offers_of
from planner.routing.search.ruin_state import new_ruin_state
from planner.routing.search.state import new_state
from planner.routing.search.trucks import GAIN
from planner.routing.tuning import Tuning
from tests.routing_cases import random_problem
from tests.test_search_exchange import spread


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("most", [1, 2, 4, 40])
def test_the_least_guesses_of_all_trucks_are_offered(seed: int, most: int) -> None:
    tuning = Tuning(search_offers=most, search_blink=0.0)
    problem = random_problem(seed, orders=24, trucks=6, limited=seed % 2 == 1)
    problem = replace(problem, tuning=tuning)
    day = day_arrays(problem)
    work, hand = new_scratch(day, len(problem.orders)), new_ruin_state(day, 24)
    state = spread(problem, new_state(day, work), list(range(0, 24, 2)))
    work.out[c.LENIENCE] = 0.5
    offered = 0
    for order in range(1, 24, 2):
        # Trucks that differ by name only are one kind while they are idle.
        trucks = [
            truck
            for truck in range(6)
            if state.truck[truck, c.SIZE] > 0
            or not any(
                state.truck[other, c.SIZE] == 0
                and day.truck_at[other, c.LIKENESS] == day.truck_at[truck, c.LIKENESS]
                for other in range(truck)
            )
        ]
        price = day.order[order, c.PRICE]
        every = [guess_gap(day, work, state, truck, order, 0.0, price)[:2] for truck in trucks]
        least = sorted(guess for guess, gap in every if gap >= 0)[:most]
        found = offers_of(day, work, state, hand, order)
        assert hand.guess[:found].tolist() == pytest.approx(least, abs=2 * GAIN)
        offered += found
    assert offered > 10
