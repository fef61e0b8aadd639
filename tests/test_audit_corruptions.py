"""Deliberate corruptions of the plan worked out by hand, made one by one: each must be caught.

A corruption changes the plan, or a table behind its back, and names the code it must be caught
with. A change that would alter several figures at once in an honest plan may raise more codes;
the expected one must be among them, and a plain slip in one figure must raise no other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.orders import Order, PastApplication, WeatherHour
from planner.day.places import Property, Site
from planner.day.products import KeepApart, Product, Scope
from planner.plan.audit import audit
from planner.plan.model import (
    CleaningEntry,
    Draw,
    NotDone,
    Plan,
    ProductAmount,
    Stop,
    TruckPlan,
)
from planner.units import Amount, parse_amount
from tests.codes import VIOLATION_CODES
from tests.days import DAY
from tests.hand_plan import TRAVEL, hand_day, hand_plan

Case = tuple[Plan, Day]
PLAN = hand_plan()
HAND_DAY = hand_day()
CATALOG: list[tuple[str, str, bool, Callable[[], Case]]] = []
"""(what is done, expected code, whether no other code may appear, how)."""


def corrupt(text: str, code: str, make: Callable[[], Case], alone: bool = True) -> None:
    CATALOG.append((text, code, alone, make))


# How a plan is changed -------------------------------------------------------------------------


def first_truck(**changes: object) -> Case:
    return replace(
        PLAN,
        trucks=(replace(PLAN.trucks[0], **changes), *PLAN.trucks[1:]),  # type: ignore[arg-type]
    ), HAND_DAY


def stops(*rows: Stop) -> Case:
    return first_truck(stops=rows)


def stop(row: int, **changes: object) -> Case:
    old = PLAN.trucks[0].stops
    return stops(*old[:row], replace(old[row], **changes), *old[row + 1 :])  # type: ignore[arg-type]


def work(row: int, number: int, **changes: object) -> Case:
    orders = list(PLAN.trucks[0].stops[row].orders)
    orders[number] = replace(orders[number], **changes)  # type: ignore[arg-type]
    return stop(row, orders=tuple(orders))


def fill(row: int, number: int, **changes: object) -> Case:
    fills = list(PLAN.trucks[0].stops[row].fills)
    fills[number] = replace(fills[number], **changes)  # type: ignore[arg-type]
    return stop(row, fills=tuple(fills))


def total(**changes: object) -> Case:
    return first_truck(totals=replace(PLAN.trucks[0].totals, **changes))  # type: ignore[arg-type]


def day(**changes: object) -> Case:
    return PLAN, replace(HAND_DAY, workbook=replace(HAND_DAY.workbook, **changes))  # type: ignore[arg-type]


def truck(**changes: object) -> Case:
    rows = dict(HAND_DAY.workbook.trucks)
    rows["T1"] = replace(rows["T1"], **changes)  # type: ignore[arg-type]
    return day(trucks=rows)


def tank(number: int, **changes: object) -> Case:
    tanks = list(HAND_DAY.workbook.trucks["T1"].compartments)
    tanks[number] = replace(tanks[number], **changes)  # type: ignore[arg-type]
    return truck(compartments=tuple(tanks))


def site(site_id: str, **changes: object) -> Case:
    rows: dict[str, Site] = dict(HAND_DAY.workbook.sites)
    rows[site_id] = replace(rows[site_id], **changes)  # type: ignore[arg-type]
    return day(sites=rows)


def home(property_id: str, **changes: object) -> Case:
    rows: dict[str, Property] = dict(HAND_DAY.workbook.properties)
    rows[property_id] = replace(rows[property_id], **changes)  # type: ignore[arg-type]
    return day(properties=rows)


def product(product_id: str, **changes: object) -> Case:
    rows: dict[str, Product] = dict(HAND_DAY.workbook.products)
    rows[product_id] = replace(rows[product_id], **changes)  # type: ignore[arg-type]
    return day(products=rows)


def order(order_id: str, **changes: object) -> Case:
    rows: dict[str, Order] = dict(HAND_DAY.orders)
    rows[order_id] = replace(rows[order_id], **changes)  # type: ignore[arg-type]
    book = replace(HAND_DAY.workbook, orders=HAND_DAY.workbook.orders | rows)
    return PLAN, replace(HAND_DAY, workbook=book, orders=rows)


def top(**changes: object) -> Case:
    return replace(PLAN, **changes), HAND_DAY  # type: ignore[arg-type]


def cleaning(**changes: object) -> Case:
    entry = replace(PLAN.trucks[0].cleaning[0], **changes)  # type: ignore[arg-type]
    return first_truck(cleaning=(entry,))


TRUCK: Truck = HAND_DAY.workbook.trucks["T1"]
FIRST: TruckPlan = PLAN.trucks[0]
STOPS = FIRST.stops
O1, O3, O2 = STOPS[1].orders[0], STOPS[4].orders[0], STOPS[4].orders[1]

# The day --------------------------------------------------------------------------------------
corrupt("other version", "PLAN-VERSION", lambda: top(version=99))
corrupt("other date", "PLAN-DATE", lambda: top(date="2027-04-15"))
corrupt("tables changed", "PLAN-WORKBOOK", lambda: top(workbook_sha256="f" * 64))
corrupt("a figure is no number", "PLAN-FIGURE", lambda: stop(1, leave_min=float("nan")))
corrupt("unknown truck", "ID-TRUCK", lambda: first_truck(truck_id="T9"))
corrupt(
    "truck that the calendar keeps at home",
    "TRUCK-HOME",
    lambda: (PLAN, replace(HAND_DAY, kept_home=("T1",))),
)
corrupt(
    "truck planned twice",
    "TRUCK-TWICE",
    lambda: top(trucks=(*PLAN.trucks, PLAN.trucks[1])),
)
corrupt("due order forgotten", "ORDER-MISSING", lambda: top(unserved=()), alone=False)
corrupt(
    "order done and unserved",
    "ORDER-TWICE",
    lambda: top(unserved=(*PLAN.unserved, NotDone("O1", "FULL", "no room"))),
    alone=False,
)
corrupt(
    "an order that is not due",
    "ID-ORDER",
    lambda: top(held=(*PLAN.held, NotDone("O77", "GRASS", "no such order"))),
    alone=False,
)
corrupt(
    "unserved without a reason",
    "REASON-MISSING",
    lambda: top(unserved=(NotDone("O5", "FULL", " "),)),
)
corrupt(
    "held without a rule",
    "ORDER-NOT-HELD",
    lambda: top(
        held=(*PLAN.held, NotDone("O5", "WATER", "too near")),
        unserved=(),
        totals=replace(PLAN.totals, held=2, unserved=0),
    ),
)
corrupt(
    "held for another rule than the one that applies",
    "ORDER-NOT-HELD",
    lambda: top(held=(NotDone("O4", "WATER", "too near"),)),
)
corrupt(
    "banned grass sprayed",
    "ORDER-HELD",
    lambda: home("P1", grass="Bluegrass / Bentgrass"),
)
corrupt(
    "too near to water",
    "ORDER-HELD",
    lambda: (
        PLAN,
        replace(
            HAND_DAY,
            workbook=replace(
                HAND_DAY.workbook,
                products=product("urea", water_distance_ft=25.0)[1].workbook.products,
                properties=home("P2", water_distance_ft=24.0)[1].workbook.properties,
            ),
        ),
    ),
)
corrupt(
    "a day too soon after the last visit",
    "ORDER-HELD",
    lambda: product("urea", least_days_between=21),
)
corrupt("one application too many", "ORDER-HELD", lambda: product("urea", most_per_year=1))
corrupt(
    "over the yearly most",
    "ORDER-HELD",
    # 2.4 lb on 4,000 ft2 = 0.6 lb per 1,000 ft2 before, 0.6 lb now: 1.2 lb against 1 lb.
    lambda: product("urea", annual_most=HAND_DAY.workbook.products["urea"].rate_most),
)
corrupt(
    "a record added to the history",
    "ORDER-HELD",
    lambda: day(
        history=(
            PastApplication("P2", "urea", date(2027, 4, 1), 400.0, Amount(1, "lb", "mass", 1)),
        )
    ),
)
corrupt("day's held count", "TOTAL-DAY", lambda: top(totals=replace(PLAN.totals, held=0)))
corrupt(
    "day's miles",
    "TOTAL-DAY",
    lambda: top(totals=replace(PLAN.totals, totals=replace(PLAN.totals.totals, drive_miles=10.0))),
)

corrupt(
    "wind all day",
    "ORDER-HELD",
    lambda: (
        PLAN,
        replace(
            HAND_DAY,
            workbook=replace(
                product("urea", wind_most_mph=10.0)[1].workbook,
                weather=tuple(WeatherHour(DAY, h, "", 11.0, None, 60, 0, 0) for h in range(24)),
            ),
        ),
    ),
    alone=False,
)

# Names ----------------------------------------------------------------------------------------
corrupt("unknown place", "ID-PLACE", lambda: stop(1, place_id="P99"))
corrupt("unknown order done", "ID-ORDER", lambda: work(1, 0, order_id="O99"), alone=False)
corrupt("unknown mix", "ID-MIX", lambda: work(1, 0, mix_id="TEA"))
corrupt("unknown line", "ID-LINE", lambda: work(1, 0, line_id="Z"))
corrupt("unknown compartment", "ID-COMPARTMENT", lambda: fill(0, 0, compartment_id="9"))
corrupt(
    "amounts cannot be worked out",
    "MIX-RATE",
    lambda: product("three-way", form=HAND_DAY.workbook.products["urea"].form),
)

# Stops and clock ------------------------------------------------------------------------------
corrupt("stop misnumbered", "STOP-SEQ", lambda: stop(2, seq=7))
corrupt("unknown kind of stop", "STOP-KIND", lambda: stop(3, kind="nap"), alone=False)
corrupt("ends at the water point", "STOP-ENDS", lambda: stop(5, place_id="W1"), alone=False)
corrupt("no return", "STOP-ENDS", lambda: stops(*STOPS[:5]), alone=False)
corrupt("a visit without orders", "STOP-CONTENT", lambda: stop(1, orders=()), alone=False)
corrupt("fills at a customer's", "STOP-CONTENT", lambda: stop(1, fills=STOPS[0].fills), alone=False)
corrupt("position of a stop", "STOP-PLACE", lambda: stop(1, lat=40.5))
corrupt(
    "one visit told as two",
    "STOP-JOIN",
    lambda: stops(
        *STOPS[:4],
        replace(STOPS[4], orders=(O3,), leave_min=537.3),
        replace(STOPS[4], seq=5, drive_min=0.0, drive_miles=0.0, arrive_min=537.3, orders=(O2,)),
        replace(STOPS[5], seq=6),
    ),
    alone=False,
)
corrupt("departs early", "CLOCK-DEPART", lambda: stop(0, arrive_min=440, begin_min=440))
corrupt("drive too short", "CLOCK-DRIVE", lambda: stop(2, drive_min=1.0), alone=False)
corrupt("miles too few", "CLOCK-DRIVE", lambda: stop(2, drive_miles=0.5), alone=False)
corrupt("arrives before it can", "CLOCK-ARRIVE", lambda: stop(1, arrive_min=455.0), alone=False)
corrupt(
    "work begins late for no reason",
    "CLOCK-BEGIN",
    lambda: stops(
        STOPS[0],
        replace(
            STOPS[1],
            begin_min=485.0,
            leave_min=494.0,
            orders=(replace(O1, begin_min=489.0, end_min=494.0),),
        ),
        *STOPS[2:],
    ),
    alone=False,
)
corrupt("set-up forgotten", "CLOCK-WORK", lambda: work(1, 0, begin_min=480.0), alone=False)
corrupt("spraying too fast", "CLOCK-WORK", lambda: work(1, 0, spray_min=4.0), alone=False)
corrupt("leaves before it is done", "CLOCK-LEAVE", lambda: stop(1, leave_min=486.0), alone=False)
corrupt("refill too quick", "CLOCK-LEAVE", lambda: stop(2, leave_min=495.0), alone=False)
corrupt("refill begins late", "CLOCK-BEGIN", lambda: stop(2, begin_min=492.0), alone=False)
corrupt("return lasts", "CLOCK-LEAVE", lambda: stop(5, leave_min=560.0))
corrupt(
    "before the customer's window",
    "WINDOW",
    lambda: order("O1", windows=(Window(500.0, 540.0),)),
    alone=False,
)
corrupt(
    "spraying ends after the window",
    "WINDOW",
    lambda: order("O2", windows=(Window(400.0, 540.0),)),
)
corrupt(
    "wind closes the hour",
    "WINDOW",
    # 8:00 to 9:00 blows 12 mph with gusts of 16; from 9:00 on it is calm.
    lambda: (
        PLAN,
        replace(
            HAND_DAY,
            workbook=replace(
                product("three-way", wind_most_mph=15.0)[1].workbook,
                weather=tuple(
                    WeatherHour(DAY, hour, "", 12.0, 16.0 if hour == 8 else None, 60, 0, 0)
                    for hour in range(6, 20)
                ),
            ),
        ),
    ),
    alone=False,
)
corrupt(
    "rain within the dry hours",
    "WINDOW",
    # Rain from 11:00 to noon; three dry hours must follow, so 8:00 to 9:00 is out.
    lambda: (
        PLAN,
        replace(
            HAND_DAY,
            workbook=replace(
                product("three-way", rain_free_hours=3.0)[1].workbook,
                weather=tuple(
                    WeatherHour(DAY, hour, "", 5.0, None, 60, 70 if hour == 11 else 0, 0)
                    for hour in range(6, 20)
                ),
            ),
        ),
    ),
    alone=False,
)
corrupt("water point still closed", "SITE-HOURS", lambda: site("W1", open_min=495.0), alone=False)
corrupt("water point closes", "SITE-HOURS", lambda: site("W1", close_min=498.0))
corrupt(
    "no lunch",
    "LUNCH-OWED",
    lambda: stops(*STOPS[:3], *STOPS[4:]),
    alone=False,
)
corrupt("lunch begins too late", "LUNCH-TIME", lambda: truck(lunch_latest_min=498.0))
corrupt("lunch too short", "CLOCK-LEAVE", lambda: truck(lunch_min=40.0))
corrupt("lunch too early", "CLOCK-BEGIN", lambda: truck(lunch_earliest_min=505.0))
corrupt("lunch that nobody has", "LUNCH-EXTRA", lambda: truck(lunch_min=0.0), alone=False)
corrupt(
    "lunch before the first stop",
    "LUNCH-PLACE",
    lambda: stops(STOPS[0], replace(STOPS[3], seq=1, place_id="Y1"), *STOPS[1:3], *STOPS[4:]),
    alone=False,
)
corrupt("lunch elsewhere", "LUNCH-PLACE", lambda: stop(3, place_id="P1"), alone=False)
corrupt("back too late", "RETURN-LATE", lambda: truck(overtime_most_min=12.0))

# Orders ---------------------------------------------------------------------------------------
corrupt(
    "order done at a neighbor's",
    "WORK-PLACE",
    # Two orders of urea on one lawn on one day also break its least days between.
    lambda: order("O2", property_id="P4"),
    alone=False,
)
corrupt("wrong mix ordered", "WORK-MIX", lambda: order("O1", mix_id="FEED"), alone=False)
corrupt("area changed", "WORK-AREA", lambda: work(1, 0, area_ft2=4000.0))
corrupt("gallons short", "WORK-GAL", lambda: work(1, 0, gal=9.0), alone=False)
corrupt(
    "a stronger dose",
    "WORK-PRODUCTS",
    lambda: work(1, 0, products=(ProductAmount("three-way", 0.051, "gal"),)),
)
corrupt("product left out", "WORK-PRODUCTS", lambda: work(1, 0, products=()))
corrupt(
    "product in another unit",
    "WORK-PRODUCTS",
    lambda: work(1, 0, products=(ProductAmount("three-way", 0.05, "lb"),)),
)
corrupt("through the other hose", "WORK-LINE", lambda: work(1, 0, line_id="N"), alone=False)
corrupt("another truck only", "TRUCK-PINNED", lambda: order("O1", only_trucks=frozenset({"T2"})))
corrupt("this truck never", "TRUCK-PINNED", lambda: order("O1", never_trucks=frozenset({"T1"})))
corrupt("hose too short", "HOSE-REACH", lambda: home("P1", hose_run_ft=301.0))
corrupt(
    "draws do not add up", "DRAW-SUM", lambda: work(1, 0, compartments=(Draw("1", 8.0),)), False
)
corrupt(
    "drawn from another mix",
    "DRAW-MIX",
    lambda: work(4, 0, compartments=(Draw("2", 6.0),)),
    alone=False,
)
corrupt("heel drawn", "DRAW-HEEL", lambda: tank(0, heel_gal=3.0), alone=False)
corrupt("hose taken for full", "HOSE-DRAW", lambda: work(1, 0, hose_gal=0.0), alone=False)
corrupt(
    "changeover not told",
    "HOSE-CHANGEOVER",
    lambda: work(4, 1, displaced_mix_id=None),
)
corrupt(
    "changeover takes no time",
    "HOSE-CHANGEOVER",
    lambda: work(4, 1, changeover_min=0.0, end_min=543.3),
    alone=False,
)

# Loading and cleaning -------------------------------------------------------------------------
corrupt(
    "a compartment not named",
    "LOAD-COMPARTMENTS",
    lambda: first_truck(loading={"1": "WEED", "2": "FEED"}),
)
corrupt(
    "idle truck loaded",
    "LOAD-IDLE",
    lambda: top(trucks=(FIRST, replace(PLAN.trucks[1], loading={"1": "WEED"}))),
)
corrupt(
    "one mix on two lines",
    "LOAD-LINE",
    lambda: first_truck(loading={"1": "WEED", "2": "FEED", "3": "WEED"}),
    alone=False,
)
corrupt("on top of a leftover", "LOAD-LEFTOVER", lambda: tank(0, leftover_gal=8.0), alone=False)
corrupt(
    "reserved compartment",
    "LOAD-RESERVED",
    lambda: first_truck(loading={"1": "WEED", "2": "FEED", "3": "FEED"}),
    alone=False,
)
corrupt(
    "its own compartment left for another",
    "LOAD-RESERVED",
    lambda: tank(2, reserved_for="fertilizer"),
    alone=False,
)
corrupt(
    "kept apart by line",
    "LOAD-APART",
    lambda: day(keep_apart=(KeepApart("broadleaf", "FEED", Scope.LINE, "they clot"),)),
    alone=False,
)
corrupt(
    "kept apart by truck",
    "LOAD-APART",
    lambda: (
        first_truck(loading={"1": "WEED", "2": "FEED", "3": "KILL"})[0],
        day(keep_apart=(KeepApart("non-selective", "any other", Scope.TRUCK, "kills grass"),))[1],
    ),
    alone=False,
)
corrupt(
    "a leftover rides along on the line",
    "LOAD-APART",
    # Compartment 2 keeps 6 gal of the non-selective on line A, where WEED runs.
    lambda: (
        first_truck(loading={"1": "WEED", "2": None, "3": None})[0],
        tank(1, last_mix="KILL", leftover_gal=6.0)[1],
    ),
    alone=False,
)
corrupt("cleaning left out", "CLEAN-MISSING", lambda: first_truck(cleaning=()), alone=False)
corrupt(
    "cleaning of a neighbor's tank left out",
    "CLEAN-MISSING",
    # Compartment 2 loaded with nothing, last used for the non-selective, on line A with WEED.
    lambda: (
        first_truck(loading={"1": "WEED", "2": None, "3": None})[0],
        tank(1, last_mix="KILL")[1],
    ),
    alone=False,
)
corrupt(
    "cleaning without need",
    "CLEAN-EXTRA",
    lambda: first_truck(
        cleaning=(
            *FIRST.cleaning,
            CleaningEntry("3", "KILL", 1, 1.0, 0.0, 0.0, "rinse tank", "to be sure"),
        )
    ),
)
corrupt(
    "too few rinses",
    "CLEAN-FIGURES",
    lambda: day(keep_apart=(KeepApart("broadleaf", "FEED", Scope.COMPARTMENT, "they clot"),)),
    alone=False,
)
corrupt("too little rinse water", "CLEAN-FIGURES", lambda: cleaning(water_gal_per_rinse=1.0))
corrupt("cleaning too quick", "CLEAN-FIGURES", lambda: cleaning(minutes=2.0), alone=False)
corrupt("residue made light of", "CLEAN-FIGURES", lambda: cleaning(residue_share=0.05))
corrupt("another last mix", "CLEAN-FIGURES", lambda: cleaning(last_mix="KILL"))
corrupt("rinse water elsewhere", "CLEAN-FIGURES", lambda: cleaning(rinsate_goes_to="the drain"))

# Fills ----------------------------------------------------------------------------------------
corrupt("mix not made there", "FILL-SITE", lambda: site("W1", mixes=frozenset({"FEED"})), False)
corrupt("wrong mix filled", "FILL-MIX", lambda: fill(2, 1, mix_id="KILL"), alone=False)
corrupt(
    "filled twice",
    "FILL-TWICE",
    lambda: stop(2, fills=(*STOPS[2].fills, STOPS[2].fills[0])),
    alone=False,
)
corrupt("part of a gallon", "FILL-GAL", lambda: fill(2, 1, gal=16.4), alone=False)
corrupt("level before the fill", "FILL-LEVEL", lambda: fill(2, 0, level_before_gal=0.0))
corrupt("level after the fill", "FILL-LEVEL", lambda: fill(2, 0, level_after_gal=9.94))
corrupt("over the full mark", "FILL-CAPACITY", lambda: tank(1, capacity_gal=16.0), alone=False)
corrupt("runs dry", "FILL-SHORT", lambda: fill(2, 1, gal=15.0), alone=False)
corrupt("more than the margin", "FILL-TOO-MUCH", lambda: fill(2, 1, gal=18.0), alone=False)
corrupt("margin left out", "FILL-MARGIN", lambda: fill(2, 1, gal=16.0), alone=False)
corrupt(
    "a fill that nothing needs",
    "FILL-UNNEEDED",
    lambda: stop(0, fills=(*STOPS[0].fills, replace(STOPS[2].fills[1], order_ids=()))),
    alone=False,
)
corrupt("water of a fill", "FILL-WATER", lambda: fill(0, 0, water_gal=14.0))
corrupt(
    "too much product in a fill",
    "FILL-PRODUCTS",
    lambda: fill(0, 0, products=(ProductAmount("three-way", 0.1, "gal"),)),
)
corrupt(
    "a product that is not in the mix",
    "FILL-PRODUCTS",
    lambda: fill(0, 0, products=(*STOPS[0].fills[0].products, ProductAmount("urea", 1.0, "lb"))),
)
corrupt("weight of a fill", "FILL-WEIGHT", lambda: fill(0, 0, weight_lb=120.0))
corrupt("orders of a fill", "FILL-ORDERS", lambda: fill(0, 0, order_ids=("O1", "O3")))
corrupt("over the rating", "WEIGHT-GVWR", lambda: truck(gvwr_lb=9200.0))
corrupt("weight after a stop", "WEIGHT-FIGURE", lambda: stop(2, weight_lb_after=9100.0))
corrupt(
    "gallons before the first fill",
    "START-LEVEL",
    lambda: first_truck(start_gal={"1": 1.0, "2": 0.0, "3": 0.0}),
)
corrupt("gallons left", "END-LEVEL", lambda: first_truck(end_gal={"1": 1.94, "2": 0.0, "3": 0.0}))

# The store: the fills of WEED are 15 + 6 gal at 0.64 fl oz to the gallon: 13.44 fl oz, and at 9 lb
# to the gallon 0.945 lb.
for _amount in ("0 gal", "13.4 fl oz", "0.94 lb"):
    corrupt(
        f"{_amount} in the store",
        "STORE-MORE",
        lambda amount=_amount: product("three-way", in_store=parse_amount(amount, zero=True)),  # type: ignore[misc]
    )

# Totals ---------------------------------------------------------------------------------------
for _name, _value in (
    ("drive_min", 20.0),
    ("refill_min", 5.0),
    ("spray_min", 13.0),
    ("setup_min", 12.0),
    ("changeover_min", 0.0),
    ("wait_min", 0.0),
    ("cleaning_min", 0.0),
    ("paid_min", 72.83),
    ("overtime_min", 0.0),
    ("refills", 2),
    ("gal", 30.0),
    ("cost", 80.0),
):
    corrupt(
        f"truck's {_name}",
        "TOTAL-TRUCK",
        lambda name=_name, value=_value: total(**{name: value}),  # type: ignore[misc]
        alone=False,
    )


@pytest.mark.parametrize("amount", ["13.45 fl oz", "0.95 lb"])
def test_what_the_store_holds_may_be_used(amount: str) -> None:
    plan, day_of_plan = product("three-way", in_store=parse_amount(amount))
    assert audit(plan, day_of_plan, TRAVEL) == ()


@pytest.mark.parametrize(
    ("text", "code", "alone", "make"),
    CATALOG,
    ids=[row[0].replace(" ", "-") for row in CATALOG],
)
def test_corruption_is_caught(text: str, code: str, alone: bool, make: Callable[[], Case]) -> None:
    plan, day_of_plan = make()
    found = audit(plan, day_of_plan, TRAVEL)
    codes = {row.code for row in found}
    assert code in codes, [str(row) for row in found]
    if alone:
        assert codes == {code}, [str(row) for row in found]
    for row in found:
        assert row.code in VIOLATION_CODES
        assert row.message
