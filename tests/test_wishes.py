"""Preferences of crews and customers as prices: worked by hand on the small day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.day.day import Day
from planner.roads.sphere import FT_PER_MILE, great_circle_ft
from planner.routing.build import flat_miles, preferences_of
from tests.days import small_day


def with_usual(day: Day, usual: dict[str, str], **settings: object) -> Day:
    book = day.workbook
    homes = {
        name: replace(home, usual_truck=usual.get(name)) for name, home in book.properties.items()
    }
    changed = replace(
        book,
        properties=homes,
        settings=replace(book.settings, **settings),  # type: ignore[arg-type]
    )
    return replace(day, workbook=changed)


def test_no_wish_is_no_price() -> None:
    day = small_day()
    wishes = preferences_of(day, list(day.orders.values()), ["Y1", "P1"], {})
    assert wishes.truck_price is None
    assert (wishes.per_refill, wishes.per_squared_hour, wishes.per_mile_apart) == (0, 0, 0)
    assert wishes.told is None


def test_another_truck_than_the_usual_one_or_yesterdays_costs() -> None:
    day = with_usual(small_day(), {"P1": "T2", "P3": "T9"}, usual_truck_price=10.0)
    due = [day.orders[name] for name in ("O1", "O2", "O3", "O9")]
    wishes = preferences_of(day, due, ["Y1"], {"O2": "T1", "O9": "T1", "O1": "T7"})
    assert wishes.truck_price is not None
    # O1 and O9 lie at P1 (usual truck T2, 10); O2 and O9 had T1 in the earlier plan (25). T9 and T7
    # are not in service: nobody could fulfill that.
    assert wishes.truck_price.tolist() == [[10.0, 0.0, 0.0, 10.0], [0.0, 25.0, 0.0, 25.0]]


def test_prices_come_from_the_settings() -> None:
    day = with_usual(small_day(), {}, refill_price=2.0, balance_price=0.5, compact_price=3.0)
    wishes = preferences_of(day, [], ["Y1"], {})
    assert (wishes.per_refill, wishes.per_squared_hour, wishes.per_mile_apart) == (2.0, 0.5, 3.0)


def test_flat_miles_are_those_of_the_globe() -> None:
    # Against the haversine formula on the mean sphere (planner.roads.sphere).
    day = small_day()
    places = [*day.workbook.sites, *day.workbook.properties]
    xy = flat_miles(day, places)
    points = [day.workbook.sites.get(n) or day.workbook.properties[n] for n in places]
    for a, one in enumerate(points):
        for b, other in enumerate(points):
            straight = great_circle_ft(
                *(np.array(v) for v in (one.lat, one.lon, other.lat, other.lon))
            )
            assert np.hypot(*(xy[a] - xy[b])) == pytest.approx(straight / FT_PER_MILE, abs=0.001)
