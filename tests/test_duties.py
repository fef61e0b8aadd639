"""Signs, notices and re-entry per state; sources stand in planner/rules/duties.csv, row by row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from planner.compliance.coverage import not_covered
from planner.compliance.duties import duties
from planner.compliance.pre_notices import pre_notices
from planner.day.clock import Window
from planner.day.day import Day, DutyRule, RuleSource, day_of
from planner.papers.packet import packet_pages
from tests import days
from tests.random_plans import plan_random

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


def with_local(day: Day, kind: str, *, county: str = "", town: str = "", state: str = "OH") -> Day:
    """The day with one local duty, of which nobody knows more than its county or town."""
    rule = DutyRule(
        duty_id="local 1",
        state=state,
        counties=(county,) if county else (),
        town=town,
        local=True,
        kind=kind,
        who="the city clerk",
        applies_to="any",
        when="before",
        lead_hours=48.0,
        lead_business_days=None,
        stays_hours=None,
        stays_until="",
        only_if="",
        words="tell them",
        origin=RuleSource("Code 12.4", date(2027, 1, 5), ""),
    )
    return day_of(replace(day.workbook, local_duty_rules=(rule,)), WEDNESDAY)


@pytest.mark.parametrize(
    ("county", "town", "only_if"),
    [
        ("Union County", "Alder Mills", ""),
        ("", "alder mills", "; only if the lawn is in Union County"),
        ("Clark", "Alder Mills", None),
        ("Union", "Elsewhere", None),
    ],
)
def test_a_local_notice_is_owed_in_its_town_alone(
    county: str, town: str, only_if: str | None
) -> None:
    day = with_local(
        one("OH", county=county, town=town), "notice", county="Union", town="Alder Mills"
    )
    owed = [duty.line for duty in duties(day, day.orders["O1"]) if "clerk" in duty.text]
    told = [notice for notice in pre_notices(day) if "clerk" in notice.who]
    assert bool(told) == (only_if is not None)
    if only_if is not None:
        text = f"Notice: the city clerk, at least 48 h before: tell them{only_if}."
        assert owed == [f"{text} (Alder Mills, Code 12.4)"]
        assert told[0].by == datetime(2027, 4, 12, 9, 0)
        assert told[0].section == "Alder Mills, Code 12.4"


def kinds(day: Day) -> list[tuple[str, str]]:
    owed = duties(day, day.orders["O1"])
    return [(duty.kind, duty.when) for duty in owed if duty.kind != "gap"]


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        # P08 Illinois: the sign goes up after. P10 Wisconsin: before.
        (
            "IL",
            [
                ("sign", "after"),
                ("notice", "before"),
                ("information", "at"),
                ("re-entry", "after"),
            ],
        ),
        ("NH", [("caution", "before"), ("re-entry", "after")]),
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
        ("KS", [("re-entry", "after")]),
    ],
)
def test_what_each_state_asks_for(state: str, expected: list[tuple[str, str]]) -> None:
    assert kinds(one(state)) == expected


def test_fertilizer_alone_needs_a_sign_in_illinois_and_kentucky() -> None:
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
        (
            "KS",
            0.0,
            "",
            "No sign, notice or customer information rules of KS are in this planner: ask the "
            "state. | The county is not given: its rules were not looked up.",
        ),
        ("KS", 20.0, "Asked County", "No sign, notice, customer information or fertilizer rules"),
        ("OH", 0.0, "asked", ""),
        ("OH", 20.0, "Asked", "No fertilizer rules of Ohio are in this planner: ask the state."),
        ("IN", 0.0, "Asked", "No notice rules of Indiana are in this planner: ask the state."),
        ("NH", 0.0, "Asked", "No sign, notice or customer information rules of New Hampshire"),
        ("RI", 20.0, "Asked", "No sign, notice, customer information or fertilizer rules of RI"),
        (
            "NJ",
            20.0,
            "Asked",
            "No customer information rules of New Jersey are in this planner: ask the state.",
        ),
        (
            "NY",
            20.0,
            "Asked",
            "No fertilizer amount rules of New York are in this planner: ask the state.",
        ),
        ("FL", 20.0, "Marion County", "No customer information, fertilizer season"),
        ("MD", 0.0, "orange", "No local rules of Orange County are in this planner: ask there."),
        ("MD", 0.0, "DuPage", "No local rules of DuPage County are in this planner: ask there."),
    ],
)
def test_what_the_tables_do_not_hold_is_said(
    state: str, nitrogen: float, county: str, expected: str
) -> None:
    day = with_local(one(state, county=county), "none", county="Asked", state=state)
    product = replace(day.workbook.products["p"], nitrogen_percent=nitrogen)
    day = day_of(replace(day.workbook, products={"p": product}), WEDNESDAY)
    told = " | ".join(not_covered(day, day.orders["O1"]))
    assert told.startswith(expected)
    assert bool(told) == bool(expected)


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
    assert duties(day, day.orders["O1"])[-2].line == "Re-entry, p: keep off until dry"


def test_the_offices_own_sign_and_notice() -> None:
    assert kinds(one("KS", sign=True, notice="call Mrs. Reed")) == [
        ("sign", "at"),
        ("notice", "before"),
        ("re-entry", "after"),
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


def test_the_day_page_says_once_what_a_state_lacks() -> None:
    """Of Michigan the tables have signs and no notices (planner/rules/duties.csv), and of its
    fertilizer law phosphorus and water (planner/rules/fertilizer.csv): feed lacks more."""
    book = days.small_day().workbook
    urea = replace(book.products["urea"], nitrogen_percent=46.0)
    homes = {name: replace(row, state="MI") for name, row in book.properties.items()}
    book = replace(book, products={**book.products, "urea": urea}, properties=homes)
    day = day_of(book, days.DAY)
    said = {text for order in day.orders.values() for text in not_covered(day, order)}
    assert "No notice rules of Michigan are in this planner: ask the state." in said
    page = packet_pages(plan_random(day), day, {}, "", "0")["index.html"]
    assert page.count("rules of Michigan are in this planner") == 1
    assert "fertilizer season or fertilizer amount rules of Michigan" in page
