"""Two visits to one lawn on one day: rule 41, from the labels' words to papers and phone."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from html import unescape
from types import SimpleNamespace
from typing import cast

import pytest

from planner.chain import PlannedDay
from planner.day.day import Day, day_of
from planner.day.orders import PastApplication
from planner.day_roads import DayRoads
from planner.papers.packet import packet_pages
from planner.phone.page import phone_pages
from planner.plan.audit import audit
from planner.plan.model import Plan, Stop
from planner.plan.same_lawn import reentry_hours, same_lawn_notes, same_lawns, sprayed_lately
from planner.units import Amount
from tests import days
from tests.random_days import straight_travel
from tests.random_plans import plan_random


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        # Restricted-entry intervals that labels state: 40 CFR 156.208(c), from memory: verify.
        ("Do not enter treated areas during the restricted-entry interval (REI) of 12 hours", 12),
        ("REI: 24-hour", 24),
        ("for forty-eight (48) hours", 48),
        # Ours, as lawn labels say it.
        ("Keep people and pets off until the spray has dried", None),
        ("2,4-D: keep off until dry, stay 10 ft away", None),
        ("until dry, at least 2 to 4 hrs.", 4),
        ("30 minutes", 0.5),
        ("Keep children off for one day; 3 days after watering", 72),
        ("4h", 4),
        ("", None),
    ],
)
def test_hours_are_read_from_the_labels_words(text: str, hours: float | None) -> None:
    assert reentry_hours(text) == hours


def two_crew_day(reentry: str = "keep off until dry") -> Day:
    """O1 (WEED, T1) and O10 (FEED, T2) are of one lawn."""
    book = days.small_day().workbook
    weed = replace(
        book.products["three-way"],
        reentry=reentry,
        restricted_use=True,
        ppe=("coveralls", "goggles"),
    )
    first = replace(book.orders["O1"], only_trucks=("T1",))
    second = days.order("O10", book.properties["P1"], "FEED", only_trucks=("T2",))
    orders = {**book.orders, "O1": first, "O10": second}
    del orders["O9"]
    products = {**book.products, "three-way": weed}
    return day_of(replace(book, products=products, orders=orders), days.DAY)


def visit(plan: Plan, truck: str) -> Stop:
    stops = next(one for one in plan.trucks if one.truck_id == truck).stops
    return next(stop for stop in stops if stop.place_id == "P1" and stop.kind == "visit")


def moved(plan: Plan, truck: str, begin_min: float, done: bool = False) -> Plan:
    """The truck is at P1 for 20 minutes from then on, by what papers read."""
    trucks = []
    for one in plan.trucks:
        stops = list(one.stops)
        for row, stop in enumerate(stops):
            if (one.truck_id, stop.place_id, stop.kind) == (truck, "P1", "visit"):
                end = begin_min + 20
                works = tuple(replace(w, begin_min=begin_min + 4, end_min=end) for w in stop.orders)
                stops[row] = replace(
                    stop,
                    arrive_min=begin_min,
                    begin_min=begin_min,
                    leave_min=end,
                    orders=works,
                    done=done,
                )
        trucks.append(replace(one, stops=tuple(stops)))
    return replace(plan, trucks=tuple(trucks))


def at(plan: Plan, first: float, second: float) -> Plan:
    return moved(moved(plan, "T1", first), "T2", second)


def told(plan: Plan, day: Day) -> dict[str, tuple[str, str]]:
    """By truck, what its route sheet's row and its phone's screen say of that lawn."""
    pages, phones = packet_pages(plan, day, {}, "", "0"), phone_pages(plan, day, {}, (), "0")
    found = {}
    for name in ("T1", "T2"):
        seq = visit(plan, name).seq
        row = pages[f"truck-{name}.html"].partition(f'id="stop-{seq}"')[2].partition("</tr>")[0]
        screen = phones[name].partition(f'id="stop-{seq}"')[2].partition("</section>")[0]
        found[name] = plain(row), plain(screen)
    return found


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)).replace("\xa0", " "))


@pytest.fixture(scope="module")
def planned() -> tuple[Plan, Day]:
    day = two_crew_day()
    return plan_random(day), day


def test_a_crew_that_comes_later_waits_until_it_is_dry(planned: tuple[Plan, Day]) -> None:
    day = planned[1]
    plan = at(planned[0], 540.0, 600.0)
    later = (
        "WET? T1 sprays WEED (RESTRICTED USE) here 9:00 AM–9:20 AM. Wait until it is dry (keep off "
        "until dry); earlier only as its labels let applicators, in their gear (coveralls, "
        "goggles); else call the office."
    )
    for text in told(plan, day)["T2"]:
        assert later in text
    for text in told(plan, day)["T1"]:
        assert "THEN T2 comes to this lawn after you, 10:00 AM–10:20 AM" in text
        assert "WET?" not in text
    office = plain(packet_pages(plan, day, {}, "", "0")["index.html"])
    assert "One lawn, two visits P1 Test Street, Customer P1: T1 (stop" in office
    assert same_lawn_notes(plan, day) == ()


def test_hours_of_a_label_are_as_plain_as_it_gets(planned: tuple[Plan, Day]) -> None:
    day = two_crew_day("Keep everybody off for 12 hours")
    plan = at(planned[0], 540.0, 600.0)
    for text in told(plan, day)["T2"]:
        assert "NOT YET T1 sprays WEED (RESTRICTED USE) here 9:00 AM–9:20 AM. " in text
        assert "Not before 9:20 PM (Keep everybody off for 12 hours)" in text
    (note,) = same_lawn_notes(plan, day)
    for words in ("9:00 AM–9:20 AM", "10:00 AM–10:20 AM", "within the 12 h", "to 9:20 PM"):
        assert words in note
    assert f'role="note">{note}' in unescape(packet_pages(plan, day, {}, "", "0")["index.html"])
    for minutes, inside in ((59.0, True), (60.0, False), (61.0, False)):
        one = two_crew_day("Keep everybody off for 1 hour")
        (row,) = same_lawns(at(plan, 540.0, 560.0 + minutes), one)
        assert (row.inside, row.serious) == (inside, inside), minutes
    late = two_crew_day("24 hours")
    (row,) = same_lawns(plan, late)
    assert "(to 9:20 AM tomorrow)" in same_lawn_notes(plan, late)[0]
    # FEED's label names none: the other way round nothing is broken.
    assert same_lawn_notes(at(planned[0], 600.0, 540.0), day) == ()


def test_two_crews_at_one_time_are_told_to_both_and_to_the_office(
    planned: tuple[Plan, Day],
) -> None:
    day = planned[1]
    plan = at(planned[0], 540.0, 550.0)
    both = told(plan, day)
    for name, other, times in (
        ("T1", "T2", "9:10 AM–9:30 AM"),
        ("T2", "T1", "9:00 AM–9:20 AM"),
    ):
        for text in both[name]:
            assert f"TWO CREWS {other} is here too, {times}: call the office." in text
    (note,) = same_lawn_notes(plan, day)
    for words in ("9:00 AM–9:20 AM", "9:10 AM–9:30 AM", "at the same time"):
        assert words in note
    roads = cast(DayRoads, SimpleNamespace(notes=()))
    assert note in PlannedDay(plan, day, roads, ()).notes
    for second, together in ((559.0, True), (560.0, False)):
        (row,) = same_lawns(at(planned[0], 540.0, second), day)
        assert row.together is together


def test_what_is_done_is_told_to_who_comes_and_to_nobody_after(planned: tuple[Plan, Day]) -> None:
    plan, day = at(planned[0], 540.0, 600.0), planned[1]
    assert len(same_lawns(moved(plan, "T1", 540.0, done=True), day)) == 1
    assert same_lawns(moved(plan, "T2", 600.0, done=True), day) == ()


def test_it_is_a_caution_and_no_violation(planned: tuple[Plan, Day]) -> None:
    plan, day = planned
    assert len(same_lawns(plan, day)) == 1
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []


def test_every_pair_is_found_and_no_other() -> None:
    """Against a plain count: of a lawn with n visits each comes onto all before it."""
    day = days.small_day()
    plan = plan_random(day)
    assert same_lawns(plan, day) == ()
    visits = [(t.truck_id, s) for t in plan.trucks for s in t.stops if s.kind == "visit"]
    merged = tuple(
        replace(
            truck,
            stops=tuple(
                replace(stop, place_id="P1" if stop.seq % 2 else "P2")
                if stop.kind == "visit"
                else stop
                for stop in truck.stops
            ),
        )
        for truck in plan.trucks
    )
    ones = sum(stop.seq % 2 for _, stop in visits)
    twos = len(visits) - ones
    found = same_lawns(replace(plan, trucks=merged), day)
    assert len(found) == ones * (ones - 1) // 2 + twos * (twos - 1) // 2
    for row in found:
        assert row.first_stop.begin_min <= row.second_stop.begin_min
        assert row.first_stop.place_id == row.second_stop.place_id


@pytest.mark.parametrize(
    ("reentry", "ago", "end_min", "said"),
    [
        # 9 AM to 9:20 AM today. The hour is known: to the minute.
        ("24 hours", 1, 541.0, "Not before 9:01 AM on Wed Apr 14 (24 hours)"),
        ("24 hours", 1, 540.0, ""),
        ("Keep off for 3 days", 3, 700.0, "Not before 11:40 AM on Wed Apr 14"),
        ("Keep off for 3 days", 4, 700.0, ""),
        # Only the date is known: it may have been late.
        ("24 hours", 1, None, "at an hour that no record tells. Not within 24 h of it (24 hours)"),
        ("4 hours", 1, None, ""),
        ("24 hours", 2, None, ""),
        ("until dry", 1, None, ""),
    ],
)
def test_spray_of_an_earlier_day_is_told_while_its_label_keeps_people_off(
    planned: tuple[Plan, Day], reentry: str, ago: int, end_min: float | None, said: str
) -> None:
    plan, base = at(planned[0], 540.0, 600.0), two_crew_day(reentry)
    put = date.fromordinal(days.DAY.toordinal() - ago)
    amount = Amount(6.4, "fl oz", "volume", 0.05)
    row = PastApplication("P2", "three-way", put, 5000.0, amount, end_min)
    book = replace(base.workbook, history=(row,))
    day = replace(base, workbook=book)
    stops = {stop.place_id: (t.truck_id, stop) for t in plan.trucks for stop in t.stops}
    truck, stop = stops["P2"]
    moved_stop = replace(stop, begin_min=540.0, arrive_min=540.0, leave_min=560.0)
    trucks = tuple(
        replace(one, stops=tuple(moved_stop if row is stop else row for row in one.stops))
        for one in plan.trucks
    )
    plan = replace(plan, trucks=trucks)
    notes = [note for note in same_lawn_notes(plan, day) if "P2 Test Street" in note]
    assert len(notes) == bool(said)
    packets, phones = packet_pages(plan, day, {}, "", "0"), phone_pages(plan, day, {}, (), "0")
    for page in (packets[f"truck-{truck}.html"], packets["index.html"], phones[truck]):
        told = f"three-way (RESTRICTED USE) was put down here on {put:%a %b} {put.day}"
        assert (told in plain(page)) == bool(said)
        assert said in plain(page)
    if said:
        assert f"{truck} (stop {stop.seq}) comes 9:00 AM–9:20 AM" in notes[0]
    # What is done needs no word, and another lawn none.
    done = tuple(
        replace(one, stops=tuple(replace(s, done=s.place_id == "P2") for s in one.stops))
        for one in trucks
    )
    assert not list(sprayed_lately(replace(plan, trucks=done), day))
