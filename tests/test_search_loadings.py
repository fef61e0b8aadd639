"""Another loading of a truck that the search tries.

Outside reference: every loading compared with numpy.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.search.trucks import most_alike_loading
from planner.routing.tuning import Tuning
from tests.routing_cases import random_problem

ENOUGH = 8_000
"""Draws, so that among so few loadings each is seen."""


def test_of_many_random_loadings_the_most_alike_is_taken() -> None:
    problem = random_problem(8, orders=14, trucks=3)
    tuned = replace(problem, tuning=Tuning(search_alike_loadings=ENOUGH))
    day = day_arrays(tuned)
    for truck in range(len(problem.trucks)):
        first, count = day.truck_at[truck, [c.FIRST_LOAD, c.LOADS]]
        own = np.arange(first, first + count)
        assert count > 2
        for load in own:
            away = np.abs(day.load_usable[own] - day.load_usable[load]).sum(axis=1)
            away[own == load] = np.inf
            found = most_alike_loading(day, truck, load)
            assert away[found - first] == away.min()


def test_a_truck_with_one_loading_has_no_other() -> None:
    problem = random_problem(8, orders=14, trucks=1)
    only = replace(problem.trucks[0], loadings=problem.trucks[0].loadings[:1])
    day = day_arrays(replace(problem, trucks=(only,)))
    assert most_alike_loading(day, 0, int(day.truck_at[0, c.FIRST_LOAD])) == -1
