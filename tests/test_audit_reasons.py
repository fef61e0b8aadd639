# ruff: noqa: E501 (one case, one row: the reasons read as an office reads them)
"""The audit reads reasons: true ones pass; false codes, figures, names, offers and origins do not.
The day is the one worked out by hand (tests/hand_plan.py) with its unserved order O5
(FEED, 3 gal per 1,000 ft2 at P4, nine minutes from the yard; 4 min set-up, 2 gal/min) changed so
that each code applies; the figures stand beside the cases. A review corrupted 87 plans; those that
slipped through then are the ones here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.orders import WeatherHour
from planner.plan.audit import Auditor, audit
from planner.plan.model import NotDone, Plan
from planner.units import parse_amount
from tests.days import DAY
from tests.hand_plan import GRASS_WORDS, LARGE_WORDS, TRAVEL, hand_day, hand_plan

PLAN = hand_plan()
WORDS = {"PLAN-MADE", "REASON-CODE", "REASON-FIGURE", "OFFER", "PIN-UNKNOWN", "CLEAN-FIGURES"}


def day_with(**tables: Mapping[str, Mapping[str, Any]]) -> Day:
    """The day with changed rows: table = {row: {column: value}}."""
    day = hand_day()
    changed = {}
    for table, rows in tables.items():
        old = getattr(day.workbook, table)
        changed[table] = old | {name: replace(old[name], **cells) for name, cells in rows.items()}
    book = replace(day.workbook, **changed)
    return replace(day, workbook=book, orders={name: book.orders[name] for name in day.orders})


def found(plan: Plan, day: Day, roads: tuple[str, str] | None = None) -> set[str]:
    """Codes of what concerns words."""
    return {row.code for row in audit(plan, day, TRAVEL, roads)} & WORDS


def of_o5(code: str, reason: str) -> Plan:
    return replace(PLAN, unserved=(NotDone("O5", code, reason),))


SMALL = {"O5": {"area_ft2": 3000.0}}  # 9 gal
NOBODY = day_with(orders={"O5": {"only_trucks": frozenset({"T9"})}})
FAR = day_with(properties={"P4": {"hose_run_ft": 400.0}}, orders=SMALL)
# 15,000 ft2 are 45 gal, with the hose 48.06: 49 gal x 8.54 lb = 418 lb on T2, 9,000 lb empty.
HEAVY = day_with(
    orders={"O5": {"area_ft2": 15000.0}},
    trucks={"T2": {"gvwr_lb": 9300.0}, "T1": {"gvwr_lb": 9300.0}},
)
# T2 at P4 at 7:39, 4 min and 4.5 min of spraying: done at 7:47:30.
EARLY = day_with(orders={"O5": {"area_ft2": 3000.0, "windows": (Window(420.0, 465.0),)}})
SHORT = day_with(orders={"O5": {"area_ft2": 3000.0, "windows": (Window(480.0, 488.0),)}})
LATE = day_with(
    orders={"O5": {"area_ft2": 3000.0, "windows": (Window(1080.0, 1140.0),)}},
)
CLOSED = day_with(orders=SMALL, sites={"Y1": {"mixes": frozenset()}, "W1": {"close_min": 460.0}})
# 30 miles of driving would not do: a shift of 15 minutes is less than twice nine.
BRIEF = day_with(orders=SMALL, trucks={name: {"shift_end_min": 400.0} for name in ("T1", "T2")})
# FEED only on T2, which is loaded with nothing; priced at 1,200 (priority 2) on its last day.
ONLY_T1 = day_with(orders={"O5": {"area_ft2": 3000.0, "only_trucks": frozenset({"T1"})}})
KILL_T1 = day_with(
    orders={"O5": {"area_ft2": 3000.0, "mix_id": "KILL", "only_trucks": frozenset({"T1"})}},
)
# Urea: T1 fills 17 gal of FEED at 0.2 lb: 3.4 lb; O5 takes 1.8 lb.
STOCK = day_with(orders=SMALL, products={"urea": {"in_store": parse_amount("4 lb")}})
PRICED = "doing it with T1 would cost 1300 more; leaving it out is priced at 1200"

TRUE = [
    (hand_day(), "TOO-LARGE", LARGE_WORDS),
    (NOBODY, "NO-TRUCK", "no truck in service may do it (only/never trucks)"),
    (FAR, "NO-HOSE", "needs 400 ft of hose; the longest that can carry FEED has 300 ft"),
    (HEAVY, "TOO-HEAVY", "its 45.0 gal of FEED with what the truck must carry pass the rating"),
    (EARLY, "WINDOW", "its last window closes at 7:45 AM; T2 straight from the yard would be done at 7:48 AM"),
    (SHORT, "WINDOW", "T2 takes longer for it than its longest window of 8 min"),
    (LATE, "WINDOW", "T2 must be back by 5:30 PM, and its windows (6:00 PM to 7:00 PM) do not leave it the time"),
    (CLOSED, "SITE", "no site that is open in time makes FEED"),
    (BRIEF, "SHIFT", "driving and spraying it alone take longer than any truck's day"),
    (ONLY_T1, "FULL", "the day is full"),
    (ONLY_T1, "PRICE", f"{PRICED}; a price of 1301 would serve it"),
    (KILL_T1, "LOADING", "T1 could carry KILL but is loaded with other mixes"),
    (KILL_T1, "LOADING", "T1 could carry KILL but is loaded with other mixes; loading one of them for it would leave out O1 instead"),
    (STOCK, "STORE", "the store holds 4 lb of urea; the orders that go first take 3 lb 6.5 oz wt, margins and hoses included, and with this one 1 lb 4 oz wt would be lacking"),
    (ONLY_T1, "HAND", "taken out by hand"),
    (ONLY_T1, "FULL", "the day is full; nothing that was tried would make room for it"),
    (ONLY_T1, "FULL", "the day is full; what would make room: 12 more minutes on truck T1, or one more truck and crew like T1"),
    (ONLY_T1, "FULL", "the day is full; what would make room: allowing truck T2"),
    (EARLY, "WINDOW", "its last window closes at 7:45 AM; T2 straight from the yard would be done at 7:48 AM; what would make room: a window until 7:50 AM on truck T2"),
    (FAR, "NO-HOSE", "needs 400 ft of hose; the longest that can carry FEED has 300 ft; what would make room: 400 ft of hose on line A of truck T2"),
    (hand_day(), "TOO-LARGE", f"{LARGE_WORDS}; what would make room: one more compartment of 94 gal for FEED on line A of truck T2"),
    (hand_day(), "TOO-LARGE", f"{LARGE_WORDS}; what would make room: 2 equal orders instead of one on truck T2"),
    (HEAVY, "TOO-HEAVY", "its 45.0 gal of FEED pass it; what would make room: 130 lb more weight rating on truck T2"),
]  # fmt: skip


@pytest.mark.parametrize(("day", "code", "reason"), TRUE)
def test_what_is_true_passes(day: Day, code: str, reason: str) -> None:
    rows = [str(row) for row in audit(of_o5(code, reason), day, TRAVEL) if row.code in WORDS]
    assert rows == []


FALSE = [
    # Codes that the tables refute.
    (ONLY_T1, "MOOD", "the day is full", "REASON-CODE"),
    (hand_day(), "FULL", "the day is full", "REASON-CODE"),
    (hand_day(), "TOO-HEAVY", "its 90.0 gal of FEED pass it", "REASON-CODE"),
    (hand_day(), "STORE", "the store holds too little", "REASON-CODE"),
    (STOCK, "NO-TRUCK", "no truck in service may do it", "REASON-CODE"),
    (STOCK, "NO-MIX", "T1 and T2 cannot be loaded with FEED", "REASON-CODE"),
    (STOCK, "TOO-LARGE", LARGE_WORDS, "REASON-CODE"),
    (STOCK, "TOO-HEAVY", "its 9.0 gal of FEED pass it", "REASON-CODE"),
    (STOCK, "SHIFT", "driving and spraying it alone take longer than any truck's day", "REASON-CODE"),
    (STOCK, "SITE", "no site that is open in time makes FEED", "REASON-CODE"),
    (STOCK, "SITE", "the trucks that could do it would wait too long", "REASON-CODE"),
    (STOCK, "NEVER-OPEN", "its customer's times and the weather leave no time", "REASON-CODE"),
    (STOCK, "FULL", "the day is full", "REASON-CODE"),  # T2 stays home
    (SHORT, "FULL", "the day is full", "REASON-CODE"),
    (HEAVY, "FULL", "the day is full", "REASON-CODE"),
    (BRIEF, "LOADING", "T1 and T2 could carry FEED but are loaded with other mixes", "REASON-CODE"),
    (ONLY_T1, "LOADING", "T1 could carry FEED but is loaded with other mixes", "REASON-CODE"),
    (ONLY_T1, "STORE", "the store holds 4 lb of urea; the orders that go first take 3 lb, margins and hoses included, and with this one 1 lb would be lacking", "REASON-CODE"),
    # Figures and names.
    (FAR, "NO-HOSE", "needs 390 ft of hose; the longest that can carry FEED has 300 ft", "REASON-FIGURE"),
    (FAR, "NO-HOSE", "needs 400 ft of hose; the longest that can carry FEED has 350 ft", "REASON-FIGURE"),
    (hand_day(), "TOO-LARGE", LARGE_WORDS.replace("90.0", "95.0"), "REASON-FIGURE"),
    (hand_day(), "TOO-LARGE", LARGE_WORDS.replace("50 gal", "60 gal"), "REASON-FIGURE"),
    (HEAVY, "TOO-HEAVY", "its 54.0 gal of FEED pass it", "REASON-FIGURE"),
    (EARLY, "WINDOW", "its last window closes at 7:40 AM; T2 straight from the yard would be done at 7:48 AM", "REASON-FIGURE"),
    (EARLY, "WINDOW", "its last window closes at 7:45 AM; T2 straight from the yard would be done at 7:44 AM", "REASON-FIGURE"),
    (SHORT, "WINDOW", "T2 takes longer for it than its longest window of 9 min", "REASON-FIGURE"),
    (LATE, "WINDOW", "T2 takes longer for it than its longest window of 60 min", "REASON-FIGURE"),
    (LATE, "WINDOW", "T2 must be back by 6:30 PM, and its windows (6:00 PM to 7:00 PM) do not leave it the time", "REASON-FIGURE"),
    (LATE, "WINDOW", "T2 must be back by 5:30 PM, and its windows (6:00 PM to 8:00 PM) do not leave it the time", "REASON-FIGURE"),
    (ONLY_T1, "PRICE", f"{PRICED.replace('1200', '1100')}; a price of 1301 would serve it", "REASON-FIGURE"),
    (ONLY_T1, "PRICE", f"{PRICED.replace('1300', '900')}; a price of 901 would serve it", "REASON-FIGURE"),
    (ONLY_T1, "PRICE", f"{PRICED}; a price of 1400 would serve it", "REASON-FIGURE"),
    (KILL_T1, "LOADING", "T2 could carry KILL but is loaded with other mixes", "REASON-FIGURE"),
    (KILL_T1, "LOADING", "T1 could carry KILL but is loaded with other mixes; loading one of them for it would leave out O4 instead", "REASON-FIGURE"),
    (STOCK, "STORE", "the store holds 5 lb of urea; the orders that go first take 3 lb 6.5 oz wt, margins and hoses included, and with this one 1 lb 4 oz wt would be lacking", "REASON-FIGURE"),
    (STOCK, "STORE", "the store holds 4 lb of urea; the orders that go first take 2 lb, margins and hoses included, and with this one 1 lb 4 oz wt would be lacking", "REASON-FIGURE"),
    (STOCK, "STORE", "the store holds 4 lb of urea; the orders that go first take 3 lb 6.5 oz wt, margins and hoses included, and with this one 0 oz wt would be lacking", "REASON-FIGURE"),
    (STOCK, "STORE", "the store holds too little", "REASON-FIGURE"),
]  # fmt: skip

ROOM = "the day is full; what would make room: "
OFFERS = [
    (ONLY_T1, "12 more minutes on truck T2"),  # may not do it
    (ONLY_T1, "12 more minutes on truck T7"),
    (ONLY_T1, "allowing truck T1"),
    (ONLY_T1, "a window until 9:00 AM on truck T1"),  # has none to make longer
    (ONLY_T1, "200 ft of hose on line A of truck T1"),
    (ONLY_T1, "400 ft of hose on line Z of truck T1"),
    (ONLY_T1, "another loading (1: FEED, 2: FEED) on truck T1"),  # leaves out WEED
    (ONLY_T1, "another loading (1: WEED, 3: FEED) on truck T1"),  # reserved
    (ONLY_T1, "one more compartment of 5 gal for WEED on line A of truck T1"),
    (ONLY_T1, "goodwill on truck T1"),
    (ONLY_T1, "some luck"),
    (KILL_T1, "12 more minutes on truck T1"),  # does not carry it
    (KILL_T1, "one more compartment of 30 gal for KILL on line N of truck T1"),  # not reserved
    (KILL_T1, "one more compartment of 30 gal, reserved for broadleaf, for KILL on line N of truck T1"),
    (KILL_T1, "one more compartment of 30 gal, reserved for non-selective, for KILL on line A of truck T1"),
]  # fmt: skip


@pytest.mark.parametrize(("day", "code", "reason", "expected"), FALSE)
def test_what_is_false_is_caught(day: Day, code: str, reason: str, expected: str) -> None:
    assert expected in found(of_o5(code, reason), day)


@pytest.mark.parametrize(("day", "offer"), OFFERS)
def test_false_offers_are_caught(day: Day, offer: str) -> None:
    assert "OFFER" in found(of_o5("FULL", ROOM + offer), day)


@pytest.mark.parametrize(
    ("day", "code", "offer"),
    [
        (EARLY, "WINDOW", "a window until 7:45 AM on truck T2"),  # it has that
        (EARLY, "WINDOW", "a window until 7:46 AM on truck T2"),
        (EARLY, "WINDOW", "a window from 5:00 AM on truck T2"),
        (HEAVY, "TOO-HEAVY", "100 lb more weight rating on truck T2"),
        (FAR, "NO-HOSE", "390 ft of hose on line A of truck T2"),
        (FAR, "NO-HOSE", "one more truck and crew like T2"),
        (BRIEF, "SHIFT", "10 more minutes on truck T2"),
        (hand_day(), "TOO-LARGE", "one more compartment of 30 gal for FEED on line A of truck T2"),
    ],
)
def test_offers_that_are_too_small_are_caught(day: Day, code: str, offer: str) -> None:
    assert "OFFER" in found(of_o5(code, f"words; what would make room: {offer}"), day)


def with_truck(plan: Plan, name: str, **cells: Any) -> Plan:
    """The plan with other cells of one truck, changed by hand."""
    trucks = (replace(one, **cells) if one.truck_id == name else one for one in plan.trucks)
    return replace(plan, trucks=tuple(trucks), engine="nearest-fit, changed by hand")


def test_an_offer_is_looked_at_again_when_its_truck_is_another() -> None:
    """One auditor, plan after plan. What T1 carries and sprays, and whether it stays home, decides
    whether it carries FEED for O5; T2 could be done at P4 at 7:47:30, and its 4 min of set-up
    earlier if it stood there anyway."""
    stops, none = PLAN.trucks[0].stops, dict.fromkeys("123")
    kill = tuple(
        replace(stop, orders=tuple(replace(work, mix_id="KILL") for work in stop.orders))
        for stop in stops
    )
    minutes = of_o5("FULL", ROOM + "12 more minutes on truck T1")
    window = of_o5("WINDOW", "words; what would make room: a window until 7:46 AM on truck T2")
    feed = tuple(replace(stop, orders=stop.orders[1:]) for stop in stops if stop.orders[1:])
    at_p4 = tuple(replace(stop, place_id="P4") for stop in feed)
    for day, cases in (
        (
            ONLY_T1,
            [
                (with_truck(minutes, "T1"), True),
                (with_truck(minutes, "T1", loading=none), False),
                (with_truck(minutes, "T1", stops=kill), False),
                (with_truck(minutes, "T1", loading=none, stops=stops[:1]), False),
                (with_truck(minutes, "T1", loading=none, stops=()), True),
            ],
        ),
        (
            EARLY,
            [
                (with_truck(window, "T2", loading={"1": "FEED"}, stops=feed), False),
                (with_truck(window, "T2", loading={"1": "FEED"}, stops=at_p4), True),
            ],
        ),
    ):
        auditor = Auditor(day, TRAVEL)
        for plan, good in (*cases, *cases):
            assert good == ("OFFER" not in {row.code for row in auditor.audit(plan)})


def test_an_hour_that_the_weather_closes_is_no_room() -> None:
    """Wind from 8 on: T2 could be done at 8:10 with a window until then, but for the wind."""
    rows = tuple(
        WeatherHour(DAY, hour, "", 3.0 if hour < 8 else 30.0, None, 60.0, 0.0, 0.0)
        for hour in range(24)
    )
    day = day_with(
        orders={"O5": {"area_ft2": 18000.0, "windows": (Window(420.0, 465.0),), "only_trucks": frozenset({"T1"})}},
        products={"urea": {"wind_most_mph": 10.0}},
    )  # fmt: skip
    day = replace(day, workbook=replace(day.workbook, weather=rows))
    reason = "no words; what would make room: a window until 9:00 AM on truck T1"
    assert "OFFER" in found(of_o5("WINDOW", reason), day)


SOWN = day_with(
    properties={"P3": {"grass": "Bluegrass", "grass_since": date(2027, 4, 1)}},
    products={"three-way": {"stand_days_least": 30}},
)
SOWN_WORDS = (
    "the lawn was sown 13 days ago (2027-04-01), three-way asks for 30; not before 2027-05-01"
)
HELD = [
    (hand_day(), "GRASS", GRASS_WORDS, True),
    (hand_day(), "GRASS", GRASS_WORDS.replace("is Bentgrass", "is Fescue"), False),
    (hand_day(), "GRASS", GRASS_WORDS.replace("three-way", "urea"), False),
    (SOWN, "STAND", SOWN_WORDS, True),
    (SOWN, "STAND", SOWN_WORDS.replace("13 days", "14 days"), False),
    (SOWN, "STAND", SOWN_WORDS.replace("04-01", "04-02"), False),
    (SOWN, "STAND", SOWN_WORDS.replace("asks for 30", "asks for 60"), False),
    (SOWN, "STAND", SOWN_WORDS.replace("05-01", "05-02"), False),
    (SOWN, "STAND", SOWN_WORDS + "; 12 others are held", False),
    (SOWN, "STAND", "too young", False),
]


@pytest.mark.parametrize(("day", "code", "reason", "right"), HELD)
def test_what_holds_an_order_back_is_told_right(
    day: Day, code: str, reason: str, right: bool
) -> None:
    """Sown on April 1, the day is April 14: 13 days; 30 days are over on May 1."""
    plan = replace(PLAN, held=(NotDone("O4", code, reason),))
    assert found(plan, day) == (set() if right else {"REASON-FIGURE"})


@pytest.mark.parametrize(
    "changes",
    [
        {"engine": "magic"},
        {"effort": "a while"},
        {"seed": -1},
        {"roads": "straight lines"},
        {"roads_warning": "NO ROAD MAP"},
        {"pinned": ("O1", "O1")},
        {"pinned": ("O5",)},
    ],
    ids=str,
)
def test_how_the_plan_was_made_is_looked_at(changes: dict[str, Any]) -> None:
    assert found(PLAN, hand_day(), ("given", "")) == set()
    assert found(replace(PLAN, **changes), hand_day(), ("given", ""))


@pytest.mark.parametrize(
    "why", ["WEED goes in", "KILL goes in after FEED", "WEED goes in after FEED: fun"]
)
def test_why_a_compartment_is_cleaned_is_looked_at(why: str) -> None:
    truck = PLAN.trucks[0]
    entry = replace(truck.cleaning[0], why=why)
    plan = replace(PLAN, trucks=(replace(truck, cleaning=(entry,)), *PLAN.trucks[1:]))
    assert found(plan, hand_day()) == {"CLEAN-FIGURES"}
