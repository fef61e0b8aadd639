"""A day and its plan worked out by hand, every figure with its arithmetic beside it.

Yard Y1, water point W1, properties P1 to P4. Drive: Y1-P1 10 min 5 mi, P1-W1 2 min 1 mi, W1-P2
2 min 1 mi, P2-Y1 8 min 4 mi. Truck T1: line A, 300 ft of 1/2-in hose: pi/4 x 0.25 in2 x 3600 in /
231 in3 = 3.06 gal (NWCG Table 3.1 prints 4.1 gal per 100 ft of 1 in; a quarter of the bore area is
1.02 gal per 100 ft); gun 2 gal/min. Both sites: 5 min, then 10 gal/min.

WEED: 2 gal per 1,000 ft2 with 1.28 fl oz = 0.01 gal of three-way: 0.005 gal of it to the gallon;
a gallon weighs 0.005 x 9 + 0.995 x 8.34 = 8.3433 lb. FEED: 3 gal per 1,000 ft2 with 0.6 lb of dry
urea: 0.2 lb to the gallon, 8.34 + 0.2 = 8.54 lb.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from planner.day.clock import Window
from planner.day.day import Day, day_of
from planner.day.orders import PastApplication
from planner.day.products import Form, KeepApart, Scope
from planner.plan.model import (
    PLAN_VERSION,
    CleaningEntry,
    DayTotals,
    Draw,
    Fill,
    NotDone,
    Plan,
    ProductAmount,
    Stop,
    Totals,
    TruckPlan,
    Work,
)
from planner.roads.travel import Travel
from planner.units import Amount
from tests.days import (
    DAY,
    compartment,
    home,
    line,
    mix,
    order,
    product,
    settings,
    site,
    truck,
    workbook,
)

PLACES = ("Y1", "W1", "P1", "P2", "P3", "P4")
MINUTES = np.array(
    [
        [0, 5, 10, 8, 9, 9],
        [5, 0, 2, 2, 9, 9],
        [10, 2, 0, 6, 9, 9],
        [8, 2, 6, 0, 9, 9],
        [9, 9, 9, 9, 0, 9],
        [9, 9, 9, 9, 9, 0],
    ],
    dtype=float,
)
MILES = np.array(
    [
        [0, 2, 5, 4, 4, 4],
        [2, 0, 1, 1, 4, 4],
        [5, 1, 0, 3, 4, 4],
        [4, 1, 3, 0, 4, 4],
        [4, 4, 4, 4, 0, 4],
        [4, 4, 4, 4, 4, 0],
    ],
    dtype=float,
)
TRAVEL = {"T1": Travel(PLACES, MINUTES, MILES), "T2": Travel(PLACES, MINUTES, MILES)}

HOSE = 3.06
METERED = {15.0: 15.0, 6.0: 6.0}
"""14.925 and 5.97 gal of water, up to the meter's tenth."""
FL_OZ = {15.0: 9.6, 6.0: 3.8}
"""0.075 gal = 9.60 fl oz and 0.03 gal = 3.84 fl oz of three-way, to the jug's tenth."""
GRASS_WORDS = "three-way must not touch bentgrass; the lawn's grass is Bentgrass"
LARGE_WORDS = (
    # 30,000 ft2 at 3 gal per 1,000 ft2; T1 holds 19 + 19.5 gal above the heels on its line A.
    "needs 90.0 gal of FEED; the most a truck can pump from one fill is 50 gal (T2)"
)
WEED_LB = 8.3433
FEED_LB = 8.54


def hand_day() -> Day:
    """One truck that goes out, one that stays; five orders, of which one is held by its grass and
    one does not fit."""
    homes = (
        home("P1", 40.01, -83.0, 5000.0, hose_run_ft=250.0),
        home("P2", 40.02, -83.0, 4000.0),
        home("P3", 40.03, -83.0, 9000.0, grass="Bentgrass"),
        home("P4", 40.04, -83.0, 30000.0),
    )
    tanks = (
        compartment("1", 20.0, "A", 1, heel_gal=1.0, last_mix="FEED", leftover_gal=1.0),
        compartment("2", 20.0, "A", 2, heel_gal=0.5),
        compartment("3", 10.0, "N", 3, reserved_for="non-selective"),
    )
    book = workbook(
        sites=(site("Y1", 40.0, -83.0), site("W1", 40.0, -83.01)),
        trucks=(
            truck(
                "T1",
                (line("A"), line("N", hose_ft=150.0)),
                tanks,
                shift_end_min=540.0,
                lunch_min=30.0,
                lunch_earliest_min=495.0,
                lunch_latest_min=520.0,
            ),
            truck("T2", (line("A"),), (compartment("1", 50.0, "A", 1),)),
        ),
        products=(
            product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft", not_on_grass=("bentgrass",)),
            product(
                "urea",
                "fertilizer",
                "1 lb/1000 sq ft",
                form=Form.DRY,
                formulation="FERT",
                density_lb_per_gal=None,
                least_days_between=20,
                most_per_year=4,
            ),
            product("burndown", "non-selective", "2 % v/v"),
        ),
        mixes=(
            mix("WEED", 2.0, **{"three-way": "1.28 fl oz/1000 sq ft"}),
            mix("FEED", 3.0, urea="0.6 lb/1000 sq ft"),
            mix("KILL", 1.0, burndown="2 % v/v"),
        ),
        properties=homes,
        orders=(
            order("O1", homes[0], "WEED", windows=(Window(480.0, 540.0),)),
            order("O2", homes[1], "FEED"),
            order("O3", homes[1], "WEED", area_ft2=3000.0),
            order("O4", homes[2], "WEED"),
            order("O5", homes[3], "FEED"),
        ),
        keep_apart=(KeepApart("non-selective", "any other", Scope.LINE, "kills grass"),),
        history=(
            # 20 days before the 14th is the 25th of March: just far enough.
            PastApplication(
                "P2", "urea", date(2027, 3, 25), 4000.0, Amount(2.4, "lb", "mass", 2.4)
            ),
        ),
        settings=settings(),
    )
    return day_of(book, DAY)


def hand_plan() -> Plan:
    """Its plan: clean, fill WEED, wait for P1, refill and eat at W1, two orders at P2, home."""
    totals = Totals(
        drive_min=22.0,  # 10 + 2 + 2 + 8
        drive_miles=11.0,  # 5 + 1 + 1 + 4
        refill_min=7.3,
        spray_min=14.0,  # 5 + 3 + 6
        setup_min=8.0,
        changeover_min=1.53,
        wait_min=20.0,  # 7:40 to 8:00 at P1
        lunch_min=30.0,
        cleaning_min=8.0,
        paid_min=80.83,  # 552.83 - 450 - 30 + 8
        overtime_min=12.83,  # 552.83 - 540
        refills=1,
        visits=2,
        orders=3,
        gal=28.0,
        # 80.83 min x 0.40 $/min + 12.83 x 0.40 x 0.5 + 11 mi x 0.72 + 40.
        cost=82.818,
    )
    first = TruckPlan(
        truck_id="T1",
        loading={"1": "WEED", "2": "FEED", "3": None},
        # Rinsed out, never filled, clean.
        start_gal={"1": 0.0, "2": 0.0, "3": 0.0},
        # FEED and WEED may meet: one rinse of 10 % of 20 gal; 1 / (1 + 2) of FEED is left.
        cleaning=(
            CleaningEntry("1", "FEED", 1, 2.0, 8.0, 1 / 3, "rinse tank", "WEED goes in after FEED"),
        ),
        stops=_stops(),
        end_gal={"1": 1.94, "2": 1.94, "3": 0.0},
        totals=totals,
    )
    idle = TruckPlan(
        "T2", {"1": None}, {"1": 0.0}, (), (), {"1": 0.0}, Totals(*[0.0] * 11, 0, 0, 0, 0.0, 0.0)
    )
    return Plan(
        version=PLAN_VERSION,
        date="2027-04-14",
        workbook_sha256="0" * 64,
        seed=1,
        effort="count 1",
        engine="nearest-fit",
        roads="given",
        roads_warning="",
        trucks=(first, idle),
        held=(NotDone("O4", "GRASS", GRASS_WORDS),),
        unserved=(NotDone("O5", "TOO-LARGE", LARGE_WORDS),),
        totals=DayTotals(totals, 1, 1),
    )


def _stops() -> tuple[Stop, ...]:
    return (
        Stop(
            *(0, "depart", "Y1", 40.0, -83.0, 0.0, 0.0, 450.0, 450.0, 450.0),
            weight_lb_after=9000 + 15 * WEED_LB,
            # Until W1: 10 gal x 1.05 + 3.06 for the hose + 1 gal of heel = 14.56 -> 15 gal. FEED is
            # not needed before W1.
            fills=(_weed_fill(15.0, 0.0, ("O1",)),),
        ),
        Stop(
            # Arrives 7:40, waits for 8:00; set-up to 8:04; 10 gal at 2 gal/min to 8:09.
            *(1, "visit", "P1", 40.01, -83.0, 10.0, 5.0, 460.0, 480.0, 489.0),
            weight_lb_after=9000 + 1.94 * WEED_LB,  # 15 - 10 - 3.06
            orders=(
                Work(
                    order_id="O1",
                    mix_id="WEED",
                    line_id="A",
                    area_ft2=5000.0,
                    gal=10.0,
                    compartments=(Draw("1", 10.0),),
                    hose_gal=HOSE,
                    hose_compartments=(Draw("1", HOSE),),
                    displaced_mix_id=None,
                    changeover_min=0.0,
                    begin_min=484.0,
                    spray_min=5.0,
                    end_min=489.0,
                    products=(ProductAmount("three-way", 0.05, "gal"),),
                ),
            ),
        ),
        Stop(
            # 5 min and 6 + 17 gal at 10 gal/min: 7.3 min.
            *(2, "refill", "W1", 40.0, -83.01, 2.0, 1.0, 491.0, 491.0, 498.3),
            weight_lb_after=9000 + 7.94 * WEED_LB + 17 * FEED_LB,
            fills=(
                # 0.94 gal over the heel; 6 x 1.05 - 0.94 = 5.36 -> 6 gal.
                _weed_fill(6.0, 1.94, ("O3",)),
                # 12 x 1.05 + 3.06 + 0.5 of heel = 16.16 -> 17 gal; 17 x 0.2 = 3.4 lb of urea.
                Fill(
                    compartment_id="2",
                    mix_id="FEED",
                    gal=17.0,
                    water_gal=17.0,
                    level_before_gal=0.0,
                    level_after_gal=17.0,
                    weight_lb=17 * FEED_LB,
                    products=(ProductAmount("urea", 3.4, "lb"),),
                    order_ids=("O2",),
                    metered_water_gal=17.0,
                    # 54.4 oz by weight, in steps of half an ounce.
                    measured=(ProductAmount("urea", 54.5 / 16, "lb"),),
                ),
            ),
        ),
        Stop(
            *(3, "lunch", "W1", 40.0, -83.01, 0.0, 0.0, 498.3, 498.3, 528.3),
            weight_lb_after=9000 + 7.94 * WEED_LB + 17 * FEED_LB,
        ),
        Stop(
            *(4, "visit", "P2", 40.02, -83.0, 2.0, 1.0, 530.3, 530.3, 544.83),
            weight_lb_after=9000 + 1.94 * WEED_LB + 1.94 * FEED_LB,
            orders=(
                Work(
                    order_id="O3",
                    mix_id="WEED",
                    line_id="A",
                    area_ft2=3000.0,
                    gal=6.0,
                    compartments=(Draw("1", 6.0),),
                    hose_gal=0.0,
                    hose_compartments=(),
                    displaced_mix_id=None,
                    changeover_min=0.0,
                    begin_min=534.3,
                    spray_min=3.0,
                    end_min=537.3,
                    products=(ProductAmount("three-way", 0.03, "gal"),),
                ),
                Work(
                    order_id="O2",
                    mix_id="FEED",
                    line_id="A",
                    area_ft2=4000.0,
                    gal=12.0,
                    compartments=(Draw("2", 12.0),),
                    hose_gal=HOSE,
                    hose_compartments=(Draw("2", HOSE),),
                    displaced_mix_id="WEED",
                    changeover_min=1.53,  # 3.06 gal at 2 gal/min
                    begin_min=537.3,
                    spray_min=6.0,
                    end_min=544.83,
                    products=(ProductAmount("urea", 2.4, "lb"),),
                ),
            ),
        ),
        Stop(
            *(5, "return", "Y1", 40.0, -83.0, 8.0, 4.0, 552.83, 552.83, 552.83),
            weight_lb_after=9000 + 1.94 * WEED_LB + 1.94 * FEED_LB,
        ),
    )


def _weed_fill(gal: float, before_gal: float, order_ids: tuple[str, ...]) -> Fill:
    return Fill(
        compartment_id="1",
        mix_id="WEED",
        gal=gal,
        water_gal=gal * 0.995,
        level_before_gal=before_gal,
        level_after_gal=before_gal + gal,
        weight_lb=gal * WEED_LB,
        products=(ProductAmount("three-way", gal * 0.005, "gal"),),
        order_ids=order_ids,
        metered_water_gal=METERED[gal],
        measured=(ProductAmount("three-way", FL_OZ[gal] / 128, "gal"),),
    )
