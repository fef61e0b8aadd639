"""Axle loads at departures, worked by hand on the plan of tests/hand_plan.py."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.day.day import Workbook
from planner.mixing.recipes import recipe
from planner.plan.figures import axle_weights
from tests.hand_plan import hand_day, hand_plan

SHARES = (100.0, 50.0, 120.0)


def weighed(**changes: object) -> Workbook:
    """The hand-worked day with axles: 4,000 lb of its empty weight in front."""
    book = hand_day().workbook
    truck = book.trucks["T1"]
    tanks = tuple(
        replace(tank, rear_share_percent=share)
        for tank, share in zip(truck.compartments, SHARES, strict=False)
    )
    fields = {
        "compartments": tanks,
        "front_empty_lb": 4000.0,
        "front_gawr_lb": 6000.0,
        "rear_gawr_lb": 12_000.0,
    } | changes
    return replace(book, trucks={**book.trucks, "T1": replace(truck, **fields)})


def test_axles_carry_the_whole_weight_of_every_departure() -> None:
    plan = hand_plan().trucks[0]
    found = axle_weights(weighed(), plan)
    stops = {stop.seq: stop for stop in plan.stops}
    assert [row.seq for row in found] == [
        stop.seq for stop in plan.stops if stop.kind in ("depart", "refill")
    ]
    for row in found:
        assert row.front_lb + row.rear_lb == pytest.approx(stops[row.seq].weight_lb_after, abs=1.0)
        assert not row.over


def test_first_departure_by_hand() -> None:
    book, plan = weighed(), hand_plan().trucks[0]
    truck = book.trucks["T1"]
    row = axle_weights(book, plan)[0]
    rear = truck.empty_weight_lb - 4000.0
    for tank, share in zip(truck.compartments, SHARES, strict=False):
        fills = [f for f in plan.stops[0].fills if f.compartment_id == tank.compartment_id]
        gal = fills[0].level_after_gal if fills else tank.leftover_gal
        mix_id = plan.loading[tank.compartment_id] or tank.last_mix
        density = recipe(book, mix_id).density_lb_per_gal if mix_id else 8.34
        rear += gal * density * share / 100
    assert row.rear_lb == pytest.approx(rear)


def test_an_axle_over_its_rating_is_said_loudly() -> None:
    row = axle_weights(weighed(rear_gawr_lb=4900.0), hand_plan().trucks[0])[0]
    assert row.over
    assert row.text.endswith("OVER ITS RATING, load less or elsewhere")


@pytest.mark.parametrize("blank", ["front_empty_lb", "front_gawr_lb", "rear_gawr_lb"])
def test_nothing_is_said_where_the_tables_do_not_tell(blank: str) -> None:
    assert axle_weights(weighed(**{blank: None}), hand_plan().trucks[0]) == ()
    book = hand_day().workbook
    assert axle_weights(book, hand_plan().trucks[0]) == ()
