"""Signs, notices and re-entry per state; sources stand in planner/rules/duties.csv, row by row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from planner.compliance.coverage import not_covered
from planner.compliance.duties import duties, pre_notices
from planner.day.clock import Window
from planner.day.day import Day, day_of
from tests import days

WEDNESDAY = date(2027, 4, 14)


def one(state: str, *, feed: bool = False, span_days: int = 0, **changes: object) -> Day:
    """Order O1 at P1, of a herbicide or of a fertilizer without a registration number, between
    9 and 11 AM."""
    home = days.home("P1", 40, -83, 5000.0, state=state, **changes)
    product = days.product("p", "g", "2 fl oz/1000 sq ft", reentry="keep off until dry")
    if feed:
        product = replace(product, registration_no="", signal_word="none", reentry="")
    order = days.order(
        "O1",
        home,
        "M",
        windows=(Window(540.0, 660.0),),
        due_to=WEDNESDAY + timedelta(days=span_days),
    )
    book = days.workbook(
        sites=(),
        trucks=(),
        products=(product,),
        mixes=(days.mix("M", 2.0, p="1 fl oz/1000 sq ft"),),
        properties=(home,),
        orders=(order,),
    )
    return day_of(book, WEDNESDAY)


def kinds(day: Day) -> list[tuple[str, str]]:
    return [(duty.kind, duty.when) for duty in duties(day, day.orders["O1"])]


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        # P08 Illinois: the sign goes up after. P10 Wisconsin: before.
        ("IL", [("sign", "after"), ("notice", "before"), ("re-entry", "after")]),
        (
            "WI",
            [
                ("sign", "before"),
                ("notice", "before"),
                ("information", "before"),
                ("information", "after"),
                ("re-entry", "after"),
            ],
        ),
        (
            "OH",
            [("sign", "at"), ("information", "at"), ("notice", "before"), ("re-entry", "after")],
        ),
        ("IN", [("sign", "at"), ("information", "at"), ("re-entry", "after")]),
        ("KS", [("re-entry", "after"), ("gap", "before")]),
    ],
)
def test_what_each_state_asks_for(state: str, expected: list[tuple[str, str]]) -> None:
    assert kinds(one(state)) == expected


def test_fertilizer_alone_needs_a_sign_in_illinois_only() -> None:
    # University of Illinois: fertilizer-only visits count; P08.
    assert ("sign", "after") in kinds(one("IL", feed=True))
    assert kinds(one("OH", feed=True)) == []


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        # AG 5-208 (a)-(c); 7 Pa. Code 128.112; R 285.637.11 and .12; 333 CMR 13.06(1).
        ("MD", [("sign", "at"), ("information", "at"), ("notice", "before")]),
        ("PA", [("notice", "before")]),
        ("MI", [("sign", "after"), ("information", "at")]),
        ("MA", [("information", "after"), ("notice", "before")]),
        # IAC 21-45.50 and Iowa Code 206.19(3); 01-026 CMR ch. 28.
        ("IA", [("sign", "at"), ("notice", "before")]),
        ("ME", [("sign", "before"), ("notice", "before")]),
    ],
)
def test_duties_of_the_states_added_after_review(
    state: str, expected: list[tuple[str, str]]
) -> None:
    assert kinds(one(state)) == [*expected, ("re-entry", "after")]


def test_pennsylvanias_registry_has_an_earliest_and_a_latest_moment() -> None:
    # 7 Pa. Code 128.112(a)(3): between 12 and 72 hours before.
    (notice,) = pre_notices(one("PA"))
    assert notice.by == datetime(2027, 4, 13, 21, 0)
    assert "no sooner than 72 h before" in notice.line


@pytest.mark.parametrize(
    ("state", "nitrogen", "county", "expected"),
    [
        ("KS", 0.0, "", ["No sign or notice rules of KS are in this planner: ask the state."]),
        (
            "KS",
            20.0,
            "",
            ["No sign, notice or fertilizer rules of KS are in this planner: ask the state."],
        ),
        ("OH", 0.0, "", []),
        ("OH", 20.0, "", ["No fertilizer rules of Ohio are in this planner: ask the state."]),
        ("MD", 20.0, "", []),
        ("FL", 20.0, "Marion County", []),
        (
            "FL",
            20.0,
            "orange",
            ["No fertilizer rules of Orange County are in this planner: ask the county."],
        ),
        (
            "FL",
            20.0,
            "",
            [
                "No fertilizer rules of the county, which is not given, are in this planner: ask "
                "the county."
            ],
        ),
    ],
)
def test_what_the_tables_do_not_hold_is_said(
    state: str, nitrogen: float, county: str, expected: list[str]
) -> None:
    day = one(state, county=county)
    product = replace(day.workbook.products["p"], nitrogen_percent=nitrogen)
    day = day_of(replace(day.workbook, products={"p": product}), WEDNESDAY)
    assert list(not_covered(day, day.orders["O1"])) == expected


def test_a_blank_state_is_said() -> None:
    day = one("")
    (text,) = not_covered(day, day.orders["O1"])
    assert text.startswith("No state is given: no rules on signs")


def test_sentences_for_the_sheet() -> None:
    day = one("WI")
    sign, registry, *_ = duties(day, day.orders["O1"])
    assert sign.line == (
        "Sign, before spraying: 4 x 5 in, red on white, legible for 72 h, posted before the first "
        "drop; it stays until sunset of the next day, or the end of the label's re-entry time if "
        "later. (ATCP 29.56(3)-(4))"
    )
    assert registry.line == (
        "Notice: people on the registry, at least 12 h before: tell them; from Mar 15 on; only if "
        "a registrant has listed the address that is treated. (ATCP 29.56, as the state's "
        "department announced it)"
    )
    assert duties(day, day.orders["O1"])[-1].line == "Re-entry, p: keep off until dry"


def test_the_offices_own_sign_and_notice() -> None:
    assert kinds(one("KS", sign=True, notice="call Mrs. Reed")) == [
        ("sign", "at"),
        ("notice", "before"),
        ("re-entry", "after"),
        ("gap", "before"),
    ]
    # The state's sign is sign enough.
    assert kinds(one("IN", sign=True)).count(("sign", "at")) == 1


def test_notice_of_new_yorks_counties_names_the_alternate_dates() -> None:
    # P12, ECL 33-1004: 48 h, counties that took the law over (dec.ny.gov, neighbor notification).
    day = one("NY", county="Suffolk County", span_days=2)
    (notice,) = pre_notices(day)
    assert notice.by == datetime(2027, 4, 12, 9, 0)
    assert notice.line == (
        "Order O1: abutting property within 150 ft by Mon Apr 12, 9:00 AM: written, in English and "
        "Spanish, with the alternate dates; name also Thu Apr 15, Fri Apr 16 (New York, ECL "
        "33-1004)"
    )
    assert pre_notices(one("NY", county="Broome")) == ()
    assert len(pre_notices(one("NY"))) == 1, "an unknown county does not free from it"


def test_a_business_day_is_no_weekend() -> None:
    # P09, OAC 901:5-11-09: one business day ahead; 2027-04-12 is a Monday.
    day = one("OH")
    monday = replace(day.orders["O1"], due_from=date(2027, 4, 12), due_to=date(2027, 4, 12))
    day = day_of(replace(day.workbook, orders={"O1": monday}), date(2027, 4, 12))
    (notice,) = pre_notices(day)
    assert notice.by == datetime(2027, 4, 9, 9, 0)
    assert "if a neighbor is registered" in notice.line


def test_urgent_notices_first_and_notes_last() -> None:
    first = one("IL", notice="call the school")
    home = days.home("P2", 40, -83, 4000.0, state="WI")
    book = replace(
        first.workbook,
        properties={**first.workbook.properties, "P2": home},
        orders={**first.workbook.orders, "O2": days.order("O2", home, "M")},
    )
    found = pre_notices(day_of(book, WEDNESDAY))
    assert [(one.order_id, one.by is None) for one in found] == [
        ("O1", False),
        ("O2", False),
        ("O1", True),
    ]
    assert found[-1].line == (
        "Order O1: as the property's note says before the visit: call the school"
    )
