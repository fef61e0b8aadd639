"""What records of earlier days tell the next plan, and which of records and tables counts.

The rules stand in docs/rules.md, 'Records and tables'; figures are those of `tests/hand_plan.py`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.compliance.holds import holds
from planner.day.day import Workbook, day_of
from planner.day.life import day_text
from planner.day.orders import PastApplication
from planner.records.outcome import Outcome, laid_over
from planner.records.reports import application_rows, property_rows
from planner.records.store import Event
from planner.records.sums import year_rows
from planner.units import Amount
from tests.audit_holds import audited_codes
from tests.plain_rules import PlainDay
from tests.records_cases import (
    AS_PLANNED,
    AS_WRITTEN,
    corrected,
    kept,
    left,
    office,
    record,
    recorded,
    spray,
)

DAY = date(2027, 4, 14)
NEXT = DAY + timedelta(days=1)


def tomorrow(events: tuple[Event, ...], book: Workbook | None = None) -> Outcome:
    return laid_over(book or office(), events, events, NEXT)


def weeds(outcome: Outcome) -> dict[str, float]:
    """Gallons of three-way by property."""
    return {
        row.property_id: row.amount.base
        for row in outcome.workbook.history
        if row.product_id == "three-way"
    }


def tank(book: Workbook, name: str) -> tuple[str | None, float]:
    row = book.trucks["T1"].compartment(name)
    return row.last_mix, row.leftover_gal


def with_tank(book: Workbook, name: str, **changes: object) -> Workbook:
    truck = book.trucks["T1"]
    tanks = tuple(
        replace(row, **changes) if row.compartment_id == name else row  # type: ignore[arg-type]
        for row in truck.compartments
    )
    return replace(book, trucks=book.trucks | {"T1": replace(truck, compartments=tanks)})


P2_GAL = pytest.approx(0.03 * (1.94 + 6 * 3.8 / 3.84) / 7.94, abs=1e-5)
"""O3 takes 6 gal of a mix of 1.94 gal at the rate and 6 gal measured with 3.8 fl oz for 3.84."""


def test_without_records_nothing_changes() -> None:
    book = office()
    assert laid_over(book, (), (), NEXT) == Outcome(book, ())


def test_applications_reach_the_history_and_the_label_checks() -> None:
    book = office(orders={})
    outcome = tomorrow(recorded(), book)
    assert weeds(outcome) == {"P1": 0.05, "P2": P2_GAL}
    urea = [row for row in outcome.workbook.history if row.product_id == "urea"]
    assert [row.end_min for row in urea] == [None, pytest.approx(544.83, abs=0.01)]
    assert [(row.property_id, row.day, row.amount.base) for row in urea] == [
        ("P2", date(2027, 3, 25), 2.4),
        ("P2", DAY, pytest.approx(2.4 * 54.5 / 54.4, abs=1e-4)),
    ]
    again = replace(
        office().orders["O2"], order_id="N1", due_from=NEXT, due_to=NEXT + timedelta(days=30)
    )
    laid = replace(outcome.workbook, orders={"N1": again})
    assert [hold.code for hold in holds(day_of(laid, NEXT))] == ["INTERVAL"]
    # 20 days between: day 20 is allowed.
    assert holds(day_of(laid, DAY + timedelta(days=20))) == ()


def test_corrections_count_and_what_they_correct_does_not() -> None:
    events = corrected(recorded(), [spray("O1", gal=10.5)])
    assert weeds(tomorrow(events)) == {"P1": 0.0525, "P2": P2_GAL}
    events = corrected(events, [spray("O1", done=False, note="wrong house")])
    assert weeds(tomorrow(events)) == {"P2": P2_GAL}


def test_a_table_row_of_the_same_application_is_not_counted_twice() -> None:
    book = office()
    same = PastApplication("P1", "three-way", DAY, 5000.0, Amount(6.4, "fl oz", "volume", 0.05))
    other_day = replace(same, day=DAY - timedelta(days=60))
    book = replace(book, history=(*book.history, same, other_day))
    rows = [row for row in tomorrow(recorded(), book).workbook.history if row.property_id == "P1"]
    assert [(row.day, row.amount.base) for row in rows] == [(other_day.day, 0.05), (DAY, 0.05)]


def test_what_is_left_is_tomorrows_leftover() -> None:
    book = tomorrow(recorded()).workbook
    assert tank(book, "1") == ("WEED", pytest.approx(1.94, abs=0.001))
    assert tank(book, "2") == ("FEED", pytest.approx(1.94, abs=0.001))
    assert tank(book, "3") == (None, 0.0)


def test_a_skipped_order_leaves_its_gallons_and_a_reading_goes_before_sums() -> None:
    book = tomorrow(recorded([spray("O3", done=False, note="dog")])).workbook
    assert tank(book, "1") == ("WEED", pytest.approx(7.94, abs=0.001))
    book = tomorrow(recorded([left("1", 3.0)])).workbook
    assert tank(book, "1") == ("WEED", 3.0)


def test_a_compartment_that_was_never_filled_stays_as_it_was() -> None:
    """It was rinsed after FEED; WEED never went in, and neither order was done."""
    nothing = [
        replace(left("1", 0.0, row=2), what="fill", stop=0, done=False, note="pump down"),
        replace(left("1", 0.0, row=3), what="fill", stop=2, done=False, note="pump down"),
        spray("O1", done=False, note="pump down"),
        spray("O3", done=False, note="pump down", row=4),
    ]
    assert tank(tomorrow(recorded(nothing)).workbook, "1") == (None, 0.0)


def test_the_table_counts_where_somebody_changed_it_after_the_record() -> None:
    drained = with_tank(office(), "1", last_mix=None, leftover_gal=0.0)
    outcome = tomorrow(recorded(), drained)
    assert tank(outcome.workbook, "1") == (None, 0.0)
    assert tank(outcome.workbook, "2") == ("FEED", pytest.approx(1.94, abs=0.001))
    assert any("compartment 1: the table was changed" in note for note in outcome.notes)
    followed = with_tank(office(), "1", last_mix="WEED", leftover_gal=1.937)
    assert tomorrow(recorded(), followed).notes == tomorrow(recorded()).notes


def test_a_day_that_is_recorded_in_part_leaves_the_compartments_to_the_table() -> None:
    found = record([spray("O2", done=False, note="gate")], AS_WRITTEN)
    outcome = tomorrow(kept(found))
    assert tank(outcome.workbook, "1") == ("FEED", 1.0)
    assert any("not recorded" in note for note in outcome.notes)


def test_orders_that_are_done_are_not_planned_again() -> None:
    book = office()
    due = {name: replace(row, due_to=DAY + timedelta(days=7)) for name, row in book.orders.items()}
    book = replace(book, orders=due)
    rows = [
        spray("O1", gal=10.0),
        spray("O2", area_ft2=3000.0, gal=9.0, row=4),
        spray("O3", done=False, note="dog", row=5),
    ]
    outcome = tomorrow(kept(record(rows, AS_PLANNED, book=book)), book)
    left_ft2 = {name: row.area_ft2 for name, row in outcome.workbook.orders.items()}
    assert left_ft2 == {"O2": 1000.0, "O3": 3000.0, "O4": 9000.0, "O5": 30000.0}
    said = f"1 order that is due on {day_text(NEXT)} is recorded as done and not planned again"
    assert said in outcome.notes
    assert outcome.done == {"O1"}
    # The same short name next year is another order.
    later = {name: replace(row, due_from=NEXT, due_to=NEXT) for name, row in due.items()}
    again = tomorrow(recorded(), replace(book, orders=later))
    assert set(again.workbook.orders) == set(later)


def test_the_rest_of_an_order_is_other_ground_for_the_label() -> None:
    """Most of O2's lawn was done, then the truck broke down: the days between hold the next order
    of the product there, not the rest (common practice, no source). The audit says so, too."""
    outcome = tomorrow(recorded([spray("O2", gal=9.0, area_ft2=3000.0)]))
    rest = outcome.workbook.orders["O2"]
    assert {row.rest_of for row in outcome.workbook.history if row.day == DAY} == {"", "O2"}
    other = replace(rest, order_id="N1", due_from=NEXT, due_to=NEXT, area_ft2=100.0)
    for order, expected in ((rest, []), (other, ["INTERVAL"])):
        day = day_of(replace(outcome.workbook, orders={order.order_id: order}), NEXT)
        assert [hold.code for hold in holds(day)] == expected
        assert audited_codes(day, holds(day)) == []
        assert sorted(PlainDay(day).codes[order.order_id]) == expected


def test_a_plan_belongs_to_its_tables_and_records() -> None:
    book = office()
    first = tomorrow(recorded(), book).workbook.sha256
    assert first != book.sha256
    # Only what records change of a truck counts beside the tables: a new column of trucks that
    # nobody has filled must not part a plan from its day.
    fleet = {name: replace(row, phone="555-0100") for name, row in book.trucks.items()}
    assert tomorrow(recorded(), replace(book, trucks=fleet)).workbook.sha256 == first
    assert tomorrow(recorded(), book).workbook.sha256 == first
    later = corrected(recorded(), [spray("O1", gal=10.5)])
    assert tomorrow(later, book).workbook.sha256 != first


def test_products_and_properties_that_are_gone_from_the_tables_are_passed_over() -> None:
    book = office()
    book = replace(book, properties={k: v for k, v in book.properties.items() if k != "P1"})
    assert weeds(tomorrow(recorded(), book)) == {"P2": P2_GAL}


def test_sums_of_a_year_by_product() -> None:
    rows = year_rows(recorded(), "2027")
    assert [(r.product, r.applications, r.area_ft2, r.amount, r.amount_unit) for r in rows] == [
        # 128 fl oz to the gallon; 54.5 oz wt of urea are measured for the 54.4 of the recipe.
        (
            "three-way",
            2,
            8000.0,
            pytest.approx(6.4 + 128 * 0.03 * (1.94 + 6 * 3.8 / 3.84) / 7.94, abs=1e-3),
            "fl oz",
        ),
        ("urea", 1, 4000.0, pytest.approx(2.4 * 54.5 / 54.4, abs=1e-3), "lb"),
    ]
    assert application_rows(recorded(), state="NY") == ()


def test_history_of_one_property_shows_corrections_beside_what_they_correct() -> None:
    events = corrected(recorded(), [spray("O1", gal=10.5)], why="meter read wrongly")
    rows = property_rows(events, "P1")
    assert [(row.what, row.gal, row.corrects, row.why) for row in rows] == [
        ("sprayed", 10.0, "", ""),
        ("corrected: sprayed", 10.5, 3, "meter read wrongly"),
    ]
