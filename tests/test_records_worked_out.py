"""Fills that went as planned after a lawn that was not sprayed: worked out as the mix sheet says.

Figures are those of the day in `tests/hand_plan.py`, worked by hand here: compartment 1 holds 15
gal of WEED, 3.06 go into the hose, O1 takes 10; 6 gal at W1 bring 1.94 gal to 7.94.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.mixing.measures import correction
from planner.mixing.recipes import recipe
from planner.plan.caught import as_told, with_handed
from planner.plan.model import ProductAmount
from planner.records.current import FILLED
from planner.records.day_log import from_body, replay
from planner.records.entries import Conditions, Manner
from planner.records.record import Recording
from planner.records.sheet import FILL, SPRAY, Actual
from planner.records.store import Body
from planner.units import Amount
from tests.hand_plan import hand_plan
from tests.random_days import random_day
from tests.random_plans import plan_random
from tests.records_cases import (
    AS_WRITTEN,
    CORRECTING,
    FILE,
    fill,
    nothing_asked,
    office,
    record,
    recorded,
    spray,
)


def the_refill(found: Recording) -> tuple[str, Body]:
    """Kind and body of the second fill of compartment 1."""
    (one,) = [
        draft
        for draft in found.drafts
        if draft.body.get("compartment_id") == "1" and draft.body["stop"] > 0
    ]
    return one.kind, one.body


def ends(found: Recording) -> dict[str, float]:
    assert found.problems == (), found.problems
    (truck,) = from_body(found.drafts[0].body)
    return replay(truck, {draft.subject: draft.body for draft in found.drafts}).level_gal


def test_a_refill_after_a_lawn_of_fewer_gallons_goes_to_the_planned_level() -> None:
    """15 - 3.06 - 6.4 = 5.54 gal are in it instead of 1.94; up to 7.94 there is room for 2 whole
    gallons, with 2 x 0.005 = 0.01 gal of product."""
    found = record([spray("O1", gal=6.4, area_ft2=3200.0)])
    kind, body = the_refill(found)
    assert (kind, body["gal"]) == (FILLED, 2.0)
    assert body["note"] == (
        "gallons worked out, not read: 6 planned, 5.5 gal were in it instead of 1.9"
    )
    (product,) = body["products"]
    assert product["by_recipe"] == pytest.approx(0.01)
    assert product["amount"] == pytest.approx(0.01, rel=0.05)
    assert ends(found)["1"] == pytest.approx(5.54 + 2 - 6, abs=0.01)


def test_nothing_is_poured_where_more_is_left_than_the_fill_makes() -> None:
    """15 gal are in it, and 7.94 were to be: O3 draws its hose and its 6 gal out of them."""
    found = record([spray("O1", done=False, note="gate locked")])
    kind, body = the_refill(found)
    assert (kind, body["gal"]) == (FILLED, 0.0)
    assert {one["amount"] for one in body["products"]} == {0.0}
    assert "worked out" in body["note"]
    assert ends(found)["1"] == pytest.approx(15 - 3.06 - 6, abs=0.01)
    (o3,) = [draft.body for draft in found.drafts if draft.body.get("order_id") == "O3"]
    assert o3["mixed_at"] == "Y1"


def test_what_was_worked_out_is_told_and_nothing_else() -> None:
    found = record([spray("O1", gal=6.4, area_ft2=3200.0)])
    stop = the_refill(found)[1]["stop"]
    assert found.notes == (
        f"T1, compartment 1, fill at stop {stop}: 2 gal worked out, not read (6 planned, 5.5 gal "
        "were in it instead of 1.9).",
    )
    assert record().notes == ()


@pytest.mark.parametrize(("read", "gal"), [(5.5, 2.0), (0.0, 7.0), (2.5, 6.0)])
def test_a_level_that_was_read_goes_before_the_sum(read: float, gal: float) -> None:
    """Up to 7.94 gal by the gauge, in whole gallons, as the sheet's table answers it: also where
    it shows less than planned. Within a gallon of 1.94 the fill is the plan's."""
    stop = the_refill(record())[1]["stop"]
    row = Actual(FILE, 4, "T1", FILL, stop, compartment="1", level_read_gal=read)
    found = record([row])
    kind, body = the_refill(found)
    assert (kind, body["gal"], body["level_read_gal"]) == (FILLED, gal, read)
    assert (f"{read:.1f} gal were read on its gauge instead of 1.9" in body["note"]) == (gal != 6.0)
    # Seven gallons over the sum of the records is a slip, or somebody says that it is so.
    (slip,) = record([replace(row, level_read_gal=9.0)]).problems
    assert (slip.code, slip.column) == ("REC-13", "level_read_gal")
    sure = replace(row, level_read_gal=9.0, sure=True, note="read twice")
    assert the_refill(record([sure]))[1]["gal"] == 0.0
    # Without "as planned" a level alone says not whether the fill was made.
    (wrong,) = record([row], AS_WRITTEN).problems
    assert (wrong.code, wrong.column) == ("REC-3", "done")


def test_a_correction_names_the_fills_that_it_leaves_as_they_are() -> None:
    """O1 was not sprayed after all: 11.94 gal (15 - 3.06) stand under a fill of 6 that goes to
    7.94, and nothing would have gone in. That fill was recorded, and may have been measured."""
    events = recorded()
    row = spray("O1", done=False, note="gate locked")
    found = record([row], CORRECTING, events, why="wrong house")
    assert found.problems == ()
    stop = the_refill(record())[1]["stop"]
    (note,) = found.notes
    assert note.startswith(f"T1, compartment 1, fill at stop {stop} stays recorded with 6 gal, on ")
    assert "the mix sheet says 0 gal" in note
    assert {one.subject for one in found.drafts} == {"2027-04-14 order O1"}
    # A fill that is corrected in the same sheet is settled, and a lawn's note changes no level.
    both = record([row, fill("1", stop, 0.0, row=4)], CORRECTING, events, why="wrong house")
    assert both.notes == ()
    assert record([spray("O1", note="gate")], CORRECTING, events, why="gate").notes == ()


def test_gallons_that_somebody_states_count() -> None:
    short = spray("O1", gal=6.4, area_ft2=3200.0)
    stop = the_refill(record([short]))[1]["stop"]
    _, body = the_refill(record([short, fill("1", stop, 6.0, row=4)]))
    assert (body["gal"], body["note"]) == (6.0, "")
    assert [one.code for one in record([short, fill("1", stop, 26.0, row=4)]).problems] == ["REC-7"]


def test_a_word_of_the_crew_stays_beside_the_note() -> None:
    short = spray("O1", gal=6.4, area_ft2=3200.0)
    stop = the_refill(record([short]))[1]["stop"]
    row = Actual(FILE, 4, "T1", FILL, stop, compartment="1", note="foam")
    assert the_refill(record([short, row]))[1]["note"].startswith("foam; gallons worked out")


def test_a_gallon_that_no_gauge_shows_changes_no_fill() -> None:
    _, body = the_refill(record([spray("O1", gal=9.2)]))
    assert (body["gal"], body["note"]) == (6.0, "")


def test_too_little_for_a_packet_is_not_poured() -> None:
    """As the sheet's table has it: 2 gal ask for 0.01 gal of a product in packets of 0.03."""
    book = office()
    packets = replace(book.products["three-way"], packet=Amount(0.03, "gal", "volume", 0.03))
    book = replace(book, products=book.products | {"three-way": packets})
    plan = hand_plan()
    truck = plan.trucks[0]
    stops = tuple(
        replace(
            stop,
            fills=tuple(
                replace(one, measured=(ProductAmount("three-way", 0.03, "gal"),))
                if one.mix_id == "WEED"
                else one
                for one in stop.fills
            ),
        )
        for stop in truck.stops
    )
    plan = replace(plan, trucks=(replace(truck, stops=stops), *plan.trucks[1:]))
    found = record([spray("O1", gal=6.4, area_ft2=3200.0)], book=book, plan=plan)
    kind, body = the_refill(found)
    assert (kind, body["gal"]) == (FILLED, 0.0)


@pytest.mark.parametrize("seed", range(17))
def test_any_order_of_a_random_day_may_be_skipped(seed: int) -> None:
    """Levels are walked here once more from what is recorded: no fill passes the planned level
    after it by more than a reading may be off, and each is what the sheet's table answers."""
    day = random_day(seed)
    plan = plan_random(day)
    book = nothing_asked(day.workbook)
    manner = Manner(True, False, Conditions(5.0, "N", 70.0))
    told = {row.truck_id: row for row in as_told(plan, with_handed(plan, book)).trucks}
    poured = 0
    for truck in plan.trucks:
        for order in (one.order_id for stop in truck.stops for one in stop.orders):
            row = Actual(FILE, 2, truck.truck_id, SPRAY, order=order, done=False, note="rain")
            found = record([row], manner, plan=plan, book=book)
            assert {one.code for one in found.problems} <= {"REC-9", "REC-6"}
            if found.problems:
                continue
            bodies = {draft.subject: draft.body for draft in found.drafts}
            logged = {one.truck_id: one for one in from_body(found.drafts[0].body)}
            steps = logged[truck.truck_id].steps
            for at, step in enumerate(steps):
                body = bodies.get(step.subject, {})
                if step.what != FILL or "worked out" not in body.get("note", ""):
                    continue
                before = {
                    one.subject: bodies[one.subject] for one in steps[:at] if one.what != "left"
                }
                level = replay(logged[truck.truck_id], before).level_gal[step.compartment_id]
                (planned,) = [
                    one
                    for stop in told[truck.truck_id].stops
                    for one in stop.fills
                    if (stop.seq, one.compartment_id) == (step.stop, step.compartment_id)
                ]
                tank = book.trucks[truck.truck_id].compartment(step.compartment_id)
                answer = correction(
                    book, recipe(book, step.mix_id), tank, level, planned.level_after_gal
                )
                assert body["gal"] <= answer.gal
                assert level + body["gal"] <= max(level, planned.level_after_gal) + 1e-6
                if body["gal"]:
                    assert body["gal"] == answer.gal
                    assert body["gal"] <= planned.gal
                    amounts = {one["product_id"]: one["amount"] for one in body["products"]}
                    assert amounts == pytest.approx(answer.measured.amounts, rel=0.05, abs=1e-6)
                poured += 1
    if not poured:
        pytest.skip("no refill after an order of this day")
