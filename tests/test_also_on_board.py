"""What rides along of mixes that nobody fills that day is told like what is filled.

40 CFR 156.60 to 156.70 (signal word, precautions, first aid) and 171.1(b) (restricted use) know no
difference between a full tank, a hose and a jug (the sections from memory: verify).
"""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from planner.day.day import Day
from planner.day.fleet import Caught
from planner.papers.packet import packet_pages
from planner.phone.page import phone_pages
from planner.plan.model import Plan
from tests import days
from tests.browser import chromium, needs_browser, printed, visit
from tests.random_plans import plan_random

SAID = (
    "RESTRICTED USE",
    "WARNING",
    "coveralls",
    "respirator",
    "Grubstop 2F: On skin: rinse 15 minutes.",
    "Poison center",
    "keep off for 12 hours",
    "cleans up this: Grubstop 2F.",
)
PLACES = {
    "hose": "hose of line N, 3.1 gal",
    "container": "a service container, 2.5 gal",
    "tank": "compartment 4 (position 4), 4 gal",
}


def grub_day(place: str) -> Day:
    """One truck; what it holds of GRUB, which no order of the day is of, is in that place."""
    day = days.small_day()
    book = day.workbook
    grub = days.product(
        "grub",
        "insecticide",
        "0.6 fl oz/1000 sq ft",
        name="Grubstop 2F",
        signal_word="WARNING",
        ppe=("coveralls", "goggles"),
        mixing_ppe=("respirator",),
        first_aid="On skin: rinse 15 minutes",
        reentry="keep off for 12 hours",
        restricted_use=True,
    )
    truck = book.trucks["T1"]
    tanks = (*truck.compartments, days.compartment("4", 20.0, "N", 4, reserved_for="insecticide"))
    truck = replace(truck, compartments=tanks)
    if place == "hose":
        lines = (truck.lines[0], days.line("N", hose_mix="GRUB"))
        truck = replace(truck, lines=lines)
    elif place == "container":
        truck = replace(truck, service_containers=(Caught("GRUB", 2.5),))
    elif place == "tank":
        held = replace(tanks[-1], last_mix="GRUB", leftover_gal=4.0)
        truck = replace(truck, compartments=(*tanks[:-1], held))
    mixes = {**book.mixes, "GRUB": days.mix("GRUB", 2.0, grub="0.5 fl oz/1000 sq ft")}
    products = {**book.products, "grub": grub}
    book = replace(book, products=products, mixes=mixes, trucks={"T1": truck}, keep_apart=())
    return replace(day, workbook=book)


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", page)))


def screens(page: str) -> dict[str, str]:
    """Screens of the phone by id."""
    found = re.findall(r'<section class="screen[^"]*" id="([^"]+)".*?</section>', page, re.DOTALL)
    texts = re.findall(r'<section class="screen.*?</section>', page, re.DOTALL)
    return dict(zip(found, texts, strict=True))


def bar(screen: str) -> str:
    return plain(screen.partition('<a class="caution"')[2])


@pytest.mark.parametrize("place", PLACES)
def test_what_only_rides_along_is_told_like_what_is_filled(place: str) -> None:
    day = grub_day(place)
    plan = plan_random(day)
    assert not any(w.mix_id == "GRUB" for s in plan.trucks[0].stops for w in s.orders)
    pages = packet_pages(plan, day, {}, "", "0")
    phone = screens(phone_pages(plan, day, {}, (), "0")["T1"])
    for page in (pages["truck-T1.html"], pages["packets.html"], phone["packet"]):
        (block,) = re.findall(r'<div class="block must">.*?</div>', page, re.DOTALL)
        for words in (*SAID, PLACES[place], "GRUB"):
            assert words in plain(block), words
    assert f"GRUB ({PLACES[place]}) RESTRICTED USE Grubstop 2F" in plain(pages["index.html"])
    for name in ("packet", "stop-0", "stops", "write", "skip"):
        for words in ("WARNING", "RESTRICTED USE", "coveralls", "keep off for 12 hours"):
            assert words in bar(phone[name]), (name, words)


def test_a_stop_at_which_it_is_run_out_of_the_hose_asks_for_its_gear() -> None:
    day = grub_day("hose")
    plan = plan_random(day)
    phone = screens(phone_pages(plan, day, {}, (), "0")["T1"])
    shown = {"WARNING" in bar(phone[f"stop-{stop.seq}"]) for stop in visits(plan)}
    assert shown == {True, False}
    for stop in visits(plan):
        out = any(work.displaced_mix_id == "GRUB" for work in stop.orders)
        assert ("WARNING" in bar(phone[f"stop-{stop.seq}"])) is out


def test_what_a_rinse_takes_out_is_told_on_the_sheet_of_its_compartment() -> None:
    day = grub_day("")
    truck = day.workbook.trucks["T1"]
    tanks = tuple(
        replace(one, last_mix="GRUB", leftover_gal=1.0) if one.compartment_id == "1" else one
        for one in truck.compartments
    )
    truck = replace(truck, compartments=tanks)
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": truck}))
    plan = plan_random(day)
    assert [entry.last_mix for entry in plan.trucks[0].cleaning] == ["GRUB"]
    phone = screens(phone_pages(plan, day, {}, (), "0")["T1"])
    paper = packet_pages(plan, day, {}, "", "0")["truck-T1.html"]
    sheet = paper.partition("Clean first")[0].rpartition("<section")[2]
    sheet += paper.partition("Clean first")[2].partition("</section>")[0]
    for page in (sheet, phone["packet"]):
        for words in SAID:
            assert words in plain(page), words
    for name in ("packet", "stop-0", "fill-0-1"):
        assert "WARNING RESTRICTED USE" in bar(phone[name]), name
    assert "WARNING" not in bar(phone["fill-0-2"])


def visits(plan: Plan) -> list:  # type: ignore[type-arg]
    return [stop for stop in plan.trucks[0].stops if stop.kind == "visit"]


def test_what_a_mix_sheet_is_about_is_not_told_twice() -> None:
    day = days.small_day()
    truck = day.workbook.trucks["T1"]
    truck = replace(
        truck,
        lines=(replace(truck.lines[0], hose_mix="WEED"), truck.lines[1]),
        service_containers=(Caught("FEED", 2.0),),
    )
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": truck}))
    plan = plan_random(day)
    pages = packet_pages(plan, day, {}, "", "0")
    assert "Also on board" not in pages["packets.html"] + pages["index.html"]


def test_what_an_afternoon_no_longer_sprays_is_still_on_board() -> None:
    """The gallons are those that the plan has at the day's end: nothing more is sprayed of it."""
    day = grub_day("")
    plan = plan_random(day)
    truck = plan.trucks[0]
    last = max(s.seq for s in truck.stops for w in s.orders if w.mix_id == "KILL")
    assert last < len(truck.stops) - 2
    stops = tuple(replace(stop, done=stop.seq <= last) for stop in truck.stops)
    again = replace(plan, trucks=(replace(truck, stops=stops),))
    page = plain(packet_pages(again, day, {}, "", "0")["truck-T1.html"])
    text = page.partition("Also on board, not mixed today: KILL (")[2].partition(")")[0]
    assert text.startswith("compartment 3 (position 3")
    page = page.partition("Also on board, not mixed today: KILL (")[2]
    gal = float(re.findall(r"position 3\), ([\d.]+) gal", page)[0])
    assert gal == pytest.approx(truck.end_gal["3"], abs=0.051)
    assert "hose of line N" in page[:80]


def test_every_crew_paper_says_restricted_use_of_what_is_filled() -> None:
    day = days.small_day()
    some = {**day.workbook.products}
    some["urea"] = replace(some["urea"], restricted_use=True, name="Strongfeed")
    day = replace(day, workbook=replace(day.workbook, products=some))
    plan = plan_random(day)
    pages = packet_pages(plan, day, {}, "", "0")
    checked = 0
    for truck in plan.trucks:
        fed = {f.compartment_id for s in truck.stops for f in s.fills if f.mix_id == "FEED"}
        if not fed:
            continue
        route = pages[f"truck-{truck.truck_id}.html"].partition('<section class="sheet route')[2]
        table = route.partition('<table class="small mixes">')[2].partition("</table>")[0]
        assert "FEED RESTRICTED USE" in plain(table)
        assert "cleans up this: Strongfeed." in plain(route)
        for name, one in screens(phone_pages(plan, day, {}, (), "0")[truck.truck_id]).items():
            if name.startswith("fill-"):
                is_fed = ">FEED</h1>" in one
                assert ("RESTRICTED USE" in bar(one)) is is_fed, name
                checked += is_fed
    assert checked
    assert "RESTRICTED USE Strongfeed" in plain(pages["index.html"])


@needs_browser
def test_four_labels_with_all_that_tables_hold_are_one_sheet(tmp_path: Path) -> None:
    day = grub_day("hose")
    truck = day.workbook.trucks["T1"]
    kept = tuple(Caught(mix_id, 2.5) for mix_id in ("GRUB", "WEED", "FEED"))
    truck = replace(truck, service_containers=kept)
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": truck}))
    page = packet_pages(plan_random(day), day, {}, "", "0")["truck-T1.html"]
    start, end = page.index('<section class="sheet mix-sheet"'), page.index('id="labels"')
    end = page.rindex("<section", 0, end)
    labels = page[:start] + page[end : page.index('<section class="sheet route-sheet"')]
    assert labels.count('class="on-container"') >= 4
    # The first four, as the first sheet has them.
    cut = labels.split('<div class="on-container">')
    (tmp_path / "labels.html").write_text(
        '<div class="on-container">'.join(cut[:5]) + "</section></main></body></html>",
        encoding="utf-8",
    )
    with chromium() as browser:
        opened, _ = visit(browser, tmp_path / "labels.html")
        assert printed(opened, "Letter")[0] == 1
