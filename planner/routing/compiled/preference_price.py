"""Prices of what crews and customers would like: exact/route_preferences.py, compiled."""

import math

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays, Floats, Whole
from planner.routing.compiled.machine_code import compiled
from planner.routing.exact.route_cost import LUNCH, SLACK_MIN


@compiled
def wish_of(day: DayArrays, truck: int, stops: Whole, size: int) -> float:
    """Price of these orders on this truck, in whatever sequence; refills and lunch do not count."""
    orders, count, wish, x, y = day.order.shape[0], 0, 0.0, 0.0, 0.0
    for at in range(size):
        stop = stops[at]
        if stop != LUNCH and stop < orders:
            wish += day.wish[stop, truck]
            x += day.order[stop, c.X_MILES]
            y += day.order[stop, c.Y_MILES]
            count += 1
    if day.truck[truck, c.PER_MILE_APART] > 0.0 and count > 0:
        x, y = x / count, y / count
        for at in range(size):
            stop = stops[at]
            if stop != LUNCH and stop < orders:
                # The square root is the same number in machine code; hypot need not be.
                east, north = day.order[stop, c.X_MILES] - x, day.order[stop, c.Y_MILES] - y
                wish += day.truck[truck, c.PER_MILE_APART] * math.sqrt(east * east + north * north)
    return float(wish)


@compiled
def told_price(order: Floats, row: int, begin: float) -> float:
    """Price of beginning an order then, against what its customer was told."""
    late = begin > order[row, c.TOLD_TO] + SLACK_MIN or begin < order[row, c.TOLD_FROM] - SLACK_MIN
    return float(order[row, c.TOLD_PRICE]) if late else 0.0
