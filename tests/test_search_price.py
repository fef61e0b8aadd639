"""The compiled price of a truck-day is the price of the rules, on thousands of stop orders.

Outside reference: planner.routing.exact.route_cost, plain Python, itself held to the rules worked
apart (test_routing_refills) and to the schedule.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from planner.routing.compiled.columns import FIRST_LOAD
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import LUNCH, DayTables, TruckDay
from planner.routing.problem import RoutingProblem
from tests.compiled_doors import Doors
from tests.few import ALL, few
from tests.random_problems import problem_of_random_day
from tests.routing_cases import gone_out, random_problem, wished


def stop_orders(day: TruckDay, rng: random.Random) -> list[list[int]]:
    """Stop orders of a truck: placed by the plain program, and then spoilt in small ways."""
    orders, sites = day.orders, len(day.sites)
    can = [row for row in range(orders) if day.can[row]]
    found = []
    for _ in range(8):
        sequence = rng.sample(can, min(len(can), rng.randint(1, 9)))
        placed = place_refills(day, sequence)
        stops = list(sequence) if placed is None else list(placed[1])
        found.append(stops)
        for _ in range(6):
            spoilt = stops.copy()
            what = rng.random()
            if what < 0.4:
                spoilt.insert(rng.randint(0, len(spoilt)), orders + rng.randrange(sites))
            elif what < 0.6:
                spoilt.insert(rng.randint(0, len(spoilt)), LUNCH)
            elif what < 0.7:
                spoilt.append(rng.randrange(orders))
            elif len(spoilt) > 1:
                at = rng.randrange(len(spoilt) - 1)
                spoilt[at], spoilt[at + 1] = spoilt[at + 1], spoilt[at]
            found.append(spoilt)
    return found


def compare(
    problem: RoutingProblem, rng: random.Random, *, compiled: bool = False
) -> tuple[int, int]:
    """How many stop orders were compared, and how many of them keep every rule."""
    numbers, tables = day_arrays(problem), DayTables(problem)
    doors = Doors(numbers, compiled=compiled)
    compared = fine = 0
    for row, truck in enumerate(problem.trucks):
        for place in rng.sample(range(len(truck.loadings)), min(3, len(truck.loadings))):
            day = TruckDay(tables, row, truck.loadings[place])
            load = int(numbers.truck_at[row, FIRST_LOAD]) + place
            for order in range(len(problem.orders)):
                assert doors.can_do(row, load, order) == day.can[order]
            if not any(day.can):
                continue
            for stops in stop_orders(day, rng):
                if len(stops) > doors.most:
                    continue
                expected = day.cost(stops)
                cost = doors.price(row, load, stops)
                if math.isinf(expected):
                    assert math.isinf(cost), (stops, day.fault, cost)
                else:
                    assert cost == pytest.approx(expected, abs=1e-6), stops
                    fine += 1
                compared += 1
    return compared, fine


def test_price_on_random_problems() -> None:
    compared = fine = 0
    cases = few(20, of=60)
    for seed in range(cases):
        problem = random_problem(
            seed, orders=12, trucks=2, limited=seed % 3 == 0, tight=seed % 4 == 0
        )
        more, good = compare(problem, random.Random(seed))
        compared, fine = compared + more, fine + good
    assert compared > 80 * cases
    assert fine > 16 * cases


def test_price_of_trucks_that_are_out_and_of_wishes() -> None:
    compared = fine = 0
    cases = few(16, of=40)
    for seed in range(cases):
        problem = random_problem(seed, orders=12, trucks=2, limited=seed % 3 == 0)
        if seed % 4:
            problem = gone_out(problem, seed)
        if seed % 3:
            problem = wished(problem, seed)
        more, good = compare(problem, random.Random(seed))
        compared, fine = compared + more, fine + good
    assert compared > 50 * cases
    assert fine > 12 * cases


def test_an_idle_truck_that_is_out_drives_home() -> None:
    """By hand: 30 min and 13 miles from home at noon, so it is paid until half past twelve."""
    problem = gone_out(random_problem(2, orders=4, trucks=1), 2)
    truck = problem.trucks[0]
    assert truck.start is not None
    truck = replace(truck, start=replace(truck.start, time_min=720.0, miles=10.0, lunched=True))
    problem = replace(problem, trucks=(truck,))
    drive = problem.drive_min.copy()
    miles = problem.drive_miles.copy()
    drive[0, truck.start.place, 0], miles[0, truck.start.place, 0] = 30.0, 13.0
    problem = replace(problem, drive_min=drive, drive_miles=miles)
    paid = 750.0 - truck.shift_start_min - truck.lunch_min
    expected = truck.cost_per_day + paid * truck.pay_per_min + 23.0 * truck.cost_per_mile
    expected += max(0.0, 750.0 - truck.shift_end_min) * truck.overtime_pay_per_min
    assert TruckDay(DayTables(problem), 0, truck.loadings[0]).cost([]) == pytest.approx(expected)
    numbers = day_arrays(problem)
    assert Doors(numbers, compiled=False).price(0, 0, []) == pytest.approx(expected)


@pytest.mark.skipif(not ALL, reason="PLANNER_ALL_CASES=1: compiling doors of its own takes 20 s")
def test_price_as_machine_code() -> None:
    """Each plan of the search is priced by both as well, and must agree (search_engine.py)."""
    pytest.importorskip("numba")
    for seed in range(0, 60, 3):
        problem = random_problem(seed, orders=12, trucks=2, limited=seed % 2 == 0)
        compare(wished(gone_out(problem, seed), seed), random.Random(seed), compiled=True)


def test_price_on_random_days() -> None:
    """Days with leftovers, cleaning, ratings, several windows, pins, two yards."""
    compared = fine = 0
    cases = few(20, of=40)
    for seed in range(cases):
        problem = problem_of_random_day(seed, "small" if seed % 2 else "medium")
        if problem is None:
            continue
        more, good = compare(problem, random.Random(seed))
        compared, fine = compared + more, fine + good
    assert compared > 75 * cases
    assert fine > 12 * cases
