"""Licenses for mixing restricted-use products where they are mixed (rule 35).

Outside the project: 40 CFR 171.3 counts mixing and loading as use of a pesticide, 40 CFR 171.1(b)
asks for a certification that is valid in the jurisdiction, AG 5-209(c) of Maryland for a certified
applicator alone. Sections and days stand in planner/rules/licenses.csv and
planner/rules/trucks.csv.
"""

from __future__ import annotations

import random
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from planner.chain import check_with_roads
from planner.compliance.holds import holds
from planner.compliance.people import may_be_done_by, papers, with_licenses
from planner.day.day import Day, day_of
from planner.day.fleet import Applicator
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.audit.rules_people import check_people
from tests import days
from tests.audit_holds import audited_codes
from tests.bad_workbooks import BASE
from tests.random_days import straight_travel
from tests.random_plans import plan_random

PAST, LATER = (days.DAY + timedelta(days=step) for step in (-1, 400))


def of_yard(
    yard: str, *people: Applicator, lawns: str = "OH", restricted: bool = True, water: str = ""
) -> Day:
    """The small day with lawns in a state and its yard and water point in others. Ann is on T1, Bo
    on T2."""
    book = days.small_day().workbook
    products = {
        name: replace(one, restricted_use=restricted) for name, one in book.products.items()
    }
    trucks = {
        name: replace(book.trucks[name], applicator=crew, applicator_license="")
        for name, crew in (("T1", "Ann"), ("T2", "Bo"))
    }
    sites = {
        name: replace(one, state=yard if name.startswith("Y") else water)
        for name, one in book.sites.items()
    }
    settings = replace(book.settings, state=lawns)
    book = replace(book, products=products, trucks=trucks, sites=sites, applicators=people)
    return with_licenses(day_of(replace(book, settings=settings), days.DAY))


def licensed(name: str, **until: object) -> list[Applicator]:
    """A row for each state in which a license is good."""
    return [
        Applicator(name, f"{state}-{name}", license_until=day, state=state)  # type: ignore[arg-type]
        for state, day in until.items()
    ]


def test_a_license_of_the_yards_state_that_ran_out_keeps_the_truck_from_the_mix() -> None:
    day = of_yard("PA", *licensed("Ann", OH=LATER, PA=LATER), *licensed("Bo", OH=LATER, PA=PAST))
    assert holds(day) == ()
    assert {one.license_only for one in day.orders.values()} == {frozenset({"T2"})}
    asked = {one.license_asked for one in day.orders.values()}
    assert all("a license of PA to mix" in text and "Y1" in text for text in asked)
    assert all("Bo's PA license was good through" in text for text in asked)
    # Who may not carry the mix takes no site from those who may.
    assert all(one.mixes is None for one in day.workbook.sites.values())
    assert not any("is not used to mix" in note for note in day.notes)
    plan = plan_random(day)
    assert any(truck.stops for truck in plan.trucks)
    assert audit(plan, day, straight_travel(day)) == ()
    # Work in Ohio alone is asked of nobody's Pennsylvania license where nothing is restricted.
    free = of_yard("PA", *day.workbook.applicators, restricted=False)
    assert not any(one.license_only for one in free.orders.values())


def test_the_audit_sees_who_mixes_without_the_license() -> None:
    people = (*licensed("Ann", OH=LATER), *licensed("Bo", OH=LATER))
    asked = of_yard("PA", *people)
    plan = plan_random(of_yard("", *people))
    found = list(check_people(plan, asked))
    assert {one.code for one in found} == {"TRUCK-LICENSE"}
    assert any("is mixed by nobody with a license of PA" in one.message for one in found)
    assert list(check_people(plan, of_yard("OH", *people))) == []


def test_nobody_may_mix_it_in_the_yard() -> None:
    people = (*licensed("Ann", OH=LATER, PA=PAST), *licensed("Bo", OH=LATER))
    day = of_yard("PA", *people, water="PA")
    found = holds(day)
    assert {row.code for row in found} == {"LICENSE"}
    assert {row.order_id for row in found} == set(day.orders)
    assert all("a license of PA to mix" in row.reason for row in found)
    assert audited_codes(day, found) == []
    assert all(f"{PAST}" in row.reason for row in found)
    assert audit(plan_random(day), day, straight_travel(day)) == ()
    assert audited_codes(day, ())
    order = next(iter(day.orders.values()))
    assert not may_be_done_by(day.workbook, order, "T1", days.DAY)
    # A yard that may not make it asks nothing; neither does one whose state nobody knows.
    for change in ({"mixes": frozenset()}, {"state": ""}):
        sites = {
            name: replace(one, **change) for name, one in days.small_day().workbook.sites.items()
        }
        other = with_licenses(day_of(replace(day.workbook, sites=sites), days.DAY))
        assert not any("to mix" in row.reason for row in holds(other))


def test_a_supervised_person_may_not_mix_where_the_state_asks_for_a_certified_one() -> None:
    """Maryland: AG 5-209(c)."""
    helper = Applicator("Bo", supervisor="Ann", training_until=LATER)
    for yard, kept in (("PA", frozenset()), ("MD", frozenset({"T2"}))):
        day = of_yard(yard, *licensed("Ann", OH=LATER, PA=LATER, MD=LATER), helper)
        assert {one.license_only for one in day.orders.values()} == {kept}


def test_a_water_point_in_a_state_where_one_of_the_crews_may_not_mix() -> None:
    people = (*licensed("Ann", OH=LATER, PA=LATER), *licensed("Bo", OH=LATER))
    day = of_yard("OH", *people, water="PA")
    water = [one for one in day.workbook.sites.values() if not one.site_id.startswith("Y")]
    used = {order.mix_id for order in day.orders.values()}
    assert water
    assert all(one.mixes is not None and not one.mixes & used for one in water)
    assert any("is not used to mix" in note and "T2" in note for note in day.notes)
    assert holds(day) == ()
    assert audit(plan_random(day), day, straight_travel(day)) == ()
    both = of_yard("OH", *people[:2], *licensed("Bo", OH=LATER, PA=LATER), water="PA")
    assert both.workbook.sites == days.small_day().workbook.sites | {
        name: replace(one, state="OH" if name.startswith("Y") else "PA")
        for name, one in days.small_day().workbook.sites.items()
    }


def test_what_nobody_may_mix_in_the_yard_is_mixed_at_a_water_point() -> None:
    people = (*licensed("Ann", OH=LATER), *licensed("Bo", OH=LATER))
    day = of_yard("PA", *people, water="OH")
    assert holds(day) == ()
    assert not any(one.license_only for one in day.orders.values())
    mixes = {order.mix_id for order in day.orders.values()}
    assert [one.mixes for one in day.workbook.sites.values()] == [frozenset(), None]
    assert all(any(f"used to mix {mix}:" in note for note in day.notes) for mix in mixes)
    plan = plan_random(day)
    assert any(truck.stops for truck in plan.trucks)
    assert not any(one.stops[0].fills for one in plan.trucks if one.stops)
    pages = packet_pages(plan, day, {}, "", "0")
    assert "not to be mixed at Y1 (Pennsylvania): somebody who carries it" in pages["index.html"]
    assert "Mixed at W1 (Ohio)" in pages["packets.html"]
    assert "Not at Y1 (Pennsylvania)." in pages["packets.html"]
    assert audit(plan, day, straight_travel(day)) == ()


def test_a_yard_of_no_state_is_told_where_lawns_lie_in_two() -> None:
    book = days.small_day().workbook
    products = {name: replace(one, restricted_use=True) for name, one in book.products.items()}
    lawns = list(book.properties)
    properties = {
        name: replace(one, state="PA" if name == lawns[0] else "OH")
        for name, one in book.properties.items()
    }
    day = with_licenses(day_of(replace(book, products=products, properties=properties), days.DAY))
    told = [row.text for row in papers(day) if "table sites" in row.text]
    assert len(told) == 1
    assert "OH and PA" in told[0]
    assert "Y1" in told[0]
    plan = plan_random(day)
    pages = " ".join(packet_pages(plan, day, {}, "", "0").values())
    assert "no table tells the state" in pages
    sites = {name: replace(one, state="PA") for name, one in book.sites.items()}
    stated = with_licenses(day_of(replace(day.workbook, sites=sites), days.DAY))
    assert not [row for row in papers(stated) if "table sites" in row.text]
    pages = " ".join(packet_pages(plan_random(stated), stated, {}, "", "0").values())
    assert "Mixed at Y1 (Pennsylvania)" in pages


def test_check_tells_what_is_missing_and_refuses_no_state(tmp_path: Path) -> None:
    book = shutil.copytree(BASE, tmp_path / "book")
    for table, column, words in (
        ("products", "restricted_use", ["no", "yes"]),
        ("sites", "state", ["", "OH"]),
    ):
        lines = (book / f"{table}.csv").read_text().splitlines()
        cells = [column, *words, *[""] * len(lines)]
        text = "\n".join(f"{line},{cell}" for line, cell in zip(lines, cells, strict=False))
        (book / f"{table}.csv").write_text(text + "\n")
    homes = (book / "properties.csv").read_text()
    (book / "properties.csv").write_text(homes.replace("Birch Lane,,", "Birch Lane,IN,"))
    _, notes = check_with_roads(book)
    told = [note for note in notes if "table sites" in note]
    assert len(told) == 1
    assert "Test broadleaf" in told[0]
    assert "IN and OH" in told[0]
    assert "state of Yard in" in told[0]
    sites = (book / "sites.csv").read_text()
    (book / "sites.csv").write_text(sites.replace(",OH\n", ",Ohio\n"))
    reading, _ = check_with_roads(book)
    assert [(row.file, row.column, row.code) for row in reading.problems] == [
        ("sites.csv", "state", "STATE-1")
    ]


def test_300_random_crews_and_states_planner_and_audit_agree() -> None:
    rng = random.Random(35)
    held = kept = 0
    plan = plan_random(days.small_day())
    for _ in range(300):
        people = [
            Applicator(
                name,
                rng.choice(("", "L", "L")),
                rng.choice(((), ("8",), ("3B", "7"))),
                rng.choice((None, PAST, LATER)),
                rng.choice((None, PAST, LATER)),
                LATER,
                state=rng.choice(("", "OH", "PA", "MD")),
                supervisor=rng.choice(("", "", "Ann", "Cy")),
            )
            for name in ("Ann", "Bo", "Cy", "Ann", "Bo")
        ]
        day = of_yard(
            rng.choice(("", "OH", "PA", "MD")), *people, water=rng.choice(("", "OH", "PA", "MD"))
        )
        found = holds(day)
        held += bool(found)
        assert audited_codes(day, found) == []
        # A plan that knows no licenses breaks the rule on exactly the trucks that orders keep from,
        # and on those whose yard no longer makes the mix.
        bad = [row for row in check_people(plan, day) if row.code == "TRUCK-LICENSE"]
        sprayed = {
            (truck.truck_id, work.order_id, work.mix_id)
            for truck in plan.trucks
            for stop in truck.stops
            for work in stop.orders
            if truck.truck_id in day.workbook.trucks
        }
        said = {(row.truck_id, row.seq, row.message.split()[0]) for row in bad}
        lawns = {(row.truck_id, row.message.split()[1][:-1]) for row in bad}
        seen = {
            (name, order_id)
            for name, order_id, mix_id in sprayed
            if (name, order_id) in lawns
            or ((name, 0, mix_id) in said and day.workbook.sites["Y1"].mixes is None)
        }
        assert seen == {
            (name, order_id)
            for name, order_id, _ in sprayed
            if name in day.workbook.orders[order_id].never_trucks
        }
        kept += bool(seen)
    assert held
    assert kept
