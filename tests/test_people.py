"""Licenses, cards, inspections and restricted-use products (rule 35).

Outside the project: 49 CFR 391.41(a) and 396.17(c) begin at 10,001 lb (390.5), 383.91(a)(2) at
26,001 lb, 40 CFR 171.1(b) asks for a certification that is good where the product is used. The
sections and the days on which they were read stand in planner/rules/trucks.csv.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.compare.fleets import NO_PRICES, Fleet
from planner.compare.staff import staff_lines
from planner.compliance.holds import holds
from planner.compliance.people import BARS, SOON, WARNS, officer_papers, papers, with_licenses
from planner.compliance.pre_notices import pre_notices
from planner.day.clock import DateSpan
from planner.day.day import Day, day_of
from planner.day.fleet import Applicator, people_named
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.audit.rules_people import check_people
from tests import days
from tests.audit_holds import audited_codes
from tests.random_days import straight_travel
from tests.random_plans import plan_random

PAST, TODAY, SOON_DAY, LATER = (days.DAY + timedelta(days=step) for step in (-1, 0, 30, 31))


def staffed(
    *people: Applicator, restricted: str = "", until: date | None = None, **truck: object
) -> Day:
    """The small day with T1 changed and these people; restricted: a product of restricted use."""
    book = days.small_day().workbook
    trucks = {**book.trucks, "T1": replace(book.trucks["T1"], **truck)}
    products = {
        name: replace(one, restricted_use=name == restricted) for name, one in book.products.items()
    }
    settings = replace(book.settings, business_license_until=until)
    book = replace(book, trucks=trucks, products=products, applicators=people, settings=settings)
    return with_licenses(day_of(book, days.DAY))


def person(name: str = "A. Person", **cells: object) -> Applicator:
    base = Applicator(
        name, "L-1", license_until=LATER, training_until=LATER, medical_card_until=LATER
    )
    return (
        replace(base, cdl_class="B", **cells)
        if "cdl_class" not in cells
        else replace(base, **cells)
    )


def test_nothing_is_asked_of_an_office_that_writes_nothing_down() -> None:
    day = staffed()
    assert papers(day) == ()
    assert with_licenses(day) is day
    assert officer_papers(day, day.workbook.trucks["T1"]) == ()


@pytest.mark.parametrize(
    ("cells", "truck", "level"),
    [
        ({}, {}, None),
        ({"license_until": PAST}, {}, BARS),
        ({"license_until": TODAY}, {}, SOON),
        ({"license_until": SOON_DAY}, {}, SOON),
        ({"license_until": None}, {}, WARNS),
        ({"training_until": PAST}, {}, WARNS),
        ({"medical_card_until": PAST}, {"gvwr_lb": 10_001.0}, BARS),
        ({"medical_card_until": PAST}, {"gvwr_lb": 10_000.0}, None),
        ({"medical_card_until": None}, {"gvwr_lb": 10_001.0}, WARNS),
        ({"cdl_class": "none"}, {"gvwr_lb": 26_001.0}, BARS),
        ({"cdl_class": "C"}, {"gvwr_lb": 26_001.0}, BARS),
        ({"cdl_class": ""}, {"gvwr_lb": 26_001.0}, WARNS),
        ({"cdl_class": "none"}, {"gvwr_lb": 26_000.0}, None),
        ({}, {"inspection_until": PAST}, BARS),
        ({}, {"inspection_until": LATER}, None),
        ({}, {"out_on": (DateSpan(PAST, TODAY),)}, BARS),
        ({}, {"out_on": (DateSpan(PAST, PAST), DateSpan(LATER, LATER))}, None),
        ({}, {"backflow_test_until": PAST}, WARNS),
        ({}, {"calibration_until": PAST}, WARNS),
        ({}, {"applicator": "Bo Roe"}, WARNS),
    ],
)
def test_what_bars_and_what_warns(
    cells: dict[str, object], truck: dict[str, object], level: str | None
) -> None:
    day = staffed(person(**cells), **truck)
    found = {row.level for row in papers(day) if row.truck_id == "T1"}
    assert found == ({level} if level else set())
    assert ("T1" in day.barred) == (level == BARS)
    assert ("T1" not in day.workbook.trucks) == (level == BARS)
    assert ("T1 stays" in " ".join(day.notes)) == (level == BARS)


def test_two_on_a_truck_one_with_a_good_license() -> None:
    old = person("Ann Lee", license_until=PAST)
    assert [one.name for one in people_named("ann  lee and Bo Roe", (old,))] == ["Ann Lee"]
    both = staffed(old, person("Bo Roe"), applicator="Ann Lee; Bo Roe")
    assert not both.barred
    assert staffed(old, applicator="Ann Lee; Bo Roe").barred


@pytest.mark.parametrize(
    ("crew", "gvwr_lb", "barred"),
    [
        # Whoever drives has card and class: one each is nobody.
        ((person("Ann", medical_card_until=PAST), person("Bo", cdl_class="none")), 26_001.0, True),
        ((person("Ann", medical_card_until=PAST), person("Bo", cdl_class="none")), 26_000.0, False),
        ((person("Ann", medical_card_until=PAST), person("Bo", cdl_class="A")), 26_001.0, False),
        # Who is supervised has the supervisor's license, in every state.
        ((person("Bo", license="", supervisor="Cy"), person("Cy", license_until=PAST)), 9e3, True),
        ((person("Bo", license="", supervisor="Cy"), person("Cy")), 9e3, False),
        ((person("Bo", license="", supervisor="Zed"),), 9e3, False),
        (
            tuple(person(a, license="", supervisor=b) for a, b in (("Bo", "Cy"), ("Cy", "Bo"))),
            9e3,
            True,
        ),
    ],
)
def test_nobody_drives_or_sprays_on_half_of_the_papers(
    crew: tuple[Applicator, ...], gvwr_lb: float, barred: bool
) -> None:
    names = "Ann; Bo" if len(crew) > 1 and crew[0].name == "Ann" else "Bo"
    day = staffed(*crew, applicator=names, applicator_license="", gvwr_lb=gvwr_lb)
    assert ("T1" in day.barred) == barred
    assert list(check_people(plan_random(days.small_day()), day)) == []


def test_two_states_are_said_because_a_license_names_none() -> None:
    day = staffed(person())
    first, *_ = day.workbook.properties
    homes = {
        name: replace(home, state="PA" if name == first else "OH")
        for name, home in day.workbook.properties.items()
    }
    two = replace(day, workbook=replace(day.workbook, properties=homes))
    assert [row.text for row in papers(two)] == [
        "Work in OH and PA: see that each license is good there"
    ]
    both = (person(state="OH"), person(state="PA", license="P-1"), Applicator("Cy", ""))
    written = replace(two.workbook, applicators=both)
    assert papers(replace(two, workbook=written)) == ()
    assert papers(day) == ()


def test_a_spare_person_s_license_is_told_ahead() -> None:
    day = staffed(person(), person("Spare", license_until=SOON_DAY))
    assert [(row.level, row.text[:5]) for row in papers(day)] == [(SOON, "Spare")]


def test_an_expired_business_license_holds_every_order() -> None:
    day = staffed(until=PAST)
    found = holds(day)
    assert {row.code for row in found} == {"LICENSE"}
    assert {row.order_id for row in found} == set(day.orders)
    assert "the business license was good through Tue 2027-04-13" in found[0].reason
    assert audited_codes(day, found) == []
    assert audited_codes(day, ())
    assert not holds(staffed(until=TODAY))


def test_restricted_use_goes_out_with_a_licensed_person_only() -> None:
    # T2's crew is in no row of the table and has no number of its own.
    bare = days.small_day().workbook
    day = staffed(
        person(), restricted="kill" if "kill" in bare.products else next(iter(bare.products))
    )
    book = replace(
        day.workbook,
        trucks={
            **day.workbook.trucks,
            "T2": replace(day.workbook.trucks["T2"], applicator="", applicator_license=""),
        },
    )
    raw = replace(day, workbook=book)
    kept = with_licenses(raw)
    named = {name for name, one in kept.orders.items() if "T2" in one.never_trucks}
    assert named
    travel = straight_travel(kept)
    plan = plan_random(kept)
    assert audit(plan, kept, travel) == ()
    carried = {
        w.order_id for t in plan.trucks if t.truck_id == "T2" for s in t.stops for w in s.orders
    }
    assert not carried & named
    # Nobody tells the engines of the rule: the audit does.
    blind = plan_random(raw)
    carried = {
        w.order_id for t in blind.trucks if t.truck_id == "T2" for s in t.stops for w in s.orders
    }
    if carried & named:
        assert {row.code for row in check_people(blind, raw)} == {"TRUCK-LICENSE"}
    nobody = replace(
        book,
        applicators=(),
        trucks={n: replace(t, applicator_license="") for n, t in book.trucks.items()},
    )
    none = with_licenses(day_of(nobody, days.DAY))
    found = holds(none)
    assert {row.code for row in found} == {"LICENSE"}
    assert {row.order_id for row in found} == named
    assert audited_codes(none, found) == []


def test_to_allow_a_truck_makes_no_room_without_a_license_on_it() -> None:
    # T1, whose crew has one, cannot carry the mix; T2 could.
    day = staffed(person(), restricted="urea")
    first, second = day.workbook.trucks.values()
    tanks = tuple(replace(one, reserved_for="non-selective") for one in first.compartments)
    bare = replace(second, applicator="", applicator_license="")
    trucks = {"T1": replace(first, compartments=tanks), "T2": bare}
    kept = with_licenses(replace(day, workbook=replace(day.workbook, trucks=trucks)))
    shut = {
        name: replace(one, never_trucks=frozenset(trucks), license_only=frozenset())
        for name, one in kept.orders.items()
        if "T2" in one.unlicensed_trucks
    }
    kept = replace(kept, orders=shut, workbook=replace(kept.workbook, orders=shut))
    told = plan_random(kept)
    assert len(told.unserved) == len(shut) > 0
    assert not any("T2" in row.reason for row in told.unserved)
    assert audit(told, kept, straight_travel(kept)) == ()
    false = tuple(
        replace(
            one, reason=one.reason.partition(";")[0] + "; what would make room: allowing truck T2"
        )
        for one in told.unserved
    )
    found = audit(replace(told, unserved=false), kept, straight_travel(kept))
    assert {row.code for row in found} == {"OFFER"}


def test_200_random_crews_planner_and_audit_agree() -> None:
    rng = random.Random(35)
    base = plan_random(days.small_day())
    barred = 0
    for _ in range(200):
        dates = [None, PAST, TODAY, LATER]
        people = tuple(
            Applicator(
                name,
                rng.choice(("", "L")),
                (),
                rng.choice(dates),
                rng.choice(dates),
                rng.choice(dates),
                rng.choice(("", "none", "A", "C")),
            )
            for name in ("Ann", "Bo")
            if rng.random() < 0.8
        )
        day = staffed(
            *people,
            applicator=rng.choice(("Ann", "ann & BO", "", "Cy")),
            inspection_until=rng.choice(dates),
            out_on=rng.choice(((), (), (), (DateSpan(PAST, rng.choice((PAST, TODAY, LATER))),))),
            gvwr_lb=rng.choice((9_900.0, 12_000.0, 26_001.0)),
        )
        barred += bool(day.barred)
        assert not [row for row in check_people(base, day) if row.code == "TRUCK-PAPERS"]
        if day.barred:
            free = replace(
                day,
                barred={},
                workbook=replace(
                    day.workbook, trucks={**day.workbook.trucks, **day.workbook.out_of_service}
                ),
            )
            assert [row.truck_id for row in check_people(base, free)] == ["T1"]
        else:
            wrong = replace(
                day,
                barred={"T1": "?"},
                workbook=replace(
                    day.workbook,
                    trucks={"T2": day.workbook.trucks["T2"]},
                    out_of_service={"T1": day.workbook.trucks["T1"]},
                ),
            )
            assert [row.truck_id for row in check_people(base, wrong)] == ["T1"]
    assert 40 < barred < 180


def test_papers_of_the_day_say_it() -> None:
    day = staffed(
        person(license_until=SOON_DAY),
        restricted=next(iter(days.small_day().workbook.products)),
        calibration_until=PAST,
    )
    plan = plan_random(day)
    pages = packet_pages(plan, day, {}, "", "0")
    assert "A. Person&#39;s license is good through Fri 2027-05-14" in pages["index.html"]
    assert "calibration was good through Tue 2027-04-13" in pages["index.html"]
    assert "RESTRICTED USE" in pages["packets.html"]
    assert f"applicator&#39;s license (good until {SOON_DAY})" in pages["packets.html"]
    old = packet_pages(plan_random(days.small_day()), days.small_day(), {}, "", "0")
    assert "Licenses, training" not in old["index.html"]
    assert "On board" not in old["packets.html"]


def only_on(day: Day, *trucks: str) -> Day:
    """The day with O1 for these trucks alone."""
    some = frozenset(trucks)
    orders = {
        name: replace(one, only_trucks=some) if name == "O1" else one
        for name, one in day.workbook.orders.items()
    }
    book = replace(day.workbook, orders=orders)
    return replace(day, workbook=book, orders={name: orders[name] for name in day.orders})


def test_an_order_whose_truck_stays_in_the_yard_is_told_why() -> None:
    over = person(license_until=PAST)
    day = with_licenses(only_on(staffed(), "T1"))
    book = replace(day.workbook, applicators=(over,))
    trucks = {
        "T1": replace(book.trucks["T1"], applicator="A. Person"),
        "T2": replace(book.trucks["T2"], applicator=""),
    }
    day = with_licenses(replace(day, workbook=replace(book, trucks=trucks)))
    assert set(day.barred) == {"T1"}
    plan = plan_random(day)
    (row,) = (one for one in plan.unserved if one.order_id == "O1")
    assert row.code == "NO-TRUCK"
    assert row.reason.partition("; what")[0] == (
        "no truck in service may do it: T1 stays in the yard (A. Person's license was good "
        "through Tue 2027-04-13); only/never trucks rule out T2"
    )
    travel = straight_travel(day)
    assert audit(plan, day, travel) == ()
    # The audit asks for the license by itself, and believes no other truck.
    for false in (
        "no truck in service may do it (only/never trucks)",
        row.reason.replace("Tue 2027-04-13", "Sat 2027-05-15"),
        row.reason.replace("T1 stays", "T2 stays"),
    ):
        told = tuple(
            replace(one, reason=false) if one.order_id == "O1" else one for one in plan.unserved
        )
        assert {one.code for one in audit(replace(plan, unserved=told), day, travel)} == {
            "REASON-FIGURE"
        }, false


def test_an_order_that_its_own_truck_may_not_do_by_license_is_told_so() -> None:
    # T1 has somebody with the license, and only T2 is allowed.
    day = only_on(staffed(person(), restricted="three-way", applicator="A. Person"), "T2")
    second = replace(day.workbook.trucks["T2"], applicator="", applicator_license="")
    book = replace(day.workbook, trucks={**day.workbook.trucks, "T2": second})
    day = with_licenses(replace(day, workbook=book))
    plan = plan_random(day)
    (row,) = (one for one in plan.unserved if one.order_id == "O1")
    assert row.code == "NO-TRUCK"
    assert "nobody on T2 has a license good that day for" in row.reason
    assert "(restricted use)" in row.reason
    travel = straight_travel(day)
    assert audit(plan, day, travel) == ()
    false = row.reason.replace("nobody on T2 has", "T2 is lacking")
    told = tuple(
        replace(one, reason=false) if one.order_id == "O1" else one for one in plan.unserved
    )
    assert {one.code for one in audit(replace(plan, unserved=told), day, travel)} == {
        "REASON-FIGURE"
    }


def test_a_full_day_names_the_truck_that_lacks_only_the_license() -> None:
    """T1's crew has the license for WEED and no time; T2 has nothing to do and nobody with it. With
    a hose that does not reach, tanks kept for another group or taken by a leftover, or work of its
    own, T2 is no room and not named."""
    hours = {"shift_end_min": 500.0, "overtime_most_min": 0.0}
    day = staffed(person(), restricted="three-way", applicator="A. Person", **hours)
    second = replace(day.workbook.trucks["T2"], applicator="", applicator_license="")
    trucks = {**day.workbook.trucks, "T2": second}
    weeds = {name: one for name, one in day.workbook.orders.items() if one.mix_id == "WEED"}
    homes = {name: replace(one, hose_run_ft=50.0) for name, one in day.workbook.properties.items()}
    book = replace(day.workbook, trucks=trucks, orders=weeds, properties=homes)
    day = with_licenses(day_of(book, days.DAY))
    plan = plan_random(day)
    full = [row for row in plan.unserved if row.code == "FULL"]
    assert full
    said = "the day is full; T2 has nothing to do: nobody on T2 has a license good that day for"
    assert all(row.reason.startswith(said) for row in full)
    travel = straight_travel(day)
    assert audit(plan, day, travel) == ()
    silent = tuple(
        replace(row, reason=f"the day is full; what{row.reason.partition('; what')[2]}")
        for row in plan.unserved
    )
    found = audit(replace(plan, unserved=silent), day, travel)
    assert {row.code for row in found} == {"REASON-FIGURE"}
    short = replace(second, lines=tuple(replace(one, hose_ft=40.0) for one in second.lines))
    kept = tuple(replace(one, reserved_for="fertilizer") for one in second.compartments)
    others = replace(second, compartments=kept)
    full_of = tuple(replace(one, last_mix="FEED", leftover_gal=5.0) for one in second.compartments)
    fed = replace(day.workbook.orders["O1"], order_id="O0", mix_id="FEED", never_trucks=frozenset())
    for other in (
        replace(book, trucks={**trucks, "T2": short}),
        replace(book, trucks={**trucks, "T2": others}),
        replace(book, trucks={**trucks, "T2": replace(second, compartments=full_of)}),
        replace(book, orders={"O0": replace(fed, only_trucks=frozenset({"T2"})), **weeds}),
    ):
        day = with_licenses(day_of(other, days.DAY))
        plan = plan_random(day)
        full = [row for row in plan.unserved if row.code == "FULL"]
        assert full
        assert not any("T2 has nothing to do" in row.reason for row in full)
        assert audit(plan, day, travel) == ()
        false = tuple(replace(row, reason=said) for row in full)
        found = audit(replace(plan, unserved=false), day, travel)
        assert "REASON-FIGURE" in {row.code for row in found}


@pytest.mark.parametrize(
    ("classes", "rated_lb", "told"),
    [
        (("C", "none"), 26_001.0, "nobody in the table applicators has one"),
        (("C", None), 26_001.0, "nobody in the table applicators is known to have one"),
        ((), 26_001.0, "nobody in the table applicators is known to have one"),
        (("C", "B"), 26_001.0, ""),
        (("C",), 26_000.0, ""),
    ],
)
def test_fleets_with_a_truck_that_nobody_may_drive_are_told_of(
    classes: tuple[str | None, ...], rated_lb: float, told: str
) -> None:
    """49 CFR 383.91(a)(2): group B begins at 26,001 lb. A truck that the fleet keeps is not new."""
    people = [person(f"{n}. Person", cdl_class=one) for n, one in enumerate(classes)]
    book = staffed(*people).workbook
    heavy = {**book.trucks, "T1": replace(book.trucks["T1"], gvwr_lb=rated_lb)}
    now = Fleet("now", book.trucks, NO_PRICES, {})
    lines = list(staff_lines(book, [now, Fleet("big", heavy, NO_PRICES, {"T2": "T2"})]))
    if not told:
        assert lines == []
        return
    (line,) = lines
    assert line.startswith("T1 of big: rated at 26,001 lb or more")
    assert "(49 CFR 383.91(a)(2))" in line
    assert told in line
    kept = Fleet("same", heavy, NO_PRICES, {"T1": "T1", "T2": "T2"})
    assert list(staff_lines(book, [now, kept])) == []


def test_what_runs_out_names_the_last_good_day_and_the_first_working_day_without_it() -> None:
    """By hand: April 14, 2027 is a Wednesday (ISO 8601 week 15), so May 9 is a Sunday, and whoever
    works from Monday to Friday needs the new license on Monday May 10."""
    day = staffed(person(license_until=date(2027, 5, 9)), applicator="A. Person")
    (line,) = {one.text for one in papers(day) if one.level == SOON}
    assert line == (
        "A. Person's license is good through Sun 2027-05-09; the next working day after it is "
        "Mon 2027-05-10"
    )


def test_a_license_that_has_run_out_is_not_asked_for_as_if_nobody_had_it() -> None:
    over = person(license_until=PAST, categories=("8",))
    book = staffed(restricted="three-way", applicator="A. Person").workbook
    second = replace(book.trucks["T2"], applicator="", applicator_license="")
    book = replace(book, trucks={**book.trucks, "T2": second}, applicators=(over,))
    day = with_licenses(day_of(book, days.DAY))
    reasons = [row.reason for row in holds(day) if row.code == "LICENSE"]
    assert reasons
    for reason in reasons:
        assert "A. Person's license was good through Tue 2027-04-13" in reason
        assert "write it there" not in reason


def test_a_notice_names_only_days_on_which_a_crew_may_come() -> None:
    """By hand: Wednesday April 14, 2027, an order due to Tuesday 20. Saturday and Sunday nobody
    works; the license is good through Monday 19."""
    over = person(license_until=date(2027, 4, 19))
    book = staffed(over, applicator="A. Person").workbook
    order = replace(book.orders["O1"], due_to=date(2027, 4, 20))
    home = replace(book.properties[order.property_id], notice="tell the clerk", state="PA")
    second = replace(book.trucks["T2"], applicator="A. Person")
    book = replace(
        book,
        properties=book.properties | {home.property_id: home},
        trucks=book.trucks | {"T2": second},
        settings=replace(book.settings, working_days=(0, 1, 2, 3, 4)),
        orders={"O1": order},
    )
    for notice in pre_notices(with_licenses(day_of(book, days.DAY))):
        assert [one.day for one in notice.alternates] == [15, 16, 19]
    # A truck with somebody else may come on the last day, too.
    other = replace(book.trucks["T2"], applicator="B. Person")
    people = (over, person("B. Person"))
    wider = replace(book, trucks=book.trucks | {"T2": other}, applicators=people)
    for notice in pre_notices(with_licenses(day_of(wider, days.DAY))):
        assert [one.day for one in notice.alternates] == [15, 16, 19, 20]


def test_no_paper_names_a_license_that_has_run_out() -> None:
    """A person with licenses of two states; one ended the day before."""
    crew = (
        person(state="MD", license="M-1", license_until=PAST),
        person(state="PA", license="P-2"),
    )
    day = staffed(*crew, applicator="A. Person", applicator_license="")
    assert day.workbook.trucks["T1"].signature == "A. Person, license PA P-2"
    page = packet_pages(plan_random(day), day, {}, "", "0")["truck-T1.html"]
    assert "P-2" in page
    assert "M-1" not in page
