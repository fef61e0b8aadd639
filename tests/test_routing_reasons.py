"""Every unserved order says why, in words; one small day per code, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import pytest

from planner.day.clock import Window, clock_text
from planner.routing.engines import engine_named
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.problem import (
    Effort,
    Loading,
    OrderTask,
    RoutingProblem,
    SiteTask,
    SolveOptions,
    TruckSpec,
    TruckStart,
)
from planner.routing.unserved.reasons import UNSERVED_CODES, no_tank
from tests.routing_cases import random_problem

BASE = random_problem(1, orders=2, trucks=2)
TRUCK = replace(
    BASE.trucks[0],
    lunch_min=0.0,
    shift_start_min=450.0,
    shift_end_min=990.0,
    latest_return_min=990.0,
    payload_lb=5000.0,
    compartments=tuple(
        replace(part, capacity_gal=capacity, start_gal=0.0, start_mix=None)
        for part, capacity in zip(BASE.trucks[0].compartments, (40.0, 20.0, 12.0), strict=True)
    ),
    loadings=(Loading(("WEED", "FEED", "KILL"), ()),),
)
ORDER = replace(
    BASE.orders[0],
    order_id="X",
    mix_id="WEED",
    gal=10.0,
    windows=None,
    hose_run_ft=0.0,
    allowed_trucks=frozenset({"T1"}),
    price=500.0,
)


def reason(
    order: OrderTask,
    truck: TruckSpec = TRUCK,
    others: tuple[OrderTask, ...] = (),
    sites: tuple[SiteTask, ...] | None = None,
    engine: str = "nearest-fit",
) -> tuple[str, str]:
    problem: RoutingProblem = replace(
        BASE, trucks=(truck,), orders=(*others, order), sites=sites or BASE.sites
    )
    answer = engine_named(engine).solve(problem, SolveOptions(Effort(count=1)))
    return answer.unserved["X"]


def rival(**changes: object) -> OrderTask:
    """A dear order that goes first."""
    base = replace(ORDER, order_id="R", price=9000.0, place=ORDER.place)
    return replace(base, **changes)  # type: ignore[arg-type]


FEW_MINUTES = replace(TRUCK, latest_return_min=505.0, shift_end_min=505.0)
LATE_YARD = tuple(
    replace(site, mixes=frozenset({"FEED"}))
    if site.site_id == "Y1"
    else replace(site, mixes=None, open_min=980.0, close_min=1000.0)
    for site in BASE.sites
)
TWO_LOADS = replace(
    TRUCK, loadings=(Loading(("WEED", None, None), ()), Loading(("FEED", None, None), ()))
)
CASES = {
    "NO-TRUCK": lambda: reason(replace(ORDER, allowed_trucks=frozenset())),
    "NO-HOSE": lambda: reason(replace(ORDER, hose_run_ft=900.0)),
    "NO-MIX": lambda: reason(replace(ORDER, mix_id="IRON")),
    "TOO-LARGE": lambda: reason(replace(ORDER, gal=39.5)),
    "TOO-HEAVY": lambda: reason(ORDER, replace(TRUCK, payload_lb=50.0)),
    "NEVER-OPEN": lambda: reason(replace(ORDER, windows=())),
    "WINDOW": lambda: reason(replace(ORDER, windows=(Window(400.0, 452.0),))),
    "SITE": lambda: reason(ORDER, sites=LATE_YARD),
    "SHIFT": lambda: reason(ORDER, replace(TRUCK, latest_return_min=455.0, shift_end_min=455.0)),
    "LOADING": lambda: reason(ORDER, TWO_LOADS, (rival(mix_id="FEED"),)),
    "FULL": lambda: reason(replace(ORDER, gal=30.0), FEW_MINUTES, (rival(gal=36.0),)),
    # The plain engine serves what fits, whatever it costs.
    "PRICE": lambda: reason(replace(ORDER, price=1.0), engine="ortools"),
}


@pytest.mark.parametrize("code", CASES)
def test_reason(code: str) -> None:
    found, words = CASES[code]()
    assert found == code, words
    assert len(words.split()) > 4


def test_every_code_has_a_case() -> None:
    """STORE, STOPPED and WHOLE have their own tests (test_stock, test_stop, test_parts); HAND is
    what somebody took out of a plan."""
    assert [*CASES, "STORE", "HAND", "STOPPED", "WHOLE"] == list(UNSERVED_CODES)


def test_a_tank_that_takes_no_mix_for_what_is_left_in_it_says_so() -> None:
    """Rule 4: over its heel it takes only the same mix. Nothing in keep_apart would help then."""
    left = tuple(
        replace(part, start_gal=gal, start_mix=mix)
        for part, gal, mix in zip(
            TRUCK.compartments,
            (26.9, TRUCK.compartments[1].heel_gal, 7.1),
            ("FEED", "WEED", "X"),
            strict=True,
        )
    )
    code, words = reason(replace(ORDER, mix_id="IRON"), replace(TRUCK, compartments=left))
    assert code == "NO-MIX"
    first, _, last = (f"{part.compartment_id} of T1" for part in TRUCK.compartments)
    assert f"no other mix: 26.9 gal of FEED in {first} and 7.1 gal of X in {last})" in words
    assert "left in it" not in reason(replace(ORDER, mix_id="IRON"))[1]


def test_a_tank_that_holds_another_mix_is_named_where_a_fill_is_too_small() -> None:
    """Of the trucks whose hose is long enough; the others' tanks are not in the way."""
    held = (
        replace(TRUCK.compartments[0], start_gal=26.9, start_mix="FEED"),
        *TRUCK.compartments[1:],
    )
    near = replace(TRUCK, compartments=held)
    code, words = reason(replace(ORDER, gal=39.5), near)
    assert code == "TOO-LARGE"
    assert "; what is left in it takes no other mix: 26.9 gal of FEED in" in words
    short = replace(
        near, truck_id="T9", lines=tuple(replace(one, hose_ft=1.0) for one in near.lines)
    )
    order = replace(ORDER, gal=39.5, hose_run_ft=50.0, allowed_trucks=frozenset(("T1", "T9")))
    said = no_tank([TRUCK, short], order)
    assert said is not None
    assert "left in it" not in said[1]


def test_a_truck_that_would_reach_is_named_with_what_its_tank_holds() -> None:
    """The tank of T8 with the long hose holds another mix: the office looked for a hose to buy."""
    tanks = tuple(replace(one, start_gal=20.0, start_mix="FEED") for one in TRUCK.compartments)
    lines = tuple(replace(one, hose_ft=900.0) for one in TRUCK.lines)
    far = replace(TRUCK, truck_id="T8", lines=lines, compartments=tanks, loadings=())
    order = replace(ORDER, hose_run_ft=500.0, allowed_trucks=frozenset(("T1", "T8")))
    said = no_tank([TRUCK, far], order)
    assert said is not None
    assert said[0] == "NO-HOSE"
    first = TRUCK.compartments[0].compartment_id
    assert "; T8 would reach, and what is left in it takes no other mix: 20 gal of FEED" in said[1]
    assert f"in {first} of T8" in said[1]
    assert "would reach" not in str(no_tank([TRUCK, replace(far, lines=TRUCK.lines)], order))


def test_a_full_day_says_how_many_minutes_would_make_room() -> None:
    _, words = CASES["FULL"]()
    assert "more minutes on truck T1" in words


def test_a_closed_window_says_when_the_truck_could_be_done() -> None:
    _, words = CASES["WINDOW"]()
    assert "7:32 AM" in words


def test_the_hose_counts_where_an_order_just_fits() -> None:
    """40 gal less 1 gal heel leaves 39; 38.5 gal and a hose of 1.1 gal or more do not fit."""
    code, words = reason(replace(ORDER, gal=38.5))
    assert (code, "filling the hose" in words) == ("TOO-LARGE", True)


ROOM_BY_HAND = {
    "NO-TRUCK": "what would make room: allowing truck T1",
    "NO-HOSE": "900 ft of hose on line A of truck T1",
    "NO-MIX": "nothing that was tried would make room for it",
    # 39.5 gal, 1.1 gal for the hose and 1 gal of heel make 41.6 gal.
    "TOO-LARGE": "one more compartment of 42 gal for WEED on line A of truck T1",
    # 10 gal, 1.1 for the hose and 1 of heel, in whole gallons 13, at 8.4 lb: 109.2 lb; 50 are had.
    "TOO-HEAVY": "60 lb more weight rating on truck T1",
    "WINDOW": "a window until 7:55 AM on truck T1",
    "SITE": "water points open at any hour for truck T1",
    # From 450 min: the drive there 15.1, set-up 4, 10 gal at 2 gal/min 5, the drive back 15.1 make
    # 489.3; the truck must be back at 455.
    "SHIFT": "35 more minutes on truck T1",
    "LOADING": "would leave out R instead; what would make room: one more truck and crew like T1",
    "FULL": "or one more truck and crew like T1",
}


@pytest.mark.parametrize("code", ROOM_BY_HAND)
def test_room_worked_by_hand(code: str) -> None:
    _, words = CASES[code]()
    assert ROOM_BY_HAND[code] in words


def test_no_window_is_offered_in_hours_that_the_weather_closes() -> None:
    """The customer asks for 7:30 to 7:35; the mix may be sprayed until 7:40 and after 1 PM."""
    asked = replace(ORDER, windows=(Window(450.0, 455.0),))
    fits = (Window(0.0, 460.0), Window(780.0, 1440.0))
    _, words = reason(replace(asked, weather=fits))
    hours = clock_text(780.0)
    assert f"a window until {hours[0]}:" in words
    assert "PM on truck T1" in words
    _, words = reason(replace(asked, weather=(Window(0.0, 460.0),)))
    assert "a window" not in words.split("what would make room")[-1]


def test_a_compartment_for_a_group_is_said_to_be_reserved() -> None:
    parts = tuple(replace(part, reserved_for="non-selective") for part in TRUCK.compartments)
    _, words = reason(replace(ORDER, gal=39.5), replace(TRUCK, compartments=parts))
    assert "one more compartment of 42 gal, reserved for non-selective, for WEED on line A" in words


def test_minutes_are_what_the_day_lacks() -> None:
    """The rival's day fits to the minute; 10 gal more of the same mix on the same lawn are 5 more
    minutes at 2 gal/min."""
    shared = rival(gal=20.0)
    problem = replace(BASE, trucks=(TRUCK,), orders=(shared,))
    tables = DayTables(problem)
    back = full_walk(TruckDay(tables, 0, TRUCK.loadings[0]), [0]).return_min
    code, words = reason(ORDER, replace(TRUCK, latest_return_min=back), (shared,))
    assert code == "FULL"
    assert "what would make room: 5 more minutes on truck T1" in words


@pytest.mark.parametrize("more", [0, 1])
def test_the_price_that_is_named_serves_the_order(more: int) -> None:
    """One dollar less does not."""
    _, words = CASES["PRICE"]()
    named = float(words.split("a price of ")[1].split()[0])
    order = replace(ORDER, price=named - 1 + more)
    problem = replace(BASE, trucks=(TRUCK,), orders=(order,))
    answer = engine_named("ortools").solve(problem, SolveOptions(Effort(count=1)))
    assert bool(answer.unserved) == (more == 0)


def test_a_truck_that_is_out_gets_no_other_hose_loading_or_compartment() -> None:
    """What can still be changed for it: minutes, windows, and the order in parts. A truck like it
    would not stand where it stands."""
    out = replace(TRUCK, start=TruckStart(0, 450.0, 0.0, False))
    _, words = reason(replace(ORDER, gal=39.5), out)
    assert words.endswith("what would make room: 2 equal orders instead of one on truck T1")
    _, words = reason(replace(ORDER, hose_run_ft=900.0), out)
    assert words.endswith("nothing that was tried would make room for it")


def test_rooms_are_looked_for_at_the_dearest_orders_only_where_many_are_left_out() -> None:
    """Nobody reads hundreds of offers, and each takes a look at the whole day."""
    orders = tuple(
        replace(ORDER, order_id=f"N{n}", gal=39.0, price=2000.0, hose_run_ft=900.0)
        for n in range(4)
    )
    tuned = Effort(count=1, tuning=replace(BASE.tuning, unserved_in_detail=1, unserved_tried=2))
    problem = replace(random_problem(1, orders=4, trucks=1), trucks=(TRUCK,), orders=orders)
    answer = engine_named("nearest-fit").solve(problem, SolveOptions(tuned))
    told = ["looked for at other orders only" in words for _, words in answer.unserved.values()]
    assert told == [False, False, True, True]


def test_a_window_is_no_wider_than_it_must_be() -> None:
    """A one-way street makes the lawn cheaper to reach from the rival's than from the yard; as the
    first of the day it asks for the shorter window."""
    early = replace(ORDER, windows=(Window(400.0, 452.0),), place=1)
    far = rival(gal=20.0, place=BASE.orders[1].place)
    drive_min = BASE.drive_min.copy()
    drive_min[0, 0, 1] += 10.0
    problem = replace(BASE, trucks=(TRUCK,), orders=(far, early), drive_min=drive_min)
    free = replace(problem, orders=(far, replace(early, windows=None)))
    day = TruckDay(DayTables(free), 0, TRUCK.loadings[0])
    first, last = full_walk(day, [1, 0]), full_walk(day, [0, 1])
    assert last.cost < first.cost
    assert first.timings[0].leave_min < last.timings[1].leave_min - 5.0
    engine = engine_named("nearest-fit")
    answer = engine.solve(problem, SolveOptions(Effort(count=1)))
    until = clock_text(ceil(first.timings[0].leave_min / 5.0) * 5.0)
    assert f"a window until {until} on truck T1" in answer.unserved["X"][1]
