"""A checked day becomes numbers: the small day of tests.days, worked by hand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from planner.roads.travel import Travel
from planner.routing.build import build_problem
from planner.routing.problem import Loading
from tests.days import small_day


@dataclass(frozen=True)
class Numbers:
    carrier_gal_per_1000_ft2: float
    density_lb_per_gal: float


def test_small_day_in_numbers() -> None:
    day = small_day()
    book = day.workbook
    ids = ("W1", *[f"P{n}" for n in range(8, 0, -1)], "Y1")
    grid = np.arange(100.0).reshape(10, 10)
    travel = Travel(ids, grid, grid / 2)
    recipes = {
        "WEED": Numbers(2.0, 8.35),
        "FEED": Numbers(3.0, 8.4),
        "KILL": Numbers(1.0, 8.36),
    }
    none = {truck_id: (Loading((), ()),) for truck_id in book.trucks}
    windows = {order_id: order.windows for order_id, order in day.orders.items()}
    problem = build_problem(day, recipes, windows, {"O2"}, dict.fromkeys(book.trucks, travel), none)
    assert [order.order_id for order in problem.orders] == [
        "O1", "O3", "O4", "O5", "O6", "O7", "O8", "O9",
    ]  # fmt: skip
    by_id = {order.order_id: order for order in problem.orders}
    # P1 has 5,000 ft2 at 2 gal per 1,000; O9 treats 1,500 ft2 of it at 1 gal per 1,000.
    assert by_id["O1"].gal == pytest.approx(10.0)
    assert by_id["O9"].gal == pytest.approx(1.5)
    assert by_id["O1"].place == by_id["O9"].place
    assert by_id["O3"].windows is not None
    assert by_id["O1"].price == 1200.0
    assert problem.drive_min.shape == (1, 9, 9)  # 2 sites + 7 properties; P2's order is held
    yard, point = problem.sites
    assert problem.drive_min[0, yard.place, point.place] == grid[9, 0]
    assert problem.drive_miles[0, yard.place, by_id["O8"].place] == grid[9, 1] / 2
    truck = problem.trucks[0]
    assert truck.pay_per_min == pytest.approx(24 / 60)
    assert truck.overtime_pay_per_min == pytest.approx(12 / 60)
    assert truck.payload_lb == 7000.0
    # 300 ft of 1/2-in hose: pi/4 x 0.25 in2 x 3600 in / 231 in3 = 3.06 gal.
    assert truck.lines[0].hose_gal == pytest.approx(3.06, abs=0.001)


def test_trucks_share_a_profile_when_they_have_the_same_drives() -> None:
    day = small_day()
    ids = ("Y1", "W1", *[f"P{n}" for n in range(1, 9)])
    one, two = (Travel(ids, np.full((10, 10), x), np.full((10, 10), x)) for x in (1.0, 2.0))
    recipes = dict.fromkeys(("WEED", "FEED", "KILL"), Numbers(1.0, 8.4))
    windows = {order_id: order.windows for order_id, order in day.orders.items()}
    none = {truck_id: (Loading((), ()),) for truck_id in day.workbook.trucks}
    problem = build_problem(day, recipes, windows, (), {"T1": one, "T2": two}, none)
    assert [truck.profile for truck in problem.trucks] == [0, 1]
    assert problem.drive_min[1, 0, 1] == 2.0
    # The roads answer each kind of truck anew, also where no limit bars it anything.
    again = Travel(ids, np.full((10, 10), 1.0), np.full((10, 10), 1.0))
    problem = build_problem(day, recipes, windows, (), {"T1": one, "T2": again}, none)
    assert [truck.profile for truck in problem.trucks] == [0, 0]
    assert len(problem.drive_min) == 1


def test_a_pin_leaves_one_truck_unless_the_tables_bar_it() -> None:
    day = small_day()
    book = day.workbook
    barred = replace(book.orders["O2"], never_trucks=frozenset({"T1"}))
    day = replace(day, orders={**day.orders, "O2": barred})
    ids = ("Y1", "W1", *[f"P{n}" for n in range(1, 9)])
    travel = Travel(ids, np.ones((10, 10)), np.ones((10, 10)))
    recipes = dict.fromkeys(("WEED", "FEED", "KILL"), Numbers(1.0, 8.4))
    windows = {order_id: order.windows for order_id, order in day.orders.items()}
    none = {truck_id: (Loading((), ()),) for truck_id in book.trucks}
    problem = build_problem(
        day,
        recipes,
        windows,
        (),
        dict.fromkeys(book.trucks, travel),
        none,
        {"O1": "T1", "O2": "T1", "O3": "T1"},
        {"O1", "O2"},
    )
    allowed = {order.order_id: sorted(order.allowed_trucks) for order in problem.orders}
    assert (allowed["O1"], allowed["O2"], allowed["O3"]) == (["T1"], ["T2"], ["T1", "T2"])
