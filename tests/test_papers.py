"""The papers: key facts, conservation on the page, escaping, no link to the outside, paper."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from itertools import pairwise

import pytest

from planner.day.day import Day
from planner.maps.day_map import leaflet_js, map_page
from planner.mixing.recipes import recipes
from planner.papers.direction import DIRECTION_SIGNS, plain_direction
from planner.papers.directions import way_text
from planner.papers.fill_steps import fill_steps
from planner.papers.mix_sheet import mix_sheets
from planner.papers.numbers import stop_numbers
from planner.papers.packet import packet_pages, truck_files
from planner.papers.pick_list import pick_list
from planner.papers.pictures import gauge, time_axis, time_bar
from planner.papers.render import css_text, duration_text, gal_text, render
from planner.plan.model import Plan
from planner.roads.travel import Maneuver
from planner.units import parse_amount
from tests.golden_papers import FOLDER, golden
from tests.sample_plan import HOSTILE, sample_day, sample_legs, sample_plan, sample_streets

CHECKSUM = "0123456789"


def pages_of(day: Day, plan: Plan) -> dict[str, str]:
    return packet_pages(plan, day, sample_legs(plan), "map.html", CHECKSUM)


def words(page: str) -> str:
    """The text of a page as a reader sees it."""
    body = page[page.index("<body") :]
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body)))


@pytest.fixture(scope="module")
def day() -> Day:
    return sample_day()


@pytest.fixture(scope="module")
def plan(day: Day) -> Plan:
    return sample_plan(day)


@pytest.fixture(scope="module")
def pages(day: Day, plan: Plan) -> dict[str, str]:
    return pages_of(day, plan)


def test_names_of_the_pages(pages: dict[str, str]) -> None:
    assert list(pages) == [
        "index.html",
        "pick-list.html",
        "truck-T1.html",
        "truck-T2.html",
        "packets.html",
    ]


def test_truck_ids_become_file_names() -> None:
    names = truck_files(["T1", "t1", "../x y", "Ä"])
    assert list(names.values()) == [
        "truck-T1.html",
        "truck-t1-2.html",
        "truck-x-y.html",
        "truck-truck.html",
    ]


def test_every_page_is_whole_and_alone(pages: dict[str, str]) -> None:
    for name, page in pages.items():
        assert '<html lang="en">' in page, name
        assert CHECKSUM in words(page), name
        assert "Straight-line roads" in page or name == "pick-list.html", name
        assert "label is the law" in words(page), name
        assert not re.search(r"(?:src|href)\s*=\s*[\"']?\s*(?:https?:)?//", page), name
        assert "<script" not in page, name
        assert page.count("<h1") >= 1, name


def test_mix_sheet_says_what_the_applicator_needs(
    day: Day, plan: Plan, pages: dict[str, str]
) -> None:
    text = words(pages["truck-T1.html"])
    first = plan.trucks[0].stops[0].fills[0]
    assert f"Add {gal_text(first.gal)} gal" in text
    assert f"water by the meter {gal_text(first.metered_water_gal)} gal" in text
    assert "Strongest it can get with the meter 1.5 % off" in text
    assert "suction, bypass and agitation of line A all at 1" in text
    assert "moves one compartment's mix into another" in text
    assert "DANGER" in text
    assert "chemical-resistant gloves" in text
    assert "Clean first: last mix was Iron green-up" in text
    assert "3 × 9 gal" in text
    assert "New mix: jar test first" in text
    assert "Noor Haldane, license TF-20417" in text
    assert "never in another compartment" in text
    assert text.count("Fill 1 of") == 3


def test_sum_check_agrees_on_every_sheet(day: Day, plan: Plan) -> None:
    """Conservation: before + filled = sprayed + hose + left."""
    for truck_plan in plan.trucks:
        for sheet in mix_sheets(truck_plan, day, recipes(day.workbook)):
            assert sheet.check.agrees, sheet.compartment.compartment_id
            assert sheet.check.sprayed_gal > 0


def test_sum_check_shouts_when_a_plan_was_edited(day: Day, plan: Plan) -> None:
    truck = replace(plan.trucks[0], end_gal={**plan.trucks[0].end_gal, "1": 40.0})
    edited = replace(plan, trucks=(truck, *plan.trucks[1:]))
    assert "DOES NOT AGREE" in pages_of(day, edited)["truck-T1.html"]
    assert "DOES NOT AGREE" not in pages_of(day, plan)["truck-T1.html"]


def test_measure_never_above_the_label(day: Day, plan: Plan) -> None:
    """Tri-Dent goes out at its label's most: every measured amount is at most the exact one."""
    checked = 0
    for truck_plan in plan.trucks:
        for stop in truck_plan.stops:
            for fill in stop.fills:
                if fill.mix_id != "WEED":
                    continue
                step = next(s for s in fill_steps(day, fill, True) if s.product.startswith("Tri"))
                exact = next(p.amount for p in fill.products if p.product_id == "trident")
                shown = measured_gal(step.measure)
                assert shown <= exact * (1 + 1e-9)
                assert shown > exact * 0.97
                checked += 1
    assert checked >= 4


def measured_gal(text: str) -> float:
    sizes = {"gal": 1.0, "qt": 1 / 4, "fl": 1 / 128}
    return sum(float(n) * sizes[u] for n, u in re.findall(r"([\d.]+) (gal|qt|fl)", text))


def test_route_sheet_has_a_row_per_stop(plan: Plan, pages: dict[str, str]) -> None:
    for truck in plan.trucks:
        page = pages[f"truck-{truck.truck_id}.html"]
        route = page[page.index('class="route"') :]
        assert route.count("<tr id=") == len(truck.stops)
        visits = sum(stop.kind in {"visit", "refill"} for stop in truck.stops)
        assert len(re.findall(r'href="geo:-?\d+\.\d{6},-?\d+\.\d{6}', route)) == visits
    text = words(pages["truck-T1.html"])
    for fact in (
        "GATE",
        "DOG",
        "SIGN",
        "NOTICE",
        "Lunch",
        "TIME",
        "8:00 AM–12:00 PM",
        "mph",
        "left Penny Hill Road",
    ):
        assert fact in text, fact
    assert "Key 7; backflow preventer hangs in the box" in text


def test_day_page(plan: Plan, pages: dict[str, str]) -> None:
    text = words(pages["index.html"])
    for entry in (*plan.held, *plan.unserved):
        assert entry.reason in text
    assert "Call neighbor at no. 212 the day before" in text
    for link in ("map.html", "pick-list.html", "truck-T1.html", "truck-T2.html"):
        assert f'href="{link}"' in pages["index.html"]


def test_pick_list_adds_up(day: Day, plan: Plan) -> None:
    used: dict[str, float] = {}
    for truck_plan in plan.trucks:
        for stop in truck_plan.stops:
            for fill in stop.fills:
                for part in fill.products:
                    used[part.product_id] = used.get(part.product_id, 0.0) + part.amount
    lines = pick_list(plan, day)
    assert {line.product.product_id: pytest.approx(line.amount) for line in lines} == used
    for line in lines:
        if line.product.container is not None and line.containers is not None:
            held = line.containers * line.product.container.base
            assert held >= line.amount - 1e-6
            assert held - line.product.container.base < line.amount


def test_a_large_container_is_drawn_from(plan: Plan) -> None:
    day, texts = sample_day(), {}
    for size in ("2.5 gal", "15 gal", "275 gal"):
        products = dict(day.workbook.products)
        products["trident"] = replace(products["trident"], container=parse_amount(size))
        changed = replace(day, workbook=replace(day.workbook, products=products))
        line = next(one for one in pick_list(plan, changed) if one.product.product_id == "trident")
        texts[size] = line.containers, line.drawn_text
    assert texts["275 gal"] == (None, "from the 275 gal container")
    assert texts["15 gal"] == (1, "")
    assert texts["2.5 gal"][0] is not None
    page = packet_pages(plan, changed, {}, "", "0")["pick-list.html"]
    assert f"draw <b>{line.text}</b>" in page


def test_pick_list_marks_bulk(plan: Plan) -> None:
    # 2VAC20-40-10: over 55 gal, or over 100 lb dry, in one container is bulk.
    day = sample_day()
    for size, marked in (("55 gal", False), ("120 gal", True)):
        products = dict(day.workbook.products)
        products["trident"] = replace(products["trident"], container=parse_amount(size))
        changed = replace(day, workbook=replace(day.workbook, products=products))
        found = {line.product.product_id for line in pick_list(plan, changed) if line.bulk_text}
        assert found == ({"trident"} if marked else set())


def test_the_pick_list_says_who_may_take_a_restricted_use_product(plan: Plan) -> None:
    """40 CFR 171.1(b): used by a certified applicator or under that person's direct supervision;
    that the store asks for it is common practice, no source."""
    day = sample_day()
    before = words(pages_of(day, plan)["pick-list.html"])
    assert "RESTRICTED USE" not in before.upper()
    assert "license ________" not in before
    products = dict(day.workbook.products)
    products["barrier"] = replace(products["barrier"], restricted_use=True)
    page = pages_of(replace(day, workbook=replace(day.workbook, products=products)), plan)
    rows = re.findall(r'<tr><th scope="row">.*?</tr>', page["pick-list.html"], re.DOTALL)
    assert ["RESTRICTED USE" in row for row in rows] == ["Barrier" in row for row in rows]
    text = words(page["pick-list.html"])
    # Only T1 mixes it.
    assert "Barrier Ridge 65: Truck T1 Juniper, Noor Haldane, license TF-20417." in text
    assert "license ________" in text


def test_pick_list_shows_the_stock_against_the_need(plan: Plan) -> None:
    day = sample_day()
    products = dict(day.workbook.products)
    need = {line.product.product_id: line.amount for line in pick_list(plan, day)}
    products["trident"] = replace(
        products["trident"], in_store=parse_amount(f"{need['trident'] + 0.25} gal")
    )
    day = replace(day, workbook=replace(day.workbook, products=products))
    (line,) = [row for row in pick_list(plan, day) if row.store_text]
    assert line.product.product_id == "trident"
    assert line.left_text == "1 qt"
    # 2.25 gal are there, less than a whole container of 2.5 gal.
    assert line.brought_text == "all there is"
    text = words(pages_of(day, plan)["pick-list.html"])
    assert "In store" in text
    assert "1 qt left" in text
    assert "In store" not in words(pages_of(sample_day(), plan)["pick-list.html"])


def test_hostile_text_shows_as_text() -> None:
    day = sample_day(hostile=True)
    for name, page in pages_of(day, sample_plan(day)).items():
        assert "<script" not in page, name
        assert "49" not in re.findall(r"\{\{[^}]*\}\}|7\*7|= ?49", page), name
    text = words(pages_of(day, sample_plan(day))["truck-T1.html"])
    assert re.sub(r"\s+", " ", plain_direction(HOSTILE)) in text


def test_no_sign_turns_figures_around() -> None:
    day = sample_day(hostile=True)
    plan = sample_plan(day)
    pages = pages_of(day, plan)
    pages["map.html"] = map_page(plan, day, sample_legs(plan), sample_streets())
    for name, page in pages.items():
        assert not set(DIRECTION_SIGNS) & set(page), name
        assert "\\u202e" not in page.replace(leaflet_js(), ""), name
    assert plain_direction("\u05d0\u05d1 85 gal") == "\u05d0\u05d1 85 gal"


def test_hostile_title_stays_in_its_string() -> None:
    assert css_text('a"} body{display:none} \\').replace("\\", "").isalnum()
    assert '"' not in css_text('a"b')
    assert css_text("T1 · x") == "T1\\000020\\0000b7\\000020x"


def test_odd_plans_still_print(day: Day, plan: Plan) -> None:
    """A truck that stays home, no weather, no legs, no map."""
    idle = replace(plan.trucks[1], stops=(), loading={"1": None, "2": None, "3": None}, cleaning=())
    book = replace(day.workbook, weather=())
    odd = packet_pages(
        replace(plan, trucks=(plan.trucks[0], idle), roads_warning=""),
        replace(day, workbook=book),
        {},
        "",
        CHECKSUM,
    )
    assert "stays in the yard" in odd["index.html"]
    assert 'href="map.html"' not in odd["index.html"]
    first = odd[truck_files([plan.trucks[0].truck_id])[plan.trucks[0].truck_id]]
    for page in (odd["index.html"], first):
        assert page.count("No forecast for this day: wind, temperature and rain limits") == 1
    assert "are the forecast" not in first
    (idle_page,) = (odd[name] for name in truck_files([idle.truck_id]).values())
    assert "Re-entry:" not in idle_page
    assert "heaviest" not in idle_page
    assert packet_pages(replace(plan, trucks=()), day, {}, "", CHECKSUM)["index.html"]


def test_wording_is_as_kept() -> None:
    """Ours, 2026-11-25; a change that is meant: python -m tests.golden_papers."""
    kept = {file.name: file.read_text(encoding="utf-8") for file in FOLDER.iterdir()}
    assert golden() == kept


def test_small_texts() -> None:
    assert [gal_text(x) for x in (187.0, 12.44, -0.001, 1234.0)] == ["187", "12.4", "0", "1,234"]
    assert duration_text(425) == "7 h 05 min"
    assert stop_numbers([4, 2, 3, 9]) == "2–4, 9"
    assert stop_numbers([]) == "none"


def test_way_in_a_line() -> None:
    """A long way keeps its last two turns and the one before its longest stretch."""
    way = [
        Maneuver("depart", "Head north on A Road", 0.1, "A Road"),
        Maneuver("turn", "", 0.05, "B Road", side="left"),
        Maneuver("exit", "", 4.0, "C Road", "I 1", "right", "12A", "Town"),
        Maneuver("keep", "", 0.2, side="left"),
        Maneuver("roundabout", "", 1.25, "D Road", exit="2"),
        Maneuver("turn", "", 0.02, "", "US 3", "slight right"),
        Maneuver("u-turn", "", 0.2, "E Road"),
        Maneuver("arrive", "Arrive", 0.0, side="left"),
    ]
    assert way_text(way) == (
        "… › exit 12A to Town 4.0 mi › … › slight right US 3 › U-turn E Road 0.2 mi; on the left"
    )
    assert way_text([*way[3:5], way[-1]]) == "roundabout 2nd exit D Road 1.2 mi; on the left"
    assert way_text([way[0], way[-1]]) == "on A Road; on the left"
    assert way_text([]) == ""


def test_gauge_and_time_bar(plan: Plan) -> None:
    # Worked by hand: 150 units high; 25 of 100 gal before, 75 after.
    drawn = gauge(100.0, 25.0, 75.0)
    assert (drawn.before_y, drawn.after_y) == (112.5, 37.5)
    axis = time_axis(plan)
    for truck in plan.trucks:
        bar = time_bar(truck.stops, axis)
        assert all(a.x + a.width <= b.x + 0.2 for a, b in pairwise(bar))
        assert bar[0].x >= 0
        assert bar[-1].x + bar[-1].width <= 1000


def test_templates_refuse_unknown_names() -> None:
    with pytest.raises(Exception, match="undefined"):
        render("pick_list.html")


def test_what_is_left_out_stands_above_the_trucks_with_the_customers_number(
    day: Day, plan: Plan
) -> None:
    order = day.workbook.orders[plan.unserved[0].order_id]
    homes = dict(day.workbook.properties)
    homes[order.property_id] = replace(
        homes[order.property_id], phone="(614) 555-0142", contact_by="text"
    )
    told = replace(day, workbook=replace(day.workbook, properties=homes))
    page = pages_of(told, plan)["index.html"]
    assert '<a href="#left-out">1 held, 1 unserved</a>' in page
    assert page.index('id="left-out"') < page.index('id="trucks"')
    block = page[page.index('id="left-out"') : page.index('id="trucks"')]
    assert 'href="sms:+16145550142"' in block
    assert "text (614) 555-0142" in words("<body" + block)
    clear = replace(plan, held=(), unserved=())
    assert "No order is left out." in words(pages_of(day, clear)["index.html"])


def test_one_file_holds_every_packet(pages: dict[str, str]) -> None:
    whole = pages["packets.html"]
    anchors = re.findall(r'id="([^"]+)"', whole)
    assert len(anchors) == len(set(anchors))
    named = re.findall(r'(?:href="#|aria-labelledby=")([^"]+)"', whole)
    assert set(named) <= set(anchors)
    for name in ("truck-T1.html", "truck-T2.html"):
        sheets = re.findall(r"<section class=\"sheet.*?</section>", pages[name], flags=re.DOTALL)
        for sheet in sheets:
            assert words("<body" + sheet) in words(whole)
        links = re.findall(r'href="#([^"]+)"', pages[name])
        assert "stop-1" in links
        assert set(links) <= set(re.findall(r'id="([^"]+)"', pages[name]))


def test_a_crew_sees_how_to_reach_the_customer(day: Day, plan: Plan) -> None:
    first = next(stop for stop in plan.trucks[0].stops if stop.kind == "visit")
    at = replace(
        day.workbook.properties[first.place_id],
        phone="(614) 555-0142",
        email="pat@example.com",
        contact_by="email",
    )
    refill = next(stop for stop in plan.trucks[0].stops if stop.kind == "refill")
    site = replace(day.workbook.sites[refill.place_id], phone="(614) 555-0188")
    book = replace(
        day.workbook,
        properties={**day.workbook.properties, first.place_id: at},
        sites={**day.workbook.sites, refill.place_id: site},
    )
    page = pages_of(replace(day, workbook=book), plan)["truck-T1.html"]
    row = page[page.index('id="stop-1"') : page.index('id="stop-2"')]
    assert '<a class="nobreak" href="tel:+16145550142">(614) 555-0142</a>' in row
    assert '<a class=" noprint" href="mailto:pat@example.com">' in row
    assert 'href="tel:+16145550188"' in page
