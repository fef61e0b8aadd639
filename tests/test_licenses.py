"""License categories, supervision and the states' yearly filings (rule 35).

Outside the project: Ohio's category 8 and its 25 miles or two hours (OAC 901:5-11-02(A)(3)), 7 Pa.
Code 128.42(7), NJAC 7:30-6.2, AG 5-209(c) and COMAR 15.20.10.03A of Maryland, New York's Form 26
and county codes, 2VAC5-405-100 B. Sections and the days on which they were read stand in
planner/rules/licenses.csv and planner/records/filings.py.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import timedelta

import pytest

from planner.compliance.holds import holds
from planner.compliance.licensed import supervised, too_far, words
from planner.compliance.people import officer_papers, papers, with_licenses
from planner.day.day import Day, day_of
from planner.day.fleet import Applicator
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.audit.rules_people import check_people
from planner.records.filings import NY_COLUMNS, NY_COUNTY_CODES, new_york, virginia
from planner.records.reports import application_rows
from planner.rules.data import license_rules
from tests import days
from tests.audit_holds import audited_codes
from tests.random_days import straight_travel
from tests.random_plans import plan_random
from tests.records_cases import recorded

PAST, LATER = (days.DAY + timedelta(days=step) for step in (-1, 400))


def of_state(
    state: str, *people: Applicator, own: tuple[str, ...] = (), crews: tuple[str, str]
) -> Day:
    """The small day in a state with these crews on T1 and T2; its products are pesticides."""
    book = days.small_day().workbook
    products = {
        name: replace(one, registration_no="00000-1") for name, one in book.products.items()
    }
    trucks = {
        name: replace(book.trucks[name], applicator=crew)
        for name, crew in zip(("T1", "T2"), crews, strict=True)
    }
    settings = replace(book.settings, state=state, license_categories=own)
    book = replace(book, products=products, trucks=trucks, applicators=people, settings=settings)
    return day_of(book, days.DAY)


def test_figures_of_the_states() -> None:
    rules = {one.rule_id: one for one in license_rules()}
    assert (rules["OH-supervision"].miles, rules["OH-supervision"].hours) == (25.0, 2.0)
    assert "8" in rules["OH-turf"].categories
    assert "7" in rules["PA-turf"].categories
    assert "3b" in rules["NJ-turf"].categories
    assert not rules["MD-restricted"].supervised
    assert all(one.origin.read and one.origin.url for one in rules.values())


@pytest.mark.parametrize(
    ("state", "categories", "good"),
    [
        ("OH", ("8",), True),
        ("OH", ("08 Turf",), True),
        ("OH", ("6a",), False),
        ("OH", (), True),
        ("PA", ("07",), True),
        ("NJ", ("3-B",), True),
        ("NJ", ("3A",), False),
        ("KY", ("3A",), True),
        ("NY", ("3B turf",), True),
        ("NY", ("1A",), False),
        ("MI", ("3A",), True),
        ("MI", ("3B",), False),
        ("VA", ("Turf",), True),
        ("VA", ("3A",), False),
    ],
)
def test_a_category_that_the_work_needs(
    state: str, categories: tuple[str, ...], good: bool
) -> None:
    person = Applicator("Ann", "L-1", categories, LATER)
    day = with_licenses(of_state(state, person, crews=("Ann", "Ann")))
    found = [row for row in holds(day) if row.code == "LICENSE"]
    assert (not found) == good
    assert audited_codes(day, holds(day)) == []
    if not good:
        assert audited_codes(day, ())
        half = with_licenses(of_state(state, person, crews=("Ann", "Bo")))
        assert all("T1" in one.never_trucks for one in half.orders.values())
        assert audit(plan_random(half), half, straight_travel(half)) == ()


def test_a_truck_whose_license_of_that_state_ran_out_is_told_so() -> None:
    """Who has both states works on under the other: "nobody has category 8" sends the office to
    a category that is written down."""
    ann = Applicator("Ann", "L-1", ("8",), LATER, state="OH")
    ended = Applicator("Bo", "L-2", ("8",), PAST, state="OH")
    other = Applicator("Bo", "L-3", ("7",), LATER, state="PA")
    day = with_licenses(of_state("OH", ann, ended, other, crews=("Ann", "Bo")))
    asked = {one.license_asked for one in day.orders.values() if "T2" in one.license_only}
    assert asked == {"category 8 (turf) (Bo's OH license was good through Tue 2027-04-13)"}
    assert audit(plan_random(day), day, straight_travel(day)) == ()
    # What an officer is shown does not count what has run out.
    shown = " ".join(officer_papers(day, replace(day.workbook.trucks["T2"], phone="")))
    assert f"applicator's license (good until {LATER})" in shown


@pytest.mark.parametrize(
    ("states", "lawns", "held"),
    [
        (("",), "OH", False),
        (("OH",), "OH", False),
        (("PA",), "OH", True),
        (("PA", "OH"), "OH", False),
        (("OH",), "KY", True),  # a state whose categories are not in the planner
        (("KY",), "KY", False),
    ],
)
def test_a_license_is_good_in_its_state(states: tuple[str, ...], lawns: str, held: bool) -> None:
    people = [Applicator("Ann", "L-1", ("8",), LATER, state=state) for state in states]
    day = with_licenses(of_state(lawns, *people, crews=("Ann", "Ann")))
    found = [row for row in holds(day) if row.code == "LICENSE"]
    assert bool(found) == held
    assert all("state" in row.reason for row in found)
    assert audited_codes(day, holds(day)) == []
    if held:
        assert audited_codes(day, ())
    half = with_licenses(
        of_state(lawns, *people, Applicator("Bo", "L-2", state=lawns), crews=("Ann", "Bo"))
    )
    assert not holds(half)
    assert audit(plan_random(half), half, straight_travel(half)) == ()


def test_restricted_use_asks_one_person_for_number_and_category() -> None:
    number = Applicator("Ann", "L-1", ("6a",), LATER)
    for other, held in (
        (Applicator("Bo", "", ("8",)), True),
        (Applicator("Bo", "L-2", ("8",)), False),
    ):
        day = of_state("OH", number, other, crews=("Ann; Bo", "Ann; Bo"))
        products = {
            name: replace(one, restricted_use=True) for name, one in day.workbook.products.items()
        }
        trucks = {
            name: replace(one, applicator_license="") for name, one in day.workbook.trucks.items()
        }
        book = replace(day.workbook, products=products, trucks=trucks)
        day = with_licenses(day_of(book, days.DAY))
        assert {row.code for row in holds(day)} == ({"LICENSE"} if held else set())
        assert audited_codes(day, holds(day)) == []


def test_the_office_names_the_category_of_a_state_without_one() -> None:
    person = Applicator("Ann", "L-1", ("3A",), LATER)
    for own, held in ((("3A",), False), (("turf", "9"), True)):
        day = with_licenses(of_state("KY", person, own=own, crews=("Ann", "Ann")))
        found = holds(day)
        assert bool(found) == held
        assert audited_codes(day, found) == []


def test_a_supervised_person_is_as_good_as_the_supervisor_and_the_training() -> None:
    boss = Applicator("Ann", "L-1", ("8",), LATER)
    helper = Applicator("Bo", supervisor="Ann", training_until=LATER)
    crews = ("Bo", "Bo")
    assert not holds(with_licenses(of_state("OH", boss, helper, crews=crews)))
    for wrong in (
        (replace(boss, categories=("6a",)), helper),
        (boss, replace(helper, training_until=PAST)),
        (helper,),
    ):
        day = with_licenses(of_state("OH", *wrong, crews=crews))
        assert {row.code for row in holds(day)} == {"LICENSE"}
        assert audited_codes(day, holds(day)) == []
        assert [row for row in papers(day) if row.truck_id == "T1"]
    over = with_licenses(of_state("OH", replace(boss, license_until=PAST), helper, crews=crews))
    assert set(over.barred) == {"T1", "T2"}


def test_300_random_crews_planner_and_audit_agree() -> None:
    rng = random.Random(17)
    held = kept = 0
    base = days.small_day()
    plan = plan_random(base)
    for _ in range(300):
        people = tuple(
            Applicator(
                name,
                rng.choice(("", "L")),
                rng.choice(((), ("8",), ("3B", "x"), ("fertilizer",))),
                rng.choice((None, PAST, LATER)),
                rng.choice((None, PAST, LATER)),
                LATER,
                "B",
                rng.choice(("", "Ann", "Cy")),
                rng.choice(("", "", "OH", "KY")),
            )
            for name in ("Ann", "Bo", "Cy")
            if rng.random() < 0.8
        )
        raw = of_state(
            rng.choice(("OH", "NJ", "MD", "KY", "")),
            *people,
            own=rng.choice(((), ("8",))),
            crews=(rng.choice(("Ann", "Bo", "Bo; Cy", "")), rng.choice(("Cy", "Ann and Bo"))),
        )
        strict = {name: rng.random() < 0.3 for name in raw.workbook.products}
        products = {
            name: replace(one, restricted_use=strict[name])
            for name, one in raw.workbook.products.items()
        }
        raw = replace(raw, workbook=replace(raw.workbook, products=products))
        day = with_licenses(raw)
        found = holds(day)
        held += bool(found)
        assert audited_codes(day, found) == []
        assert not [row for row in check_people(plan, day) if row.code == "TRUCK-PAPERS"]
        # A plan that knows no licenses breaks the rule on exactly the trucks that orders keep from.
        seen = {
            (row.truck_id, row.message.split()[1][:-1])
            for row in check_people(plan, day)
            if row.code == "TRUCK-LICENSE" and row.message.startswith("order")
        }
        told = {
            (truck.truck_id, work.order_id)
            for truck in plan.trucks
            for stop in truck.stops
            for work in stop.orders
            if truck.truck_id in day.workbook.trucks
            and truck.truck_id in day.workbook.orders[work.order_id].never_trucks
        }
        assert seen == told
        kept += bool(told)
    assert held > 30
    assert kept > 40


def test_supervised_from_too_far_is_said() -> None:
    boss = Applicator("Ann", "L-1", ("8",), LATER)
    helper = Applicator("Bo", supervisor="Ann")
    day = of_state("OH", boss, helper, crews=("Bo", "Ann"))
    book = day.workbook
    here, yard = next(iter(book.properties.values())), book.sites[book.trucks["T1"].yard_id]
    for miles, said in ((24.5, False), (25.6, True)):
        # A degree of latitude is 69.05 miles on a sphere of 3,956.5 miles (2 pi r / 360).
        moved = replace(here, lat=yard.lat + miles / (2 * math.pi * 3956.5 / 360), lon=yard.lon)
        properties = {**book.properties, here.property_id: moved}
        far = replace(day, workbook=replace(book, properties=properties))
        found = list(too_far(far, [("T1", 4, here.property_id)]))
        assert bool(found) == said
    assert found[0][1].startswith("Stop 4 lies up to 26 miles from Ann")
    assert not list(too_far(far, [("T2", 4, here.property_id)]))


def test_a_hold_says_what_is_needed_and_where_to_write_it() -> None:
    person = Applicator("Ann", "L-1", ("6a",), LATER)
    (reason, *_) = [one.reason for one in holds(of_state("OH", person, crews=("Ann", "Ann")))]
    assert reason.startswith("somebody on the truck needs category 8 (turf) (Ohio")
    assert reason.endswith("if somebody does, write it there under categories")


@pytest.mark.parametrize("state", ["MI", "KY"])
def test_a_fertilizer_with_a_signal_word_is_said_to_count_as_a_pesticide(state: str) -> None:
    """Nobody who sells iron thinks of it as a pesticide, though its sheet says CAUTION."""
    day = of_state(state, Applicator("Ann", categories=("6",)), own=("3",), crews=("Ann", "Ann"))
    book = day.workbook
    without = {
        name: replace(one, registration_no="", signal_word="CAUTION")
        for name, one in book.products.items()
    }
    for products, told in ((book.products, False), (without, True)):
        held = holds(day_of(replace(book, products=products), days.DAY))
        reasons = [one.reason for one in held if one.code == "LICENSE"]
        assert reasons
        assert all(("counts as a pesticide" in reason) is told for reason in reasons), reasons


def test_who_works_under_whose_license_is_said_once() -> None:
    """40 CFR 171.201 (from memory) lets an uncertified applicator work under a certified one's
    supervision. Where a state's distance is known, `too_far` speaks."""
    boss, helper = Applicator("Ann", "L-1", ("8",), LATER), Applicator("Bo", supervisor="Ann")
    for state, said in (("KY", True), ("OH", False)):
        day = of_state(state, boss, helper, crews=("Bo", "Ann; Bo"))
        assert bool(list(supervised(day, day.workbook.trucks["T1"], ["P1"]))) == said
        assert not list(supervised(day, day.workbook.trucks["T2"], ["P1"]))
        text = "Bo has no license of their own and works under Ann&#39;s"
        pages = packet_pages(plan_random(day), day, {}, "", "0")
        assert [pages[name].count(text) for name in ("index.html", "truck-T1.html")] == [said] * 2


def test_words_of_categories() -> None:
    assert words(("07 Lawn", "3-B")) == {"7", "lawn", "3b"}


def test_new_york_s_columns() -> None:
    rows = new_york(application_rows(recorded()))
    assert len(NY_COLUMNS) == 14
    assert (NY_COUNTY_CODES["st.lawrence"], NY_COUNTY_CODES["richmond"]) == ("40", "62")
    assert len(NY_COUNTY_CODES) == 62
    general = [row for row in application_rows(recorded()) if row.registration_no]
    assert len(rows) == len(general) > 0
    assert all(len(row) == 14 for row in rows)
    assert [row[4] for row in rows] == ["04/14/2027" for _ in rows]
    assert [row[2] for row in rows] == [one.amount for one in general]


def test_virginia_counts_each_lawn_once() -> None:
    """The tool's own example: one acre with four applications is one acre."""
    events = [
        replace(event, body={**event.body, "state": "VA", "zip": "22901"})
        if "zip" in event.body
        else event
        for event in recorded()
    ]
    fed = {
        event.body["property_id"]: min(event.body["lawn_ft2"], event.body["area_ft2"])
        for event in events
        if "order_id" in event.body
        and any(one["product_id"] == "urea" for one in event.body.get("products", ()))
    }
    assert fed
    [row] = virginia(events, {"urea"})
    assert row[0] == "22901"
    assert row[1] == pytest.approx(sum(fed.values()), abs=1.0)
    later = [replace(event, subject=f"{event.subject} later", day="2027-06-01") for event in events]
    assert virginia([*events, *later], {"urea"})[0][1] == row[1]


@pytest.mark.parametrize("restricted", [False, True])
def test_a_hold_may_name_the_day_on_which_a_license_ended(restricted: bool) -> None:
    """The truck goes out under another state's license; the audit reads the reason's figures."""
    people = (
        Applicator("Ann", "L-1", ("8",), PAST, state="OH"),
        Applicator("Ann", "L-2", ("7",), LATER, state="PA"),
        Applicator("Bo", "", (), None, LATER, supervisor="Cy"),
        Applicator("Cy", "L-3", ("8",), PAST - timedelta(days=9), state="OH"),
        Applicator("Cy", "L-4", ("7",), LATER, state="PA"),
    )
    raw = of_state("OH", *people, crews=("Ann", "Bo"))
    products = {
        name: replace(one, restricted_use=restricted) for name, one in raw.workbook.products.items()
    }
    day = with_licenses(day_of(replace(raw.workbook, products=products), days.DAY))
    assert not day.barred
    assert {row.code for row in holds(day)} == {"LICENSE"}
    for text in ("Ann's OH license was good through", "Cy's OH license was good through"):
        assert all(text in row.reason for row in holds(day))
    plan = plan_random(day)
    assert audit(plan, day, straight_travel(day)) == ()
    false = tuple(
        replace(row, reason=row.reason.replace(f"{PAST}", "2027-01-02")) for row in plan.held
    )
    found = audit(replace(plan, held=false), day, straight_travel(day))
    assert {row.code for row in found} == {"REASON-FIGURE"}
