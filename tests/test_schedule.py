"""The schedule of one truck against clock and gallons worked by hand.

Yard Y1, properties P1 and P2, one truck whose line A (300 ft of 1/2-in hose, 2 gal/min gun) draws
from two compartments. Drive: Y1-P1 10 min 5 mi, P1-P2 6 min 3 mi, P2-Y1 8 min 4 mi, both ways;
water point W1 2 min 1 mi from everything. A 300-ft hose of 1/2 in holds
pi/4 x 0.25 in2 x 3600 in / 231 = 3.0600 gal (NWCG Table 3.1 prints 4.1 gal per 100 ft of 1 in;
a quarter of the bore area is 1.02 gal per 100 ft).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.day.clock import Window
from planner.day.day import Day, day_of
from planner.plan.assemble import Origin, make_plan
from planner.plan.model import Plan, TruckPlan
from planner.prepare import prepare_day
from planner.roads.travel import Travel
from planner.routing.problem import Loading, Route, Solution, StopKind, StopRef
from tests.days import DAY, compartment, home, line, mix, order, product, site, truck, workbook

HOSE_GAL = 3.0600
PLACES = ("Y1", "W1", "P1", "P2")
MINUTES = np.array([[0, 2, 10, 8], [2, 0, 2, 2], [10, 2, 0, 6], [8, 2, 6, 0]], dtype=float)
MILES = np.array([[0, 1, 5, 4], [1, 0, 1, 1], [5, 1, 0, 3], [4, 1, 3, 0]], dtype=float)
ORIGIN = Origin(1, "count 1", "nearest-fit", "given", "")


def small(first_gal: float = 60.0) -> Day:
    homes = (home("P1", 40.01, -83.0, 5000.0), home("P2", 40.02, -83.0, 4000.0))
    book = workbook(
        sites=(site("Y1", 40.0, -83.0), site("W1", 40.0, -83.01)),
        trucks=(
            truck(
                "T1",
                (line("A"),),
                (compartment("1", first_gal, "A", 1), compartment("2", 40.0, "A", 2)),
            ),
        ),
        products=(
            product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft"),
            product("urea", "fertilizer", "0.5 lb/1000 sq ft"),
        ),
        mixes=(
            mix("WEED", 2.0, **{"three-way": "1.28 fl oz/1000 sq ft"}),
            mix("FEED", 3.0, **{"three-way": "1.28 fl oz/1000 sq ft"}),
        ),
        properties=homes,
        orders=(
            order("O1", homes[0], "WEED"),
            order("O2", homes[1], "FEED"),
            order("O3", homes[1], "WEED"),
        ),
    )
    return day_of(book, DAY)


def scheduled(day: Day, *stops: str, loading: tuple[str | None, ...] = ("WEED", "FEED")) -> Plan:
    kinds = {"O": StopKind.ORDER, "W": StopKind.REFILL, "Y": StopKind.REFILL, "L": StopKind.LUNCH}
    refs = tuple(StopRef(kinds[stop[0]], "" if stop == "L" else stop) for stop in stops)
    answer = Solution((Route("T1", Loading(loading, ()), refs),), {})
    travel = {"T1": Travel(PLACES, MINUTES, MILES)}
    return make_plan(prepare_day(day), answer, travel, ORIGIN)


def truck_of(plan: Plan) -> TruckPlan:
    return plan.trucks[0]


def test_clock_of_two_visits_with_a_changeover() -> None:
    plan = truck_of(scheduled(small(), "O1", "O2"))
    depart, first, second, back = plan.stops
    assert depart.leave_min == 450.0  # 7:30
    assert (first.arrive_min, first.begin_min) == (460.0, 460.0)
    # Set-up 4 min, then 10 gal at 2 gal/min: 464 to 469.
    assert (first.orders[0].begin_min, first.leave_min) == (464.0, 469.0)
    # Arrive 475, set-up to 479, push 3.06 gal of WEED out (1.53 min), 12 gal: 6 min.
    work = second.orders[0]
    assert work.displaced_mix_id == "WEED"
    assert work.changeover_min == pytest.approx(HOSE_GAL / 2, abs=1e-3)
    assert second.leave_min == pytest.approx(475 + 4 + 1.53 + 6, abs=1e-2)
    assert back.arrive_min == pytest.approx(494.53, abs=1e-2)


def test_gallons_filled_before_departure() -> None:
    plan = truck_of(scheduled(small(), "O1", "O2"))
    # WEED 10 x 1.05 + 3.06 = 13.56 -> 14; FEED 12 x 1.05 + 3.06 = 15.66 -> 16 gal.
    fills = {fill.mix_id: fill for fill in plan.stops[0].fills}
    assert {name: fill.gal for name, fill in fills.items()} == {"WEED": 14.0, "FEED": 16.0}
    # 1.28 fl oz per 2 gal = 0.64 fl oz/gal; 14 gal take 8.96 fl oz = 0.07 gal, the rest is water.
    assert fills["WEED"].products[0].amount == pytest.approx(0.07)
    assert fills["WEED"].water_gal == pytest.approx(13.93)
    assert fills["WEED"].order_ids == ("O1",)
    # 0.07 gal x 9 lb + 13.93 gal x 8.34 lb.
    assert fills["WEED"].weight_lb == pytest.approx(0.07 * 9 + 13.93 * 8.34)
    assert plan.end_gal["1"] == pytest.approx(14 - 10 - HOSE_GAL, abs=1e-3)


def test_cost_and_paid_time() -> None:
    totals = truck_of(scheduled(small(), "O1", "O2")).totals
    assert totals.paid_min == pytest.approx(44.53, abs=1e-2)
    assert totals.drive_miles == 12.0
    # 44.53 min x $24/h + 12 mi x $0.72 + $40 a day.
    assert totals.cost == pytest.approx(44.53 * 0.4 + 8.64 + 40, abs=1e-2)
    assert totals.wait_min == pytest.approx(0.0, abs=1e-9)


def test_two_orders_at_one_property_are_one_visit() -> None:
    plan = truck_of(scheduled(small(), "O1", "O3", "O2"))
    assert [stop.kind for stop in plan.stops] == ["depart", "visit", "visit", "return"]
    both = plan.stops[2]
    # Set-up once; WEED 8 gal in 4 min without changeover, then FEED after one.
    assert [work.order_id for work in both.orders] == ["O3", "O2"]
    assert both.leave_min - both.begin_min == pytest.approx(4 + 4 + 1.53 + 6, abs=1e-2)
    assert plan.totals.setup_min == 8.0


def test_a_refill_tops_up_what_the_rest_of_the_day_needs() -> None:
    # Compartment 1 holds 15 gal: O1 takes 10 + 3.06 hose; O3 needs 8 more (the hose is full).
    day = small(first_gal=15.0)
    plan = truck_of(scheduled(day, "O1", "W1", "O3", loading=("WEED", None)))
    assert plan.stops[0].fills[0].gal == 14.0
    refill = plan.stops[2]
    # On board 14 - 13.06 = 0.94; 8 x 1.05 - 0.94 = 7.46 -> 8 gal; 5 min + 8 / 10 gal/min.
    assert refill.fills[0].gal == 8.0
    assert refill.leave_min - refill.begin_min == pytest.approx(5.8)
    assert refill.fills[0].level_before_gal == pytest.approx(0.94, abs=1e-3)
    assert refill.fills[0].order_ids == ("O3",)


def test_waiting_for_a_window() -> None:
    day = small()
    late = replace(day.orders["O1"], windows=(Window(400.0, 465.0), Window(500.0, 540.0)))
    day = replace(day, orders=day.orders | {"O1": late})
    visit = truck_of(scheduled(day, "O1")).stops[1]
    # Arrives 460; 9 min of work do not fit before 465, so it waits for 8:20.
    assert (visit.arrive_min, visit.begin_min, visit.leave_min) == (460.0, 500.0, 509.0)


def test_lunch_waits_for_its_earliest_minute_and_is_not_paid() -> None:
    day = small()
    driver = replace(
        day.workbook.trucks["T1"], lunch_min=30.0, lunch_earliest_min=480.0, lunch_latest_min=490.0
    )
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": driver}))
    plan = truck_of(scheduled(day, "O1", "L", "O2"))
    lunch = plan.stops[2]
    assert (lunch.arrive_min, lunch.begin_min, lunch.leave_min) == (469.0, 480.0, 510.0)
    assert lunch.place_id == "P1"
    assert plan.totals.wait_min == pytest.approx(11.0)
    # 44.53 min of the plain day + 11 min waiting; lunch itself is unpaid.
    assert plan.totals.paid_min == pytest.approx(44.53 + 11, abs=1e-2)


def test_overtime_costs_half_as_much_again() -> None:
    day = small()
    driver = replace(day.workbook.trucks["T1"], shift_end_min=480.0)
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": driver}))
    totals = truck_of(scheduled(day, "O1", "O2")).totals
    assert totals.overtime_min == pytest.approx(14.53, abs=1e-2)
    assert totals.cost == pytest.approx(44.53 * 0.4 + 14.53 * 0.2 + 8.64 + 40, abs=1e-2)


def test_leftover_of_the_same_mix_is_used_first() -> None:
    day = small()
    tank = replace(day.workbook.trucks["T1"].compartments[0], last_mix="WEED", leftover_gal=9.0)
    driver = replace(
        day.workbook.trucks["T1"],
        compartments=(tank, day.workbook.trucks["T1"].compartments[1]),
    )
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": driver}))
    fill = truck_of(scheduled(day, "O1", loading=("WEED", None))).stops[0].fills[0]
    # 13.56 gal wanted, 9 on board: 4.56 -> 5 gal.
    assert (fill.gal, fill.level_before_gal) == (5.0, 9.0)


def test_a_mix_that_is_not_loaded_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="not loaded"):
        scheduled(small(), "O2", loading=("WEED", None))
