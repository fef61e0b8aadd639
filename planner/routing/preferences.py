"""What crews and customers would like, taken from settings and properties as prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.orders import Order
from planner.roads.sphere import FT_PER_DEG, FT_PER_MILE
from planner.routing.problem import Preferences


def preferences_of(
    day: Day,
    due: Sequence[Order],
    places: Sequence[str],
    kept: Mapping[str, str],
    told: Mapping[str, Window] = MappingProxyType({}),
) -> Preferences:
    """The day's preferences. due: the orders to route, in the problem's order; places: ids of
    sites and properties, in the order of the matrices' rows. kept: order id -> the truck that it
    had in an earlier plan; orders that are not in it keep none. told: order id -> the span in which
    its customer expects the crew to begin."""
    settings = day.workbook.settings
    return Preferences(
        truck_price=_truck_price(day, due, kept),
        told=tuple(told.get(order.order_id) for order in due) if told else None,
        told_price=(settings.told_price,) * len(due) if told else None,
        per_refill=settings.refill_price,
        per_squared_hour=settings.balance_price,
        per_mile_apart=settings.compact_price,
        xy_miles=flat_miles(day, places),
    )


def _truck_price(
    day: Day, due: Sequence[Order], kept: Mapping[str, str]
) -> NDArray[np.float64] | None:
    book = day.workbook
    price = np.zeros((len(book.trucks), len(due)))
    names = list(book.trucks)
    for column, order in enumerate(due):
        usual = book.properties[order.property_id].usual_truck
        for wanted, each in (
            (usual, book.settings.usual_truck_price),
            (kept.get(order.order_id), book.settings.keep_price),
        ):
            # What no truck in service can fulfill would be paid whatever is planned.
            if wanted in book.trucks:
                price[:, column] += [0.0 if name == wanted else each for name in names]
    return price if price.any() else None


def flat_miles(day: Day, places: Sequence[str]) -> NDArray[np.float64]:
    """East and north of the places' middle in miles, array (place, 2): a flat map, good to a few
    feet in a mile over a branch's area."""
    book = day.workbook
    points = [book.sites.get(name) or book.properties[name] for name in places]
    lat = np.array([point.lat for point in points])
    lon = np.array([point.lon for point in points])
    if not len(points):
        return np.zeros((0, 2))
    mile_deg = FT_PER_DEG / FT_PER_MILE
    east = (lon - lon.mean()) * np.cos(np.radians(lat.mean())) * mile_deg
    return np.column_stack((east, (lat - lat.mean()) * mile_deg))
