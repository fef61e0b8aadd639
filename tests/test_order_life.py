"""The life of an order, state by state, worked by hand (rules 29 and 30).

DAY is Wednesday 2027-04-14 (any calendar).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.cli.order_lines import count_line, standing_lines
from planner.day.clock import DateSpan
from planner.day.day import Day, day_of
from planner.day.life import NoRecord, OrderState, no_record_texts, overdue_text, standings
from planner.day.orders import Order, Status
from planner.day.places import Property
from planner.day.roll import roll_of
from planner.papers.left_out import left_out, said_once
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import NotDone, NotToday, Overdue, Plan
from planner.records.no_record import days_without
from planner.records.plans import DayOfRecord
from tests.days import DAY, order, small_day
from tests.random_days import straight_travel
from tests.random_plans import plan_random

HOME = small_day().workbook.properties["P1"]


def on(day: int) -> date:
    """A day of April 2027."""
    return date(2027, 4, day)


def span(first: int, last: int, **changes: object) -> Order:
    return order("X", HOME, "WEED", due_from=on(first), due_to=on(last), **changes)


def standing(one: Order, home: Property = HOME, *others: Order) -> tuple[str, str, date | None]:
    orders = {row.order_id: row for row in (one, *others)}
    found = standings(orders, {home.property_id: home}, DAY)["X"]
    return found.state.value, found.code, found.next_day


@pytest.mark.parametrize(
    ("one", "state", "code", "next_day"),
    [
        (span(10, 16), OrderState.DUE, "", None),
        (span(14, 14), OrderState.DUE, "", None),
        (span(15, 16), OrderState.LATER, "", None),
        (span(1, 13), OrderState.DUE, "", None),
        (span(10, 16, status=Status.CANCELLED), OrderState.CANCELLED, "", None),
        (span(1, 2, last_day=on(13)), OrderState.GIVEN_UP, "LAST-DAY", None),
        (span(1, 2, last_day=DAY), OrderState.DUE, "", None),
        (span(10, 16, status=Status.ON_HOLD, hold_until=on(14)), OrderState.DUE, "", None),
        (
            span(10, 16, status=Status.ON_HOLD, hold_until=on(15)),
            OrderState.ON_HOLD,
            "ON-HOLD",
            on(15),
        ),
        (
            span(10, 16, status=Status.ON_HOLD, status_reason="dog"),
            OrderState.ON_HOLD,
            "ON-HOLD",
            None,
        ),
        # It can be done neither before its hold ends nor before its span begins.
        (
            span(20, 22, status=Status.ON_HOLD, hold_until=on(16)),
            OrderState.ON_HOLD,
            "ON-HOLD",
            on(20),
        ),
        # No day is left between the end of the hold and the last sensible day.
        (
            span(10, 16, status=Status.ON_HOLD, hold_until=on(20), last_day=on(19)),
            OrderState.ON_HOLD,
            "ON-HOLD",
            None,
        ),
    ],
)
def test_an_orders_own_state(
    one: Order, state: OrderState, code: str, next_day: date | None
) -> None:
    assert standing(one) == (state.value, code, next_day)


@pytest.mark.parametrize(
    ("home", "code", "next_day"),
    [
        ({"serve_on": (2, 3)}, "", None),
        # Monday and Tuesday: Monday the 19th.
        ({"serve_on": (0, 1)}, "WEEKDAY", on(19)),
        ({"skip_dates": (DateSpan(on(1), on(2)), DateSpan(DAY, DAY))}, "SKIP-DATE", on(15)),
        ({"skip_dates": (DateSpan(on(12), on(16)),), "serve_on": (2, 3)}, "SKIP-DATE", on(21)),
        ({"hold_until": DAY}, "", None),
        ({"hold_until": on(17), "hold_reason": "prepayment"}, "ACCOUNT", on(17)),
        ({"hold_reason": "prepayment"}, "ACCOUNT", None),
    ],
)
def test_standing_facts_of_the_property(
    home: dict[str, object], code: str, next_day: date | None
) -> None:
    place = replace(HOME, **home)  # type: ignore[arg-type]
    state = OrderState.NOT_TODAY if code else OrderState.DUE
    assert standing(span(10, 16), place) == (state.value, code, next_day)
    # An order that is not due yet is due later, whatever its property says today.
    assert standing(span(15, 16), place)[0] == OrderState.LATER.value


def test_every_reason_is_said_and_the_first_gives_the_code() -> None:
    place = replace(HOME, serve_on=(0,), skip_dates=(DateSpan(on(14), on(20)),))
    found = standings({"X": span(10, 16)}, {"P1": place}, DAY)["X"]
    assert (found.code, found.next_day) == ("WEEKDAY", on(26))
    assert found.reason == (
        "the customer is served on Mon only; nobody may come from Wed 2027-04-14 to Tue 2027-04-20"
    )


def test_a_free_respray_waits_for_the_order_that_it_repeats() -> None:
    again = span(14, 20, repeats="Y")
    first = replace(span(1, 5), order_id="Y")
    assert standing(again, HOME, first)[:2] == ("not today", "REPEAT")
    assert standing(again)[:2] == ("due", "")


def test_an_overdue_order_goes_before_a_later_one_of_its_mix_on_the_same_lawn() -> None:
    """Both on one day would put twice the rate on the lawn."""
    first, second = replace(span(1, 5), order_id="A"), span(14, 20)
    assert standing(second, HOME, first)[:2] == ("not today", "SAME-MIX")
    half = {"area_ft2": HOME.lawn_ft2 / 2}
    assert standing(replace(second, **half), HOME, replace(first, **half))[0] == "due"
    other_mix = replace(first, mix_id="FEED")
    assert standing(second, HOME, other_mix)[0] == "due"
    held = replace(first, status=Status.ON_HOLD)
    assert standing(second, HOME, held)[0] == "due"


def test_overdue_is_counted_in_calendar_days() -> None:
    assert overdue_text(span(1, 9), 5) == "overdue by 5 days (due by Fri 2027-04-09)"
    late = span(1, 13, last_day=on(16))
    assert overdue_text(late, 1) == (
        "overdue by 1 day (due by Tue 2027-04-13), given up after Fri 2027-04-16"
    )


def living_day(**again: tuple[str, ...]) -> Day:
    """The small day with an order in every state beside its nine."""
    book = small_day().workbook
    homes = book.properties | {
        "P2": replace(book.properties["P2"], serve_on=(2,)),
        "P3": replace(book.properties["P3"], serve_on=(4,)),
    }
    rows = [
        replace(book.orders["O1"], due_to=on(16)),
        # Served on Wednesdays only: no later day before Friday.
        replace(book.orders["O2"], due_to=on(16)),
        # Served on Fridays only.
        replace(book.orders["O3"], due_from=on(10), due_to=on(12)),
        replace(book.orders["O4"], due_from=on(10), due_to=on(12)),
        replace(book.orders["O5"], status=Status.ON_HOLD, hold_until=on(20)),
        replace(book.orders["O6"], due_from=on(10), due_to=on(12), last_day=on(13)),
        replace(book.orders["O7"], status=Status.CANCELLED),
        replace(book.orders["O8"], due_from=on(16), due_to=on(20)),
    ]
    orders = book.orders | {row.order_id: row for row in rows}
    day = day_of(replace(book, properties=homes, orders=orders), DAY, **again)
    return replace(day, done=frozenset({"D1", "D2"}))


def test_every_order_stands_in_one_place() -> None:
    roll = roll_of(living_day())
    assert roll.due == ("O1", "O2", "O4", "O9")
    assert roll.last_day == ("O2", "O9")
    assert [(row.order_id, days) for row, days in roll.overdue] == [("O4", 2)]
    assert [row.order_id for row, _ in roll.not_today] == ["O3"]
    assert [row.order_id for row, _ in roll.on_hold] == ["O5"]
    assert [row.order_id for row, _ in roll.given_up] == ["O6"]
    assert (roll.later, roll.cancelled, roll.done) == (("O8",), ("O7",), ("D1", "D2"))
    assert count_line(roll) == (
        "Orders: 4 due (2 on their last day, 1 overdue), 1 not for today, 1 on hold, 1 due later, "
        "1 given up, 1 cancelled, 2 done."
    )


def test_late_and_kept_out_orders_are_named() -> None:
    day = living_day()
    lines = "\n".join(standing_lines(day))
    overdue, aside = lines.index("Overdue:"), lines.index("Not for today:")
    assert "O4" in lines[overdue:aside]
    assert "on hold until Tue 2027-04-20; next day Tue 2027-04-20" in lines
    assert (
        "the customer is served on Fri only; overdue by 2 days (due by Mon 2027-04-12); "
        "next day Fri 2027-04-16" in lines
    )
    assert "its last sensible day was Tue 2027-04-13; it was due Sat 2027-04-10 to Mon" in lines


def planned() -> tuple[Day, Plan]:
    day = living_day()
    return day, plan_random(day)


def test_the_plan_says_what_is_late_and_what_is_not_for_the_day() -> None:
    day, plan = planned()
    assert from_json(to_json(plan)).overdue == plan.overdue == (Overdue("O4", 2),)
    assert [(row.order_id, row.code, row.next_day) for row in plan.not_today] == [
        ("O5", "ON-HOLD", "2027-04-20"),
        ("O3", "WEEKDAY", "2027-04-16"),
    ]
    assert [(row.order_id, row.code) for row in plan.given_up] == [("O6", "LAST-DAY")]
    assert audit(plan, day, straight_travel(day)) == ()
    groups = {group.short: [row.order_id for row in group.rows] for group in left_out(plan, day)}
    assert groups == {"overdue": ["O4"], "not for today": ["O5", "O3"], "given up": ["O6"]}
    ordinary = small_day()
    assert not {"overdue", "not_today", "given_up"} & {
        line.strip().split('"')[1]
        for line in to_json(plan_random(ordinary)).splitlines()
        if '"' in line
    }


def test_a_long_reason_is_told_once() -> None:
    why = "somebody on the truck needs category 8 (turf), and nobody on a truck of the day has it"
    rows = [NotDone("1", "LICENSE", why), NotDone("2", "GRASS", "short"), NotDone("3", "L", why)]
    told = [(row.order_id, row.reason) for row in said_once([*rows, NotDone("4", "G", "short")])]
    assert told == [("1", why), ("3", "as order 1"), ("2", "short"), ("4", "short")]
    day, plan = planned()
    held = replace(plan, held=(NotDone("O1", "LICENSE", why), NotDone("O2", "LICENSE", why)))
    page = packet_pages(held, day, {}, "", "0")["index.html"]
    assert page.count(why) == 1
    assert "as order O1" in page


def test_the_office_may_take_orders_in_and_leave_orders_out() -> None:
    day = living_day(added=("O3", "O5", "O6", "O7", "O8"), skipped=("O1", "O4"))
    # A cancelled order is taken in by nobody.
    assert sorted(day.orders) == ["O2", "O3", "O5", "O6", "O8", "O9"]
    assert roll_of(day).left_out == ("O1", "O4")


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"overdue": ()}, "OVERDUE"),
        ({"overdue": (Overdue("O4", 3),)}, "OVERDUE"),
        ({"overdue": (Overdue("O4", 2), Overdue("O1", 1))}, "OVERDUE"),
        ({"not_today": ()}, "NOT-TODAY"),
        ({"given_up": ()}, "GIVEN-UP"),
        ({"given_up": (NotDone("O6", "LAST-DAY", " "),)}, "REASON-MISSING"),
        ({"given_up": (NotDone("O6", "LAST-DAY", "x"), NotDone("O1", "a", "b"))}, "GIVEN-UP"),
    ],
)
def test_the_audit_sees_what_is_said_wrongly(changes: dict[str, object], code: str) -> None:
    day, plan = planned()
    found = audit(replace(plan, **changes), day, straight_travel(day))  # type: ignore[arg-type]
    assert {row.code for row in found} == {code}


@pytest.mark.parametrize(
    "row",
    [
        NotToday("O3", "WEEKDAY", "served on Fridays", "2027-04-15"),
        NotToday("O3", "ACCOUNT", "served on Fridays", "2027-04-16"),
        NotToday("O3", "WEEKDAY", "served on Fridays", ""),
    ],
)
def test_the_audit_works_out_why_and_until_when(row: NotToday) -> None:
    day, plan = planned()
    rows = tuple(row if one.order_id == "O3" else one for one in plan.not_today)
    found = audit(replace(plan, not_today=rows), day, straight_travel(day))
    assert [one.code for one in found] == ["NOT-TODAY"]


@pytest.mark.parametrize("name", ["O3", "O5", "O6", "O7", "O8"])
def test_the_audit_sees_an_order_that_is_not_for_the_day(name: str) -> None:
    """The day itself was opened wrongly: its orders hold one that the tables keep out."""
    day = living_day()
    wrong = replace(day, orders=day.orders | {name: day.workbook.orders[name]})
    codes = {row.code for row in audit(plan_random(wrong), day, straight_travel(day))}
    assert codes & {"ORDER-NOT-DUE", "ID-ORDER"}
    codes = {row.code for row in audit(plan_random(wrong), wrong, straight_travel(day))}
    assert "ORDER-NOT-DUE" in codes


def test_the_audit_misses_a_due_order_that_the_day_lost() -> None:
    day = living_day()
    lost = replace(day, orders={name: row for name, row in day.orders.items() if name != "O4"})
    codes = {row.code for row in audit(plan_random(lost), lost, straight_travel(day))}
    assert codes == {"ORDER-MISSING", "OVERDUE"}


def of_record(day: date, orders: str, without: str) -> dict[str, DayOfRecord]:
    row = DayOfRecord(
        day.isoformat(), None, (), "0", tuple(orders.split()), tuple(without.split()), (), 1, 0
    )
    return {row.date: row}


def test_orders_without_a_record_are_named_by_their_day() -> None:
    orders = {
        name: replace(span(first, last), order_id=name)
        for name, first, last in (
            ("A", 12, 12),
            ("B", 12, 12),
            ("C", 12, 16),
            ("D", 13, 13),
            ("E", 9, 9),
            ("F", 14, 14),
        )
    }
    orders["D2"] = replace(orders["D"], order_id="D2", status=Status.CANCELLED)
    # In no plan, and kept out of every one: nobody can have done it.
    orders["D3"] = replace(orders["D"], order_id="D3", status=Status.ON_HOLD)
    since = DAY - timedelta(days=30)
    # Nobody recorded anything: an order that is still in its span may wait.
    assert days_without({}, orders, since, DAY) == (
        NoRecord(on(9), ("E",)),
        NoRecord(on(12), ("A", "B")),
        NoRecord(on(13), ("D",)),
    )
    # Monday's plan did A and C and left B out; A is recorded, C is not.
    monday = of_record(on(12), "A C X", "C X")
    assert days_without(monday, orders, since, DAY)[1:] == (
        NoRecord(on(12), ("C",), 3),
        NoRecord(on(13), ("D",)),
    )
    # On Tuesday C was skipped, with a record.
    both = monday | of_record(on(13), "C D", "D")
    assert [row.orders for row in days_without(both, orders, since, DAY)] == [("E",), ("D",)]


@pytest.mark.parametrize(
    ("row", "text"),
    [
        (
            NoRecord(on(12), tuple("ABC"), 3),
            "Monday's 3 orders have no record: record them, or they count as open",
        ),
        (
            NoRecord(on(12), tuple("ABC")),
            "3 orders were due by Mon 2027-04-12 and in no plan: cancel those that were done; the "
            "others are open",
        ),
        (
            NoRecord(on(12), ("A",)),
            "1 order was due by Mon 2027-04-12 and in no plan: cancel it if it was done, or it "
            "counts as open",
        ),
        (
            NoRecord(on(12), ("A",), 42),
            "1 of Monday's 42 orders has no record: record it, or it counts as open",
        ),
        (
            NoRecord(on(5), ("A",), 1),
            "Mon 2027-04-05's order has no record: record it, or it counts as open",
        ),
    ],
)
def test_words_for_days_without_a_record(row: NoRecord, text: str) -> None:
    assert row.text(DAY) == text


@pytest.mark.parametrize(
    ("rows", "texts"),
    [
        (
            [NoRecord(on(5), tuple("AB")), NoRecord(on(7), ("C",)), NoRecord(on(12), ("D",))],
            [
                "4 orders were due from Mon 2027-04-05 to Mon 2027-04-12 (3 days) and in no plan: "
                "cancel those that were done; the others are open"
            ],
        ),
        (
            [NoRecord(on(5), tuple("AB"), 6), NoRecord(on(7), ("C",)), NoRecord(on(8), ("D",), 1)],
            [
                "3 of 7 orders planned from Mon 2027-04-05 to Thu 2027-04-08 (2 days) have no "
                "record: record them, or they count as open",
                "1 order was due by Wed 2027-04-07 and in no plan: cancel it if it was done, or it "
                "counts as open",
            ],
        ),
        (
            [NoRecord(on(5), tuple("AB"), 2), NoRecord(on(8), ("D",), 1)],
            [
                "3 orders planned from Mon 2027-04-05 to Thu 2027-04-08 (2 days) have no record: "
                "record them, or they count as open"
            ],
        ),
        ([], []),
    ],
)
def test_many_days_without_a_record_are_one_sentence(
    rows: list[NoRecord], texts: list[str]
) -> None:
    assert no_record_texts(rows, DAY) == texts
