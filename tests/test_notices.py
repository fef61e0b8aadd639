"""Signs, notices and calls to registered neighbors: a record claims only what somebody stated.

Outside the project: 7 Pa. Code 128.112 as planner/rules/duties.csv quotes it (12 to 72 h ahead, and
a record of every contact and attempt); OAC 901:5-11-09(B) as Ohio State summarizes it (a record of
the attempts for 3 years).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from click.testing import CliRunner

from planner.cli.main import main
from planner.day.day import Workbook
from planner.day.fleet import Called, Registered
from planner.papers.packet import packet_pages
from planner.phone.page import phone_pages
from planner.records.current import current
from planner.records.entries import Manner
from planner.records.events import Event
from planner.records.reports import application_rows
from planner.records.told import CALLED, called_of, not_stated
from tests import days
from tests.phone_walk import DAY, office_with_a_plan
from tests.random_plans import plan_random
from tests.records_cases import (
    AS_PLANNED,
    AS_WRITTEN,
    CONDITIONS,
    CORRECTING,
    fill,
    kept,
    office,
    places,
    record,
    spray,
)

TIMES = {"gal": 10.0, "start": 484.0, "end": 489.0}


def asking(*people: Registered, state: str = "OH") -> Workbook:
    """The hand-worked office; P1 asks for a sign and a notice, people for a call."""
    book = office()
    home = replace(book.properties["P1"], address="1 Oak Street", state=state)
    plain = {name: replace(one, state=state) for name, one in book.properties.items()}
    asked = replace(home, sign=True, notice="ring the bell")
    return replace(book, properties=plain | {"P1": asked}, notify=people)


def near(book: Workbook, name: str = "Nan Near") -> Registered:
    home = book.properties["P1"]
    return Registered(
        name, "(614) 555-0142", lat=home.lat, lon=home.lon, radius_ft=10.0, lead_least_h=12.0
    )


def call(person: str, outcome: str = "reached", stops: str = "1 Oak Street 8:04 AM") -> Event:
    body = {
        "person": person,
        "phone": "",
        "stops": stops,
        "call_by": "2027-04-13 20:04",
        "called_on": "2027-04-13",
        "called_at": "16:15",
        "outcome": outcome,
        "caller": "Kim",
        "note": "",
    }
    subject = f"2027-04-14 call {person} {outcome}"
    return Event(900, CALLED, "2027-04-14", subject, "", "2027-04-13T21:00:00+00:00", "Kim", body)


def of_order(events: Sequence[Event], name: str = "O1") -> dict[str, object]:
    return next(e.body for e in current(events).values() if e.body.get("order_id") == name)


def test_as_planned_claims_no_sign_and_no_notice() -> None:
    book = asking()
    events = kept(record((), AS_PLANNED, book=book))
    body = of_order(events)
    assert (body["sign_asked"], body["sign_up"]) == (True, None)
    assert (body["notice_asked"], body["notice_given"]) == ("ring the bell", None)
    assert not_stated(body, ()) == ("sign", "notice")
    row = next(row for row in application_rows(events) if row.order == "O1")
    assert (row.sign, row.notice_given) == ("", "")
    assert "sign" in row.missing
    assert "notice_given" in row.missing
    # Nobody asked for either there.
    assert not_stated(of_order(events, "O2"), ()) == ()


def test_what_somebody_says_of_all_signs_and_notices_is_recorded() -> None:
    book = asking()
    manner = Manner(as_planned=True, conditions=CONDITIONS, sign=True, notice=False)
    events = kept(record((), manner, book=book))
    body = of_order(events)
    assert (body["sign_up"], body["notice_given"]) == (True, False)
    assert not_stated(body, ()) == ()
    # Where the property asks for none, nothing is claimed.
    assert of_order(events, "O2")["sign_up"] is None


def test_a_sheet_still_asks_for_sign_and_notice() -> None:
    found = record([fill("1", 0, 15.0), spray("O1", **TIMES)], AS_WRITTEN, book=asking())
    assert places(found) == [(3, "notice", "REC-3"), (3, "sign", "REC-3")]


def test_a_correction_may_state_them_later_and_may_leave_them() -> None:
    book = asking()
    events = kept(record((), AS_PLANNED, book=book))
    said = spray("O1", done=None, sign=True, notice=True)
    found = record([said], CORRECTING, events, book=book, why="Kim says so")
    assert found.problems == ()
    (draft,) = found.drafts
    assert (draft.body["sign_up"], draft.body["notice_given"]) == (True, True)
    # Another figure is corrected: what nobody stated stays so.
    other = record([spray("O1", gal=10.5)], CORRECTING, events, book=book, why="meter")
    assert other.problems == ()
    assert other.drafts[0].body["sign_up"] is None


def test_a_neighbor_who_was_to_be_told_is_asked_about_until_a_call_is_logged() -> None:
    book = replace(asking(), notify=(near(asking()),))
    row = spray("O1", **TIMES, sign=True)
    found = record([fill("1", 0, 15.0), row], AS_WRITTEN, book=book)
    assert places(found) == [(3, "neighbors", "REC-3"), (3, "notice", "REC-3")]
    plain = book.properties["P1"]
    book = replace(book, properties=book.properties | {"P1": replace(plain, notice="")})
    (problem,) = record([fill("1", 0, 15.0), row], AS_WRITTEN, book=book).problems
    assert problem.column == "neighbors"
    assert "Nan Near" in problem.message
    logged = [call("Nan Near")]
    assert record([fill("1", 0, 15.0), row], AS_WRITTEN, logged, book=book).problems == ()
    # A call about another lawn, or to somebody else, is no call about this one.
    for other in (call("Nan Near", stops="9 Elm Street 8:04 AM"), call("Bob Beyond")):
        assert record([fill("1", 0, 15.0), row], AS_WRITTEN, [other], book=book).problems
    answered = replace(row, neighbors=False)
    assert record([fill("1", 0, 15.0), answered], AS_WRITTEN, book=book).problems == ()


def test_the_record_names_whom_to_tell_and_the_export_what_became_of_it() -> None:
    """7 Pa. Code 128.112: a record of every contact and attempt."""
    book = replace(asking(state="PA"), notify=(near(asking()),))
    events = kept(record((), AS_PLANNED, book=book))
    body = of_order(events)
    assert [one["person"] for one in body["to_tell"]] == ["Nan Near"]
    # Work begins at 8:04 on April 14; 12 h before.
    assert body["to_tell"][0]["by"] == "2027-04-13 20:04"
    assert "neighbors" in not_stated(body, ())
    rows = {row.order: row for row in application_rows(events)}
    assert rows["O1"].neighbors_told == ""
    assert "neighbors_told" in rows["O1"].missing
    assert "neighbors_told" not in rows["O2"].missing
    tried = [*events, call("Nan Near", "no answer"), call("Nan Near")]
    assert "neighbors" not in not_stated(body, called_of(tried))
    row = {row.order: row for row in application_rows(tried)}["O1"]
    assert row.neighbors_told == (
        "Nan Near: no answer 2027-04-13 16:15 (Kim), reached 2027-04-13 16:15 (Kim)"
    )
    assert "neighbors_told" not in row.missing


def test_the_commands_name_the_orders_of_which_nobody_stated_it(tmp_path: Path) -> None:
    """The starter's properties all ask for a sign, P-2 for a notice."""
    book = office_with_a_plan(tmp_path)
    weather = ("--wind", "4", "--wind-from", "SW", "--temperature", "61")

    def planner(*words: object) -> str:
        result = CliRunner().invoke(main, [str(word) for word in words])
        assert result.exit_code == 0, result.output
        return result.output

    told = planner("record", book, "--date", DAY, "--as-planned", *weather, "--signs", "yes")
    assert "Nobody stated whether the notice was given (1002)." in told
    assert "unsaid    whether the notice was given (1002)" in planner("days", book)
    (tmp_path / "said.csv").write_text("truck,stop,what,order,notice\ntruck-1,4,spray,1002,yes\n")
    words = ("record", book, "--date", DAY, tmp_path / "said.csv", "--correct", "--why", "Alex")
    assert "Nobody stated" not in planner(*words)
    assert "unsaid" not in planner("days", book)
    rows = planner("export", book, "--year", DAY[:4])
    assert ',"yes","Call the neighbor at no. 46","yes",' in rows


def near_the_first_lawn(**cells: object) -> Registered:
    book = days.small_day().workbook
    return replace(near(book), lead_most_h=72.0, **cells)


def test_a_call_at_midnight_is_read_as_its_sheet_writes_it() -> None:
    """24:00 is a time of the sheet and of ISO 8601:2004: the end of that day, not its beginning."""
    at = Called("Nan Near", "", "2027-04-13", "24:00", "reached", "Kim", "2027-04-13 20:04")
    assert at.late
    assert not replace(at, call_by="2027-04-14 00:00").late
    assert not replace(at, call_by="").late


def test_the_crew_reads_whom_to_tell_at_the_stop_and_the_customer_does_not() -> None:
    """7 Pa. Code 128.112: 12 to 72 h ahead; the moments are worked out here."""
    day = days.small_day()
    settings = replace(day.workbook.settings, leave_behind=True)
    book = replace(day.workbook, notify=(near_the_first_lawn(),), settings=settings)
    day = replace(day, workbook=book)
    plan = plan_random(day)
    (stop,) = (s for t in plan.trucks for s in t.stops if s.place_id == "P1")
    begin = datetime(2027, 4, 14) + timedelta(minutes=int(stop.begin_min))
    due, first = (begin - timedelta(hours=h) for h in (12, 72))
    clock = {at: f"{at:%a %b} {at.day}, {at.hour % 12 or 12}:{at:%M %p}" for at in (due, first)}
    words = f"by {clock[due]}, not before {clock[first]}"
    logged = Called("Nan Near", "", "2027-04-13", "16:15", "no answer", "Kim")
    told = replace(logged, outcome="reached", called_at="17:05")
    for log, said in (
        ((), "no call is logged yet"),
        ((logged,), "NOT REACHED yet: no answer 2027-04-13 16:15 (Kim)"),
        ((logged, told), "no answer 2027-04-13 16:15 (Kim), reached 2027-04-13 17:05 (Kim)"),
    ):
        known = replace(day, called=log)
        pages = packet_pages(plan, known, {}, "", "0")
        phones = phone_pages(plan, known, {}, (), "0")
        for text in (pages["packets.html"], *phones.values()):
            plain = " ".join(re.sub("<[^>]*>|&nbsp;", " ", text).split())
            if stop.seq and "Nan Near" in plain:
                assert f"TELL Nan Near (614) 555-0142 {words}: {said}" in plain
        assert sum("Nan Near" in text for text in phones.values()) == 1
        assert "Nan Near" in pages["packets.html"]
        assert ("no answer 2027-04-13 16:15 (Kim)" in pages["index.html"]) == bool(log)
        assert "Nan Near" not in pages["leave-behind.html"]
        assert "555-0142" not in pages["leave-behind.html"]
    # A stop that is done owes no call.
    done = tuple(
        replace(t, stops=tuple(replace(s, done=s.place_id == "P1") for s in t.stops))
        for t in plan.trucks
    )
    over = phone_pages(replace(plan, trucks=done), day, {}, (), "0")
    assert not any("TELL" in text for text in over.values())
