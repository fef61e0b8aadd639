"""Staying near to an earlier plan: which truck an order keeps, and what is told about it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.day.day import Day, day_of
from planner.day.places import Property
from planner.plan.audit import audit
from planner.plan.keep import STREETS_MILES, kept_trucks, moves, pins_told, stayed, still_pinned
from planner.plan.model import NotDone, Plan
from planner.roads.sphere import FT_PER_DEG, FT_PER_MILE
from planner.tables.starter import starter_files
from tests.days import home, order
from tests.hand_plan import TRAVEL, hand_day, hand_plan

MILE_DEG = FT_PER_MILE / FT_PER_DEG
"""A mile to the north, in degrees."""


def day_with(*homes: Property, mix_id: str = "WEED", **changes: object) -> Day:
    """The hand-worked day with these properties instead, one order N1, N2 ... at each."""
    book = hand_day().workbook
    orders = [order(f"N{n}", at, mix_id, **changes) for n, at in enumerate(homes, start=1)]
    changed = replace(
        book,
        properties={**book.properties, **{at.property_id: at for at in homes}},
        orders={one.order_id: one for one in orders},
    )
    return day_of(changed, hand_day().date)


def test_a_property_goes_with_the_truck_that_served_it() -> None:
    # T1 does P1 and P2 in the hand-worked plan; P4's order was left out of it, and P4 lies 2 miles
    # from the next one that was served.
    kept = kept_trucks(hand_plan(), hand_day())
    assert kept.served == {"O1": "T1", "O2": "T1", "O3": "T1"}
    assert kept.near == {}
    assert stayed(kept, hand_plan()) == (3, 3)


@pytest.mark.parametrize(("miles", "near"), [(0.98, {"N1": "T1"}), (1.02, {})])
def test_a_new_property_goes_with_its_neighbors_truck(miles: float, near: dict[str, str]) -> None:
    at = hand_day().workbook.properties["P1"]
    new = home("P9", at.lat - miles * STREETS_MILES * MILE_DEG, at.lon, 4000.0)
    kept = kept_trucks(hand_plan(), day_with(new))
    assert (kept.served, kept.near) == ({}, near)


def test_of_two_trucks_at_one_property_the_one_with_the_same_mix_counts() -> None:
    plan = hand_plan()
    first, idle = plan.trucks
    visit = first.stops[1]
    feed = replace(visit.orders[0], order_id="X", mix_id="FEED")
    second = replace(idle, stops=(replace(visit, orders=(feed,)),))
    plan = replace(plan, trucks=(first, second))
    at = hand_day().workbook.properties["P1"]
    assert kept_trucks(plan, day_with(at)).served == {"N1": "T1"}
    assert kept_trucks(plan, day_with(at, mix_id="FEED")).served == {"N1": "T2"}
    # A mix that neither sprayed there: the first truck.
    assert kept_trucks(plan, day_with(at, mix_id="KILL")).served == {"N1": "T1"}


def test_a_truck_that_is_not_in_service_has_no_say() -> None:
    day = hand_day()
    book = replace(day.workbook, trucks={"T2": day.workbook.trucks["T2"]})
    kept = kept_trucks(hand_plan(), replace(day, workbook=book))
    assert kept.truck_of == {}


def test_pins_belong_to_their_order() -> None:
    plan = replace(hand_plan(), pinned=("O2", "O3"))
    day = hand_day()
    assert kept_trucks(plan, day).pinned == {"O2", "O3"}
    assert still_pinned(kept_trucks(plan, day), plan) == ("O3", "O2"), "as driven"
    at = day.workbook.properties["P2"]
    assert kept_trucks(plan, day_with(at, mix_id="FEED")).pinned == frozenset()


def test_an_unserved_order_says_that_it_is_pinned() -> None:
    kept = kept_trucks(replace(hand_plan(), pinned=("O2",)), hand_day())
    left = tuple(NotDone(name, "FULL", "T1 is full") for name in ("O1", "O2"))
    assert [one.reason for one in pins_told(kept, left)] == [
        "T1 is full",
        "T1 is full (pinned to T1 by hand)",
    ]


def test_the_audit_knows_pins_of_orders_that_nobody_does() -> None:
    pinned = replace(hand_plan(), pinned=("O1",))
    assert audit(pinned, hand_day(), TRAVEL) == ()
    (found,) = audit(replace(pinned, pinned=("O1", "O5")), hand_day(), TRAVEL)
    assert (found.code, found.message[:8]) == ("PIN-UNKNOWN", "order O5")


DAY = "2027-05-03"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter workbook and its plan."""
    here = tmp_path_factory.mktemp("keep")
    (here / "office").mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (here / "office" / name).write_text(text, encoding="utf-8")
    assert plan(here, "first").exit_code == 0
    return here


def plan(here: Path, out: str, *more: object) -> Result:
    words = ("plan", here / "office", "--date", DAY, "--out", here / out, *more)
    return CliRunner().invoke(main, [str(word) for word in (*words, "--engine", "nearest-fit")])


def test_it_is_told_how_many_orders_stay(planned: Path) -> None:
    result = plan(planned, "again", "--keep", planned / "first" / "plan.json")
    assert result.exit_code == 0, result.output
    assert "Of 7 orders that the earlier plan has a truck for, 7 stay with it" in result.stdout
    told = plan(planned, "json", "--keep", planned / "first" / "plan.json", "--json")
    assert json.loads(told.stdout)["kept"] == {"orders": 7, "same_truck": 7, "near": 0}


def test_pinned_orders_stay_whatever_it_costs(planned: Path) -> None:
    raw = json.loads((planned / "first" / "plan.json").read_text(encoding="utf-8"))
    one, other = raw["trucks"]
    wanted = {
        work["order_id"]: truck["truck_id"]
        for truck in (one, other)
        for stop in truck["stops"]
        for work in stop["orders"]
    }
    # As if the office had swapped the trucks: every order is pinned to the other one.
    one["truck_id"], other["truck_id"] = other["truck_id"], one["truck_id"]
    raw["pinned"] = list(wanted)
    (planned / "swapped.json").write_text(json.dumps(raw), encoding="utf-8")
    result = plan(planned, "swapped", "--keep", planned / "swapped.json", "--json")
    new = json.loads((planned / "swapped" / "plan.json").read_text(encoding="utf-8"))
    done = {
        work["order_id"]: truck["truck_id"]
        for truck in new["trucks"]
        for stop in truck["stops"]
        for work in stop["orders"]
    }
    assert done, result.output
    # Order 1005 is never for truck-2: the table's own words go before a pin.
    assert done.pop("1005") == wanted["1005"]
    assert all(done[name] != wanted[name] for name in done)
    assert set(new["pinned"]) == set(done)


def test_a_file_that_is_no_plan_is_told(planned: Path) -> None:
    (planned / "no.json").write_text("{}", encoding="utf-8")
    result = plan(planned, "no", "--keep", planned / "no.json")
    assert result.exit_code == 1
    assert "plan version 3 expected" in result.output
    assert not (planned / "no").exists()


def test_what_changes_is_told_by_orders_not_by_their_parts() -> None:
    """A lawn in three parts is one order more; it moves when one of its parts changes trucks."""

    def plan(**orders: list[str]) -> Plan:
        works = {name: [SimpleNamespace(order_id=one) for one in of] for name, of in orders.items()}
        trucks = [
            SimpleNamespace(truck_id=name, stops=[SimpleNamespace(orders=of)])
            for name, of in works.items()
        ]
        return cast(Plan, SimpleNamespace(trucks=trucks))

    parts = [f"B part {number} of 3" for number in (1, 2, 3)]
    assert moves(plan(T1=["A"]), plan(T1=["A", *parts[:2]], T2=parts[2:])) == "1 more order in"
    assert moves(plan(T1=parts), plan(T1=parts[:2], T2=parts[2:])) == "1 order changes trucks"
    assert moves(plan(T1=parts), plan(T1=parts[::-1])) == ""
    assert moves(plan(T1=["A", *parts]), plan(T2=["A"])) == "1 order changes trucks, 1 order out"
