"""What machine code takes for granted of the search's tables: they have no gaps, and no index is
negative or beyond the end, where numpy would read from the end or complain.

Outside reference: numpy's own indexing, in the same functions as plain Python.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.routing.compiled.day_arrays import DayArrays, day_arrays
from planner.routing.compiled.python_api import Arrays
from planner.routing.compiled.scratch import CAREFUL, PROVE, QUICK, new_scratch
from planner.routing.search.anneal import anneal
from planner.routing.search.ruin_state import new_ruin_state
from planner.routing.search.state import new_state
from planner.routing.tuning import Tuning
from tests.few import few
from tests.routing_cases import gone_out, random_problem, wished


class Strict(np.ndarray[Any, Any]):
    """An array that knows no index from the end."""

    def __getitem__(self, index: Any) -> Any:
        at_least_zero(index)
        return super().__getitem__(index)

    def __setitem__(self, index: Any, value: Any) -> None:
        at_least_zero(index)
        super().__setitem__(index, value)


def at_least_zero(index: Any) -> None:
    """Raises IndexError for a negative index."""
    numbers = index if isinstance(index, tuple) else (index,)
    if any(number < 0 for number in numbers):
        raise IndexError(f"counted from the end: {index}")


def strict(arrays: Arrays) -> Arrays:
    """The same memory as arrays that know no index from the end."""
    whole = {
        name: value.view(Strict)
        for name, value in arrays._asdict().items()
        if isinstance(value, np.ndarray)
    }
    assert all(value.flags.c_contiguous for value in whole.values())
    return arrays._replace(**whole)


def searched(day: DayArrays, kept: int, steps: int, seed: int) -> float:
    """Cost after so many steps of the plain functions from an empty plan."""
    work = new_scratch(day, len(day.order), kept)
    hand = strict(new_ruin_state(day, Tuning().search_near_orders))
    now, trial, best = (strict(new_state(day, work)) for _ in range(3))
    told = strict(day), strict(work), hand, now, trial, best
    return anneal(*told, True, steps, seed, 50.0, 1.0, 0.3, 0.5)


def test_an_index_from_the_end_is_seen() -> None:
    with pytest.raises(IndexError, match="from the end"):
        strict(day_arrays(random_problem(0))).order[0, -1]


@pytest.mark.parametrize("seed", range(few(4, 24)))
def test_the_search_counts_from_the_start(seed: int) -> None:
    problem = random_problem(seed, orders=7 + seed % 6, trucks=2 + seed % 2, limited=seed % 3 == 0)
    if seed % 4 == 1:
        problem = wished(problem, seed)
    if seed % 4 == 2:
        problem = gone_out(problem, seed)
    day = day_arrays(problem)
    for kept in (QUICK, CAREFUL, PROVE):
        steps = 2 if kept == PROVE else 8
        assert searched(day, kept, steps, seed) < np.inf
