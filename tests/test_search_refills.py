"""Compiled placement of refills and lunch against plain enumeration of all placements.

Outside reference: every placement of up to four stops, priced by a recursion that is written apart
from the engines (tests/test_routing_refills.py, ours).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.routing.exact.refills import place_refills as plain_place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from tests.random_problems import problem_of_random_day
from tests.test_routing_refills import best_by_trying_all, case

pytest.importorskip("numba")

from planner.routing.compiled.columns import FIRST_LOAD, PLACED, SEQUENCE
from planner.routing.compiled.day_arrays import day_numbers
from planner.routing.compiled.python_api import ask_price as price_stops
from planner.routing.compiled.python_api import ask_refills as place_refills
from planner.routing.compiled.refills import KEPT
from planner.routing.compiled.scratch import new_work


@pytest.mark.parametrize(
    ("limited", "out", "wish", "cases"),
    [
        (False, False, False, 200),
        (True, False, False, 150),
        (False, True, True, 100),
        (True, True, False, 60),
    ],
)
def test_placement_against_trying_all(limited: bool, out: bool, wish: bool, cases: int) -> None:
    """Five hundred cases: proved (kept = 0) and as the search does it, which may be dearer. out:
    the truck is out already; wish: with the prices of wishes."""
    solved = refilled = dearer = 0
    for seed in range(cases):
        problem, day, sequence = case(seed, limited, out=out, wish=wish)
        if seed >= 30:
            # Enumerating four orders takes a second each, three a tenth of that.
            sequence = sequence[:3]
        if not sequence:
            continue
        numbers = day_numbers(problem)
        load = int(numbers.truck_at[0, FIRST_LOAD]) + day.truck.loadings.index(day.loading)
        expected = best_by_trying_all(problem, day, sequence, pairs=limited)
        for kept in (0, KEPT):
            work = new_work(numbers, 20_000)
            work.row[SEQUENCE, : len(sequence)] = sequence
            cost, size = place_refills(numbers, work, 0, load, len(sequence), math.inf, kept)
            if kept == 0 or math.isinf(expected):
                assert cost == pytest.approx(expected, abs=1e-6), (seed, sequence)
            dearer += cost > expected + 1e-6
            if math.isinf(cost):
                continue
            stops = work.row[PLACED, :size].copy()
            assert day.cost(stops.tolist()) == pytest.approx(cost, abs=1e-6), (seed, stops)
            assert price_stops(numbers, work, 0, load, stops, size) == pytest.approx(cost)
            solved += 1
            refilled += bool((stops >= len(problem.orders)).any())
    assert solved > 0.6 * cases
    assert refilled > 0.25 * cases
    # Of a truck that is out among sites that make some mixes only, fewer ways are looked at.
    assert dearer <= (0.05 if out and limited else 0.02) * solved


def test_placement_on_random_days_agrees_with_the_plain_programme() -> None:
    """Longer sequences than can be enumerated; both keep all labels that may matter."""
    compared = 0
    for seed in range(30):
        problem = problem_of_random_day(seed, "medium")
        if problem is None:
            continue
        numbers, tables = day_numbers(problem), DayTables(problem)
        work = new_work(numbers, 200_000)
        for row, truck in enumerate(problem.trucks):
            day = TruckDay(tables, row, truck.loadings[0])
            can = [order for order in range(len(problem.orders)) if day.can[order]]
            for first in range(0, max(1, len(can) - 6), 3):
                sequence = can[first : first + 7]
                if not sequence:
                    continue
                expected = plain_place_refills(day, sequence, labels_kept=None)
                work.row[SEQUENCE, : len(sequence)] = sequence
                load = int(numbers.truck_at[row, FIRST_LOAD])
                cost, size = place_refills(numbers, work, row, load, len(sequence), math.inf, 0)
                if expected is None:
                    assert math.isinf(cost)
                    continue
                assert cost == pytest.approx(expected[0], abs=1e-6)
                array = np.array(work.row[PLACED, :size])
                assert day.cost(array.tolist()) == pytest.approx(cost, abs=1e-6)
                compared += 1
    assert compared > 60
