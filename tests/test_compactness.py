"""How compact a plan is: squares of miles, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.day.day import Day
from planner.plan.figures import compactness
from planner.plan.model import Plan
from planner.roads.sphere import FT_PER_DEG, FT_PER_MILE
from tests.days import home
from tests.hand_plan import hand_day, hand_plan

MILE_DEG = FT_PER_MILE / FT_PER_DEG
"""A mile to the north; on the equator, where the squares lie, also a mile to the east."""

Corner = tuple[float, float]


def square(east: float, north: float = 0.0, side: float = 2.0) -> list[Corner]:
    return [(east + x, north + y) for x, y in ((0, 0), (side, 0), (0, side), (side, side))]


def planned(*trucks: list[Corner]) -> tuple[Plan, Day]:
    """A plan whose trucks have one order at each of these places (miles east and north)."""
    plan, day = hand_plan(), hand_day()
    first, _ = plan.trucks
    depart, visit = first.stops[0], first.stops[1]
    homes, planned_trucks = {}, []
    for number, corners in enumerate(trucks, start=1):
        stops = [depart]
        for place, (east, north) in enumerate(corners):
            at = home(f"H{number}{place}", north * MILE_DEG, east * MILE_DEG, 4000.0)
            homes[at.property_id] = at
            stops.append(replace(visit, place_id=at.property_id, lat=at.lat, lon=at.lon))
        planned_trucks.append(replace(first, truck_id=f"T{number}", stops=tuple(stops)))
    book = replace(day.workbook, properties=homes)
    return replace(plan, trucks=tuple(planned_trucks)), replace(day, workbook=book)


def test_two_squares_that_share_half_of_each() -> None:
    # 2 x 2 miles, the second one mile further east: 1 x 2 shared of 3 x 2. A corner lies the root
    # of 2 from its square's middle.
    found = compactness(*planned(square(0), square(1)))
    assert found.overlap_mi2 == pytest.approx(2.0, abs=0.001)
    assert found.overlap_share == pytest.approx(1 / 3, abs=0.001)
    assert found.middle_miles == pytest.approx(2**0.5, abs=0.001)


def test_ground_of_three_trucks_counts_once() -> None:
    # A third square on top of the first: all of the first's 4 of 6 square miles is shared.
    found = compactness(*planned(square(0), square(1), square(0)))
    assert found.overlap_mi2 == pytest.approx(4.0, abs=0.001)
    assert found.overlap_share == pytest.approx(4 / 6, abs=0.001)


def test_squares_beside_each_other_share_nothing() -> None:
    found = compactness(*planned(square(0), square(2), square(0, 3)))
    assert found.overlap_mi2 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("trucks", [(), ([(0.0, 0.0)],), ([(0.0, 0.0), (1.0, 1.0)], [(0.5, 0.5)])])
def test_points_and_lines_cover_no_ground(trucks: tuple[list[Corner], ...]) -> None:
    found = compactness(*planned(*trucks))
    assert (found.overlap_mi2, found.overlap_share) == (0.0, 0.0)


def test_a_truck_that_stays_home_does_not_count() -> None:
    plan, day = planned(square(0), square(1))
    idle = replace(plan.trucks[1], stops=())
    found = compactness(replace(plan, trucks=(plan.trucks[0], idle)), day)
    assert (found.overlap_mi2, found.middle_miles) == (0.0, pytest.approx(2**0.5, abs=0.001))


def test_orders_of_one_visit_weigh_as_orders() -> None:
    # Two orders at 0 and one at 3 miles: the middle is at 1, the distances 1, 1 and 2.
    plan, day = planned([(0.0, 0.0), (3.0, 0.0)])
    truck = plan.trucks[0]
    first = truck.stops[1]
    both = replace(first, orders=(*first.orders, replace(first.orders[0], order_id="X")))
    moved = replace(truck, stops=(truck.stops[0], both, truck.stops[2]))
    found = compactness(replace(plan, trucks=(moved,)), day)
    assert found.middle_miles == pytest.approx(4 / 3, abs=0.001)
