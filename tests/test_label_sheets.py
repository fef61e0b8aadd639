"""What labels say on the sheets: rates by grass and target, jar tests, packets, first aid."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date
from html import unescape
from types import SimpleNamespace
from typing import cast

import pytest

from planner.compliance.holds import holds
from planner.day.clock import Window
from planner.day.day import Day, day_of
from planner.day.fleet import Caught
from planner.day.orders import PastApplication, WeatherHour
from planner.day.products import Form, ProductRate
from planner.mixing.addition import jar_amounts, wants_jar_test
from planner.mixing.measures import measured_fill
from planner.mixing.recipes import recipe
from planner.papers.container_label import Mixed, container_label
from planner.papers.leave_behind import slips
from planner.papers.lookup import on_board
from planner.papers.packet import packet_pages
from planner.papers.packet_words import packet_texts
from planner.phone.page import phone_pages
from planner.plan.audit import audit
from planner.plan.audit.rules_held_words import check_held_words
from planner.plan.audit.rules_holds import Holds
from planner.plan.audit.strength import strength
from planner.plan.audit.weather import openings
from planner.plan.caught import as_told
from planner.plan.model import Fill, NotDone, Plan, ProductAmount
from planner.plan.off_rate import measured_share, off_rate, off_rate_lines, off_rate_notes
from planner.units import parse_amount, parse_rate
from tests import days
from tests.audit_holds import audited_codes
from tests.golden_papers import golden
from tests.random_days import straight_travel
from tests.random_plans import plan_random


def rate_day(grass: str, rate: str, target: str, *rows: tuple[str, str, str]) -> Day:
    """One order of product 'p' at a rate, and rows of product_rates: grass, target, most."""
    home = replace(days.home("P1", 40.0, -83.0, 4000.0), grass=grass)
    mix = days.mix("MIX", 2.0, p=rate)
    mix = replace(mix, parts=(replace(mix.parts[0], target=target),))
    book = days.workbook(
        products=(days.product("p", "g", "9 fl oz/1000 sq ft"),),
        mixes=(mix,),
        properties=(home,),
        orders=(days.order("O1", home, "MIX"),),
        product_rates=tuple(
            ProductRate("p", kind, about, parse_rate(most)) for kind, about, most in rows
        ),
    )
    return day_of(book, days.DAY)


@pytest.mark.parametrize(
    ("grass", "target", "rows", "held"),
    [
        ("KBG", "", [("Kentucky bluegrass", "", "0.5 fl oz/1000 sq ft")], True),
        ("tall fescue", "", [("Kentucky bluegrass", "", "0.5 fl oz/1000 sq ft")], False),
        ("", "crabgrass", [("", "Crabgrass", "0.5 fl oz/1000 sq ft")], True),
        ("", "goosegrass", [("", "crabgrass", "0.5 fl oz/1000 sq ft")], False),
        ("", "Goosegrass; crabgrass", [("", "crabgrass", "0.5 fl oz/1000 sq ft")], True),
        ("KBG", "", [("KBG", "", "0.8 fl oz/1000 sq ft")], False),
        # 43.56 thousands in an acre: 0.8 fl oz is 34.85 fl oz/A, within 2.5 % of 34 and not of 33.
        ("KBG", "", [("KBG", "", "34 fl oz/A")], False),
        ("KBG", "", [("KBG", "", "33 fl oz/A")], True),
        # 0.8 fl oz in 2 gal is 0.4 to the gallon.
        ("KBG", "", [("", "", "0.39 fl oz/gal")], True),
    ],
)
def test_the_label_of_the_grass_counts(
    grass: str, target: str, rows: list[tuple[str, str, str]], held: bool
) -> None:
    day = rate_day(grass, "0.8 fl oz/1000 sq ft", target, *rows)
    found = holds(day)
    assert [hold.code for hold in found] == (["RATE"] if held else [])
    assert audited_codes(day, found) == []


def test_300_random_rates_against_a_plain_reckoning() -> None:
    rng = random.Random(5)
    held = 0
    for _ in range(300):
        grass = rng.choice(("KBG", "tall fescue", "zoysia"))
        target = rng.choice(("crabgrass", "clover"))
        fl_oz = round(rng.uniform(0.3, 1.5), 2)
        rows = []
        most = []
        for _ in range(rng.randint(1, 3)):
            kind = rng.choice(("", "Kentucky bluegrass", "tall fescue"))
            about = rng.choice(("", "crabgrass"))
            figure = round(rng.uniform(0.3, 1.5), 2)
            if (kind, about) in [row[:2] for row in rows]:
                continue
            rows.append((kind, about, f"{figure} fl oz/1000 sq ft"))
            lawn = {"KBG": "Kentucky bluegrass"}.get(grass, grass)
            if kind in ("", lawn) and about in ("", target):
                most.append(figure)
        day = rate_day(grass, f"{fl_oz} fl oz/1000 sq ft", target, *rows)
        found = holds(day)
        assert bool(found) == any(fl_oz > figure * 1.005 for figure in most), (rows, fl_oz)
        assert audited_codes(day, found) == []
        held += bool(found)
    assert 50 < held < 250


def test_500_random_least_rates_and_yearly_mosts_of_a_grass() -> None:
    """By hand in fl oz per 1,000 sq ft: under the least, or the year with this over the most.
    The labels of some pre-emergents print a year's most by grass (2.3 and 1.5 lb/A, from memory).
    """
    rng = random.Random(6)
    seen: set[str] = set()
    for _ in range(500):
        fl_oz, past = (round(rng.uniform(0.3, 1.5), 2) for _ in range(2))
        least, year = (round(rng.uniform(0.3, 3.0), 2) for _ in range(2))
        about = rng.choice(("", "KBG", "tall fescue"))
        day = rate_day("Kentucky bluegrass", f"{fl_oz} fl oz/1000 sq ft", "")
        row = ProductRate(
            "p",
            about,
            "",
            parse_rate("9 fl oz/1000 sq ft"),
            rng.choice((None, parse_rate(f"{least} fl oz/1000 sq ft"))),
            rng.choice((None, parse_rate(f"{year} fl oz/1000 sq ft"))),
        )
        done = PastApplication(
            "P1", "p", date(2027, 3, 1), 4000.0, parse_amount(f"{past * 4:.2f} fl oz")
        )
        day = day_of(replace(day.workbook, product_rates=(row,), history=(done,)), days.DAY)
        wrong = set()
        if about != "tall fescue":
            if row.rate_least and fl_oz * 1.005 < least:
                wrong.add("RATE")
            if row.annual_most and fl_oz + past > year * 1.005:
                wrong.add("ANNUAL")
        found = holds(day)
        assert ("at least" in str(found)) == ("RATE" in wrong)
        assert ("this year, its label allows" in str(found)) == ("ANNUAL" in wrong)
        assert bool(found) == bool(wrong)
        assert audited_codes(day, found) == []
        seen |= {one.code for one in found}
    assert seen == {"RATE", "ANNUAL"}


def test_a_jar_holds_the_tank_s_proportions() -> None:
    """Worked by hand: 1.28 fl oz on 2 gal is 0.64 fl oz to the gallon, 0.16 to the quart, 4.7 mL;
    0.6 lb on 2 gal is 0.3 lb to the gallon, 0.075 to the quart, 34 g. Water: 946.35 less
    4.73 mL."""
    book = days.workbook(
        products=(
            days.product("p", "g", "3 fl oz/1000 sq ft"),
            days.product("n", "feed", "1 lb/1000 sq ft", form=Form.DRY, formulation="FERT"),
            days.product("u", "feed", "9 fl oz/1000 sq ft", nitrogen_percent=28.0),
            days.product("fe", "iron", "9 fl oz/1000 sq ft"),
        ),
        mixes=(
            days.mix("DRY", 2.0, p="1.28 fl oz/1000 sq ft", n="0.6 lb/1000 sq ft"),
            days.mix("FLUID", 2.0, p="1.28 fl oz/1000 sq ft", u="6 fl oz/1000 sq ft"),
            days.mix("IRON", 2.0, p="1.28 fl oz/1000 sq ft", fe="6 fl oz/1000 sq ft"),
            days.mix("ALONE", 2.0, u="6 fl oz/1000 sq ft"),
        ),
    )
    assert jar_amounts(book, recipe(book, "DRY")) == (
        ("water", "942 mL"),
        ("p", "4.7 mL"),
        ("n", "34 g"),
    )
    wanted = {name: wants_jar_test(book, name) for name in book.mixes}
    assert wanted == {"DRY": False, "FLUID": True, "IRON": True, "ALONE": False}


def test_packets_go_in_whole_and_never_over_the_label() -> None:
    """0.4 lb per 3 gal: a packet of 2 lb makes 15 gal. By hand: the nearest number of packets, one
    less where a meter that shows 1.5 % too much would put it over the label's most."""
    day = days.small_day()
    products = dict(day.workbook.products)
    products["urea"] = replace(products["urea"], packet=parse_amount("2 lb"))
    day = replace(day, workbook=replace(day.workbook, products=products))
    plan = plan_random(day)
    # As the papers have them: with mix from containers sprayed first.
    fills = [
        fill
        for truck in as_told(plan, day.workbook).trucks
        for stop in truck.stops
        for fill in stop.fills
        if fill.mix_id == "FEED"
    ]
    assert fills
    kitchen = recipe(day.workbook, "FEED")
    per_gal = next(part.amount_per_gal for part in kitchen.parts if part.product_id == "urea")
    most = (
        products["urea"].rate_most.most_base / day.workbook.mixes["FEED"].carrier_gal_per_1000_ft2
    )
    for gal in (*(fill.gal for fill in fills), 3.0, 7.0, 8.0, 12.0, 31.0, 44.5):
        tank = day.workbook.trucks["T1"].compartments[0]
        told = measured_fill(day.workbook, kitchen, tank, 0.0, gal)
        packets = math.floor(per_gal * gal / 2 + 0.5)
        while packets * 2 > most * told.water_gal * 0.985:
            packets -= 1
        assert told.amounts["urea"] == 2 * packets
        assert told.strongest["urea"] <= 1.0
    texts = packet_texts(day.workbook, kitchen, fills)
    assert f"of 2 lb that go in whole; one makes {2 / per_gal:.1f} gal" in next(texts)
    pages = packet_pages(plan, day, {}, "", "0")
    page, office = unescape(pages["packets.html"]), unescape(pages["index.html"])
    assert "DOES NOT AGREE" not in page
    # By hand: a packet makes 2 / per_gal gallons; what is over 5 % off is told to the office.
    off = []
    for fill in fills:
        told = next(one.amount for one in fill.measured if one.product_id == "urea")
        if abs(told / (per_gal * fill.gal) - 1) > 0.05:
            off.append(f"{told / per_gal / fill.gal * 100:.0f} % of its rate" if told else "do not")
    notes = " ".join(off_rate_notes(plan, day))
    assert off
    assert all(text in notes and text in office and text in page for text in off)
    assert notes.count(" gal)") == len(off)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    # The same truck's day is told otherwise by other tables, and with a container on the truck.
    feed = Caught("FEED", 5.0)
    trucks = {"T1": replace(day.workbook.trucks["T1"], service_containers=(feed,))}
    named = products | {"urea": replace(products["urea"], name="Urea 46")}
    told = [
        off_rate_lines(plan, replace(day, workbook=book))["T1"]
        for book in (
            day.workbook,
            replace(day.workbook, trucks=trucks),
            replace(day.workbook, products=named),
        )
    ]
    assert len(set(told)) == 3


@pytest.mark.parametrize(
    ("most", "target", "counts"),
    [("0.44 lb", "", True), ("0.39 lb", "", False), ("0.44 lb", "rust", False)],
)
def test_packets_keep_the_most_of_a_grass(most: str, target: str, counts: bool) -> None:
    """0.4 lb of urea per 3 gal, packets of 2.5 lb, a label that allows 0.5 lb and 0.44 lb on one
    grass. By hand: 31 gal take 4.13 lb, by whole packets 5 lb: 0.49 lb/1000 sq ft with a meter
    that shows 1.5 % too much. A most under the mix's rate holds that grass's orders, one for
    another target is not about the mix."""
    day = days.small_day()
    products = dict(day.workbook.products)
    label = parse_rate("0.5 lb/1000 sq ft")
    products["urea"] = replace(products["urea"], packet=parse_amount("2.5 lb"), rate_most=label)
    row = ProductRate("urea", "zoysiagrass", target, parse_rate(f"{most}/1000 sq ft"))
    before = replace(day, workbook=replace(day.workbook, products=products))
    after = replace(before, workbook=replace(before.workbook, product_rates=(row,)))
    kitchen, tank = recipe(after.workbook, "FEED"), days.compartment("1", 100.0, "A", 1)
    for gal in map(float, range(3, 60)):
        told = measured_fill(after.workbook, kitchen, tank, 0.0, gal)
        limit = (0.44 if counts else 0.5) / 3.0
        packets = math.floor(gal * 0.4 / 3.0 / 2.5 + 0.5)
        while 2.5 * packets > limit * told.water_gal * 0.985 * (1 + 1e-9):
            packets -= 1
        assert told.amounts["urea"] == 2.5 * packets
    plan = plan_random(after)
    assert [str(one) for one in audit(plan, after, straight_travel(after))] == []
    old = plan_random(before)
    broken = [str(one) for one in audit(old, after, straight_travel(after))]
    over = sum(
        one.amount > 0.44 / 3.0 * fill.metered_water_gal * 0.985
        for truck in old.trucks
        for stop in truck.stops
        for fill in stop.fills
        for one in fill.measured
        if one.product_id == "urea"
    )
    assert over
    said = [text for text in broken if "% of the label's most on zoysiagrass" in text]
    assert len(said) == (over if counts else 0)


def label_text(**changes: object) -> str:
    """The label of 3.06 gal of MIX, its product changed."""
    day = rate_day("", "0.8 fl oz/1000 sq ft", "")
    one = replace(day.workbook.products["p"], **changes)  # type: ignore[arg-type]
    yard = days.site("Y1", 40.0, -83.0, address="9 Foundry Street, Tilbury Fork")
    book = replace(day.workbook, products={"p": one}, sites={"Y1": yard})
    truck = days.truck("T1", (days.line("A"),), ())
    return " ".join(container_label(replace(day, workbook=book), truck, "MIX", 3.06, Mixed.TODAY))


FULL = {
    "name": "Grubstop 2F",
    "active_ingredient": "example-thrin",
    "ai_percent": 23.4,
    "signal_word": "WARNING",
    "ppe": ("coveralls", "goggles"),
    "first_aid": "On skin: rinse 15 minutes",
    "restricted_use": True,
}


def test_a_container_says_what_is_in_it() -> None:
    """EPA's list of what a service container's label should have (firm with address and phone,
    product, registration number, active ingredient with percentage, that it is diluted, signal
    word, precautions with first aid, follow the label), its page on service containers; the list
    from memory: verify."""
    text = label_text(**FULL)
    for words in (
        "DILUTED",
        "MIX, about 3.1 gal. Mixed 2027-04-14.",
        "Test lawns, 9 Foundry Street, Tilbury Fork",
        "A. Person, license L-1",
        "Grubstop 2F, EPA reg. no. 00000-1",
        "example-thrin 23.4 % before it was diluted",
        "0.8 fl oz/1000 sq ft",
        "WARNING",
        "RESTRICTED USE PESTICIDE",
        "Wear: coveralls, goggles.",
        "First aid: Grubstop 2F: On skin: rinse 15 minutes.",
        "1-800-222-1222",
        "Re-entry: keep off until dry.",
        "Follow the label",
        "out of reach of children",
        "hazards to people, animals and water",
    ):
        assert words in text, words
    assert "RESTRICTED" not in label_text(**{**FULL, "restricted_use": False})


@pytest.mark.parametrize(
    ("column", "blank", "words"),
    [
        ("registration_no", "", "EPA reg. no."),
        ("active_ingredient", "", "active ingredient"),
        ("ai_percent", None, "percentage"),
        ("ppe", (), "what to wear"),
        ("first_aid", "", "first aid"),
        ("reentry", "", "re-entry"),
    ],
)
def test_a_container_says_what_the_table_lacks(column: str, blank: object, words: str) -> None:
    start = "Copy from the label of Grubstop 2F, the table has none: "
    assert start not in label_text(**FULL)
    assert f"{start}{words}." in label_text(**{**FULL, column: blank})


def test_a_container_of_fertilizer_asks_for_no_number() -> None:
    text = label_text(
        registration_no="", signal_word="none", formulation="FERT", ppe=(), reentry=""
    )
    assert "EPA" not in text
    assert "table has none" not in text


def test_a_label_tells_mix_of_before_from_todays() -> None:
    """What hangs in a hose overnight was mixed on a day that the crew knows from its old label."""
    day = days.small_day()
    truck = day.workbook.trucks["T1"]
    lines = (replace(truck.lines[0], hose_mix="FEED"), truck.lines[1])
    tanks = tuple(
        replace(one, last_mix="WEED", leftover_gal=10.0) if one.compartment_id == "1" else one
        for one in truck.compartments
    )
    changed = {"T1": replace(truck, lines=lines, compartments=tanks)}
    day = replace(day, workbook=replace(day.workbook, trucks=changed))
    plan = plan_random(day)
    page = packet_pages(plan, day, {}, "", "0")["truck-T1.html"]
    phone = phone_pages(plan, day, {}, (), "0")["T1"]
    works = [w for s in plan.trucks[0].stops for w in s.orders if w.displaced_mix_id]
    assert works[0].displaced_mix_id == "FEED"
    for text in (page, phone):
        assert "FEED, about 3.1 gal. Mixed on ____________, before 2027-04-14." in text
    assert plan.trucks[0].start_gal["1"] == 10.0
    assert "WEED, about 3.1 gal. Mixed 2027-04-14, some of it before." in page
    assert "FEED, about 3.1 gal. Mixed 2027-04-14.<" in page


def test_every_sheet_names_whom_to_call() -> None:
    """Poison Help, https://www.poisonhelp.hrsa.gov/the-poison-help-line/ and the National Response
    Center, EPA's page 'How to Report' (both read 2026-11-26)."""
    for name, text in golden().items():
        if name.startswith("truck"):
            sheets = text.count("Mix sheet:")
            told = sheets + text.count("Also on board, not mixed today")
            told_too = text.count("Copy what the labels say of hazards")
            assert text.count("Poison center 1-800-222-1222") == told + told_too
            assert text.count("Spill 1-800-424-8802") == told


def test_an_empty_compartment_is_not_on_board_and_restricted_use_is_said_at_its_stops() -> None:
    book = days.small_day().workbook
    some = {**book.products, "urea": replace(book.products["urea"], restricted_use=True)}
    orders = {name: one for name, one in book.orders.items() if one.mix_id != "KILL"}
    day = day_of(replace(book, products=some, orders=orders), days.DAY)
    plan = plan_random(day)
    truck = next(one for one in plan.trucks if set(on_board(one).values()) == {"WEED", "FEED"})
    spare = next(name for name in truck.loading if name not in on_board(truck))
    loaded = replace(truck, loading={**truck.loading, spare: "KILL"})
    assert on_board(loaded) == on_board(truck)
    assert on_board(replace(loaded, start_gal={**loaded.start_gal, spare: 2.0}))[spare] == "KILL"
    alone = replace(plan, trucks=(loaded,))
    pages = packet_pages(alone, day, {}, "", "0")
    phone = phone_pages(alone, day, {}, (), "0")[truck.truck_id]
    stops = sum(work.mix_id == "FEED" for stop in truck.stops for work in stop.orders)
    tag = "RESTRICTED USE"
    for page in (pages["packets.html"], phone):
        assert "KILL" not in page.partition("Read every tank")[0]
    assert phone.count(f'<p><b class="tag">{tag}</b></p>') == stops > 0
    rows = pages["packets.html"].partition('<table class="route">')[2]
    assert rows.count(tag) == stops
    assert pages["index.html"].count(tag) == list(on_board(truck).values()).count("FEED")


@pytest.mark.parametrize(
    ("state", "when"), [("IL", "right after spraying"), ("NY", "at the time of spraying")]
)
def test_the_phone_places_a_sign_when_the_rule_says_so(state: str, when: str) -> None:
    """415 ILCS 65/3(a) and ECL 33-1003, as planner/rules/duties.csv has them."""
    day = days.small_day()
    book = replace(day.workbook, settings=replace(day.workbook.settings, state=state))
    day = replace(day, workbook=book)
    plan = plan_random(day)
    pages = phone_pages(plan, day, {}, (), "0")
    assert pages
    for name, page in pages.items():
        truck_plan = next(one for one in plan.trucks if one.truck_id == name)
        visits = sum(stop.kind == "visit" for stop in truck_plan.stops)
        assert page.count(f"</b> place it {when}") == visits
        assert f"Sign, {when}: " in page


def test_the_audit_reads_the_words_of_these_holds() -> None:
    """RATE by grass, GRASS by a synonym, and WEATHER by the office's own wind limit."""
    rate = rate_day("KBG", "0.8 fl oz/1000 sq ft", "", ("KBG", "", "0.55 fl oz/1000 sq ft"))
    barred = replace(rate.workbook.products["p"], not_on_grass=("Kentucky bluegrass",))
    book = replace(rate.workbook, products={"p": barred}, product_rates=())
    hours = tuple(WeatherHour(days.DAY, hour, "", 14.0, None, 60.0, 0.0, 0.0) for hour in range(24))
    morning = replace(rate.orders["O1"], windows=(Window(480.0, 600.0),))
    windy = replace(rate.workbook, product_rates=(), weather=hours, orders={"O1": morning})
    past = PastApplication("P1", "p", date(2027, 3, 1), 4000.0, parse_amount("8 fl oz"))
    most = ProductRate(
        "p", "", "", parse_rate("9 fl oz/1000 sq ft"), None, parse_rate("2.1 fl oz/1000 sq ft")
    )
    year = day_of(replace(rate.workbook, product_rates=(most,), history=(past,)), days.DAY)
    for day, code in (
        (year, "ANNUAL"),
        (rate, "RATE"),
        (day_of(book, days.DAY), "GRASS"),
        (day_of(windy, days.DAY), "WEATHER"),
    ):
        # An order may be called '2', which is no part of 2.1 and of 2027-03-01.
        two = replace(day.orders["O1"], order_id="2")
        day = day_of(replace(day.workbook, orders={"2": two}), days.DAY)
        (hold,) = holds(day)
        assert hold.code == code
        plan = cast(Plan, SimpleNamespace(held=(NotDone("2", hold.code, hold.reason),), trucks=()))
        strengths = {"MIX": strength(day.workbook, day.workbook.mixes["MIX"])}
        found = list(check_held_words(plan.held, day, Holds(day, strengths, openings(day))))
        assert found == [], (hold.reason, found)


def test_a_fill_under_the_least_of_a_grass_is_told() -> None:
    """0.4 lb of urea per 3 gal in packets of 2.5 lb. By hand: 23 gal take 3.07 lb, by whole packets
    2.5 lb, 0.326 lb/1000 sq ft: under a least of 0.35, over one of 0.3."""
    day = days.small_day()
    products = dict(day.workbook.products)
    label = parse_rate("0.5 lb/1000 sq ft")
    products["urea"] = replace(products["urea"], packet=parse_amount("2.5 lb"), rate_most=label)
    for least, told in (("0.35", True), ("0.3", False)):
        row = ProductRate("urea", "fescue", "", label, parse_rate(f"{least} lb/1000 sq ft"))
        book = replace(day.workbook, products=products, product_rates=(row,))
        amount = ProductAmount("urea", 2.5, "lb")
        right = (replace(amount, amount=3.07),)
        fill = Fill("1", "FEED", 23.0, 23.0, 0.0, 23.0, 0.0, right, (), 0.0, (amount,))
        ((_, share, words),) = off_rate(book, fill)
        assert round(share, 2) == 0.81
        assert words.endswith("under its label's least on fescue") == told


def test_slip_and_container_say_what_share_of_the_rate_was_measured() -> None:
    """As above: 2.5 of 3.07 lb are 81 %. What a customer and a container are told of the rate is
    told with it; a fill of 3 lb is near its rate (98 %) and needs no word."""
    day = days.small_day()
    amount = ProductAmount("urea", 2.5, "lb")
    right = (replace(amount, amount=3.07),)
    fill = Fill("1", "FEED", 23.0, 23.0, 0.0, 23.0, 0.0, right, (), 0.0, (amount,))
    near = replace(fill, measured=(replace(amount, amount=3.0),))
    assert measured_share([fill], "urea") == ", measured at 81 % of it"
    assert measured_share([fill, near], "urea") == ", measured at 81 to 98 % of it"
    assert measured_share([near], "urea") == measured_share([], "urea") == ""
    truck = day.workbook.trucks["T1"]
    label = " ".join(container_label(day, truck, "FEED", 3.0, Mixed.TODAY, [fill]))
    assert label.count("measured at 81 % of it") == 1
    products = dict(day.workbook.products)
    products["urea"] = replace(products["urea"], packet=parse_amount("2.5 lb"))
    packets = replace(day, workbook=replace(day.workbook, products=products))
    plan = plan_random(packets)
    told = 0
    for row, some in slips(plan, packets):
        for slip in some:
            stop = next(one for one in row.stops if one.seq == slip.seq)
            names = {work.order_id for work in stop.orders}
            fills = [one for at in row.stops for one in at.fills if names & set(one.order_ids)]
            for one in slip.products:
                share = measured_share(fills, one.product.product_id)
                assert one.rate.endswith(share)
                told += bool(share)
    assert told
