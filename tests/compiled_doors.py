"""Single compiled functions for tests to call, as plain Python or as machine code."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Any

from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import entry, in_machine_code
from planner.routing.compiled.price import can_do, price_stops
from planner.routing.compiled.python_api import as_views
from planner.routing.compiled.scratch import Scratch, new_scratch


@entry
def ask_can_do(day: DayArrays, truck: int, load: int, order: int) -> bool:
    """can_do()."""
    return can_do(day, truck, load, order)


@entry
def ask_price(day: DayArrays, work: Scratch, truck: int, load: int, size: int) -> float:
    """price_stops() of work.trial."""
    return price_stops(day, work, truck, load, work.trial, size)


class Doors:
    """can_do() and price_stops() of a day. compiled: as machine code."""

    def __init__(self, arrays: DayArrays, *, compiled: bool) -> None:
        work = new_scratch(arrays, len(arrays.order))
        self.most = work.stops_most
        self._stops = work.trial
        view: Callable[[Any], Any] = (lambda same: same) if compiled else as_views
        self._day, self._work = view(arrays), view(work)
        self._can = in_machine_code(ask_can_do) if compiled else can_do
        self._price = in_machine_code(ask_price) if compiled else ask_price

    def can_do(self, truck: int, load: int, order: int) -> bool:
        """Whether a truck so loaded may do an order."""
        return bool(self._can(self._day, truck, load, order))

    def price(self, truck: int, load: int, stops: list[int]) -> float:
        """Cost of a stop order."""
        assert len(stops) <= self.most < inf
        self._stops[: len(stops)] = stops
        return self._price(self._day, self._work, truck, load, len(stops))
