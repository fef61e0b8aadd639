"""Single functions of the search for Python to call: for tests, and for whoever looks into it.

The search itself has one door, anneal: each door is compiled with all that is behind it.
"""

from __future__ import annotations

from planner.routing.compiled.day_arrays import DayNumbers, Whole
from planner.routing.compiled.machine_code import entry
from planner.routing.compiled.price import can_do, price_stops
from planner.routing.compiled.refills import place_refills
from planner.routing.compiled.scratch import Work


@entry
def ask_can_do(day: DayNumbers, truck: int, load: int, order: int) -> bool:
    """can_do()."""
    return can_do(day, truck, load, order)


@entry
def ask_price(day: DayNumbers, work: Work, truck: int, load: int, stops: Whole, size: int) -> float:
    """price_stops()."""
    return price_stops(day, work, truck, load, stops, size)


@entry
def ask_refills(
    day: DayNumbers, work: Work, truck: int, load: int, size: int, under: float, kept: int
) -> tuple[float, int]:
    """place_refills()."""
    return place_refills(day, work, truck, load, size, under, kept)
