"""What crews and customers would like, as prices beside the money of a truck-day.

The prices stand in planner.routing.problem.Preferences; TruckDay adds them to the cost of a stop
order, the compiled search does the same (planner/routing/compiled/preference_price.py).
"""

from collections.abc import Sequence
from math import hypot, inf

from planner.routing.problem import RoutingProblem

UNTOLD = (-inf, inf, 0.0)
"""An order of whose time the customer was told nothing: least and most begin, price."""


class RoutePreferences:
    """The wishes of a problem for one truck. refill: price of each refill stop; told: by order,
    least and most begin and the price of beginning outside, None when nobody was told anything;
    per_squared_min: price of paid minutes squared."""

    def __init__(self, problem: RoutingProblem, row: int) -> None:
        preferences = problem.preferences
        self.refill = preferences.per_refill
        self.per_squared_min = preferences.per_squared_hour / 3600.0
        self.told = told_spans(problem)
        self._price: list[float] | None = (
            None if preferences.truck_price is None else preferences.truck_price[row].tolist()
        )
        self._apart = preferences.per_mile_apart
        self._xy: list[list[float]] = []
        if self._apart > 0.0 and preferences.xy_miles is not None:
            places = [order.place for order in problem.orders]
            self._xy = preferences.xy_miles[places].tolist()

    def truck_prices(self) -> list[float]:
        """By order, the price of giving it to this truck; empty when there is no such wish."""
        return self._price or []

    def of_truck(self, order: int) -> float:
        """Price of giving an order to this truck."""
        return 0.0 if self._price is None else self._price[order]

    def of_orders(self, orders: Sequence[int]) -> float:
        """Price of these orders on this truck: it is not theirs, and they lie apart."""
        wish = 0.0
        if self._price is not None:
            wish += sum(self._price[order] for order in orders)
        if self._xy and orders:
            points = [self._xy[order] for order in orders]
            middle_x = sum(x for x, _ in points) / len(points)
            middle_y = sum(y for _, y in points) / len(points)
            wish += self._apart * sum(hypot(x - middle_x, y - middle_y) for x, y in points)
        return wish


def told_spans(problem: RoutingProblem) -> list[tuple[float, float, float]] | None:
    """By order the least and most begin that its customer was told, and the price of beginning
    outside; None when nobody was told anything."""
    preferences = problem.preferences
    if preferences.told is None or not any(preferences.told):
        return None
    return [
        UNTOLD if span is None else (span.open_min, span.close_min, price)
        for span, price in zip(preferences.told, preferences.told_price or (), strict=True)
    ]
