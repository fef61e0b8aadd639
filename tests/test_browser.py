"""Every page in a real browser: nothing asked of the network, popups and switches, keyboard,
accessibility by axe-core, and paper of two sizes."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from planner.maps.day_map import map_page
from planner.papers.direction import plain_direction
from planner.papers.packet import packet_pages
from planner.tables.office import MapTiles
from tests.browser import (
    DESK,
    MAP,
    PAPER_PX,
    PHONE,
    beyond_paper,
    chromium,
    needs_browser,
    printed,
    serious,
    settled,
    sideways,
    visit,
    zoom_in,
)
from tests.sample_plan import HOSTILE, sample_day, sample_legs, sample_plan, sample_streets

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = needs_browser

PAPERS = ("index.html", "pick-list.html", "truck-T1.html", "truck-T2.html")
PAGES = (*PAPERS, "packets.html", "map.html")
SIDE_MARGINS_PX = 0.9 * 96
"""Two times .45 in, as base.html sets them."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


def written(folder: Path, hostile: bool) -> Path:
    day = sample_day(hostile)
    plan = sample_plan(day)
    legs = sample_legs(plan)
    pages = packet_pages(plan, day, legs, "map.html", "0123456789")
    pages["map.html"] = map_page(plan, day, legs, sample_streets(), "© Somebody")
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("day"), hostile=False)


@pytest.fixture(scope="module")
def hostile_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("hostile"), hostile=True)


@pytest.mark.parametrize("name", PAGES)
def test_quiet_and_no_wider_than_the_screen(
    browser: Browser, folder: Path, hostile_folder: Path, name: str
) -> None:
    for where, sizes in ((folder, (DESK, PHONE)), (hostile_folder, (PHONE, DESK))):
        page, heard = visit(browser, where / name, sizes[0])
        for width, height in sizes:
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert heard.nothing, heard
        page.close()


@pytest.mark.parametrize("name", ["index.html", "truck-T1.html", "pick-list.html"])
def test_no_part_of_a_paper_scrolls_sideways(browser: Browser, folder: Path, name: str) -> None:
    """The strip of stops and the pick list did at 1,000 px; a stop that is jumped to from the strip
    is not under it."""
    page, _ = visit(browser, folder / name, DESK)
    for width in (1280, 1000, 768, 390):
        page.set_viewport_size({"width": width, "height": 800})
        assert sideways(page) == [], width
        strip = page.locator("nav.stops")
        if strip.count():
            assert strip.evaluate("one => one.scrollWidth - one.clientWidth") <= 0
            strip.get_by_role("link").nth(2).click()
            bar, stop = strip.bounding_box(), page.locator("#stop-2").bounding_box()
            assert bar is not None
            assert stop is not None
            assert stop["y"] >= bar["y"] + bar["height"] or bar["y"] + bar["height"] <= 0
    page.close()


def test_every_figure_of_a_truck_is_on_the_screen(browser: Browser, tmp_path: Path) -> None:
    """With the columns of the yard, too, the table of trucks is not cut off."""
    day = sample_day()
    plan = sample_plan(day)
    totals = replace(plan.totals, totals=replace(plan.totals.totals, yard_min=54.0))
    pages = packet_pages(replace(plan, totals=totals), day, {}, "", "0123456789")
    (tmp_path / "index.html").write_text(pages["index.html"], encoding="utf-8")
    page, _ = visit(browser, tmp_path / "index.html", DESK)
    for width in (1280, 1161, 1160, 1000, 768, 390):
        page.set_viewport_size({"width": width, "height": 900})
        wide = page.locator(".scroll:has(> .trucks)")
        assert wide.evaluate("one => one.scrollWidth - one.clientWidth") <= 0, width
        assert page.locator(".trucks tr").nth(1).inner_text().count(":") >= 4
    page.close()


@pytest.mark.parametrize("name", PAPERS[2:])
def test_hostile_text_shows_as_text(browser: Browser, hostile_folder: Path, name: str) -> None:
    page, heard = visit(browser, hostile_folder / name)
    shown = re.sub(r"\s+", " ", page.inner_text("main"))
    assert re.sub(r"\s+", " ", plain_direction(HOSTILE)) in shown
    assert page.locator("main script").count() == 0
    assert heard.nothing
    page.close()


def test_hostile_text_shows_as_text_on_the_map(browser: Browser, hostile_folder: Path) -> None:
    page, heard = visit(browser, hostile_folder / "map.html")
    page.locator(".holder.sign > .off").first.click()
    shown = re.sub(r"\s+", " ", page.inner_text(".leaflet-popup-content"))
    assert re.sub(r"\s+", " ", plain_direction(HOSTILE)).strip() in shown
    assert heard.nothing, heard
    page.close()


def test_popups_open_by_mouse_and_by_keyboard(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "map.html")
    for kind, word in (("stop", "stop"), ("refill", "refill"), ("site", "fills"), ("off", "order")):
        sign = page.locator(f".holder.sign:has(.{kind})").first
        sign.focus()
        page.keyboard.press("Enter")
        popup = page.locator(".leaflet-popup-content")
        popup.wait_for(state="visible")
        assert word in popup.inner_text().lower()
        page.keyboard.press("Escape")
        popup.wait_for(state="detached")
    page.locator(".holder.sign > .site").first.click()
    page.locator(".leaflet-popup-content").wait_for(state="visible")
    assert heard.nothing, heard
    page.close()


def test_online_map_is_off_and_quiet_when_it_fails(browser: Browser, tmp_path: Path) -> None:
    day = sample_day()
    plan = sample_plan(day)
    tiles = MapTiles("https://tiles.example/{z}/{x}/{y}.png", "© <b>Tiles</b>")
    text = map_page(plan, day, sample_legs(plan), sample_streets(), "", tiles)
    (tmp_path / "map.html").write_text(text, encoding="utf-8")
    page, heard = visit(browser, tmp_path / "map.html")
    assert heard.nothing, heard
    page.route("https://**", lambda route: route.abort())
    page.get_by_text("Online street map").click()
    # Each picture of the street map that failed is replaced by an empty one.
    tiles_shown = "[...document.querySelectorAll('img.leaflet-tile')]"
    failed = "every(one => one.src.startsWith('data:'))"
    settled(page, f"{tiles_shown}.length && {tiles_shown}.{failed}")
    assert heard.requests
    assert all(url.startswith("https://tiles.example/") for url in heard.requests)
    # The browser itself notes each picture that fails; the page says nothing and goes on.
    assert all("net::ERR_" in line for line in heard.complaints), heard.complaints
    assert "© <b>Tiles</b>" in page.inner_text(".leaflet-control-attribution")
    page.get_by_text("Online street map").click()
    assert "Tiles" not in page.inner_text(".leaflet-control-attribution")
    page.close()


def test_every_sign_has_a_name_for_screen_readers(browser: Browser, folder: Path) -> None:
    page, _ = visit(browser, folder / "map.html")
    names = page.eval_on_selector_all(
        ".holder.sign", "all => all.map(one => one.getAttribute('aria-label'))"
    )
    assert names
    assert all(names)
    page.close()


def test_switches_hide_and_show(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "map.html")
    stops = page.locator(".holder.sign > .stop")
    all_stops = stops.count()
    truck = page.locator(".leaflet-control-layers-overlays label", has_text="A: ").locator("input")
    truck.uncheck()
    assert 0 < stops.count() < all_stops
    truck.check()
    assert stops.count() == all_stops
    for switch in page.locator(".legend [data-mix]").all():
        switch.uncheck()
    assert not any(stop.is_visible() for stop in stops.all())
    page.locator(".legend [data-mix]").first.check()
    some = sum(stop.is_visible() for stop in stops.all())
    assert 0 < some < all_stops
    # A truck that is switched on again obeys the mixes that are switched off.
    truck.uncheck()
    truck.check()
    assert sum(stop.is_visible() for stop in stops.all()) == some
    assert heard.nothing, heard
    page.close()


def test_signs_do_not_hide_each_other(browser: Browser, folder: Path) -> None:
    """Whole and short signs stand free of every other sign, at the opening zoom and nearer."""
    page, _ = visit(browser, folder / "map.html")
    for _ in range(3):
        boxes = page.eval_on_selector_all(
            ".holder.sign > div",
            """all => all.map(one => {
                const box = one.getBoundingClientRect();
                return [box.left, box.top, box.right, box.bottom, !one.classList.contains('dot')];
            })""",
        )
        whole = [box for box in boxes if box[4]]
        assert whole
        for box in whole:
            for other in boxes:
                if other is not box:
                    wide = min(box[2], other[2]) - max(box[0], other[0])
                    high = min(box[3], other[3]) - max(box[1], other[1])
                    assert wide <= 3 or high <= 3, (box, other)
        zoom_in(page)
    page.close()


def test_letters_of_a_dense_street_do_not_cover_each_other(
    browser: Browser, tmp_path: Path
) -> None:
    """Far off, a hundred lawns of one street are letters where there is room for one, and points
    between them; nearer there are more letters."""
    day = sample_day()
    plan = sample_plan(day)
    (first, *rest) = plan.trucks
    visit_stop = next(stop for stop in first.stops if stop.kind == "visit")
    street = tuple(
        replace(visit_stop, seq=number, lat=visit_stop.lat + number * 0.0002)
        for number in range(1, 101)
    )
    stops = (first.stops[0], *street, first.stops[-1])
    plan = replace(plan, trucks=(replace(first, stops=stops), *rest))
    (tmp_path / "map.html").write_text(map_page(plan, day, {}, ()), encoding="utf-8")
    page, heard = visit(browser, tmp_path / "map.html")
    letters = []
    for _ in range(3):
        boxes = page.eval_on_selector_all(
            ".holder .stop:not(.speck)",
            """all => all.map(one => one.getBoundingClientRect()).map(
                box => [box.left, box.top, box.right, box.bottom])""",
        )
        letters.append(len(boxes))
        for at, box in enumerate(boxes):
            for other in boxes[:at]:
                wide = min(box[2], other[2]) - max(box[0], other[0])
                high = min(box[3], other[3]) - max(box[1], other[1])
                assert wide <= 1 or high <= 1, (box, other)
        assert page.locator(".holder .stop").count() >= 100, "every stop is there"
        zoom_in(page)
    assert 5 < letters[0] < letters[-1], letters
    assert heard.nothing, heard
    page.close()


def test_street_names_stand_on_the_map_when_near(browser: Browser, folder: Path) -> None:
    page, _ = visit(browser, folder / "map.html")
    assert page.locator(".name-holder").count() == 0
    for _ in range(4):
        zoom_in(page)
    assert page.locator(".name-holder").count() > 0
    page.close()


def test_the_street_under_the_mouse_is_named(browser: Browser, folder: Path) -> None:
    page, _ = visit(browser, folder / "map.html")
    # The sample's streets are a checkerboard: somewhere along a row the mouse meets an avenue.
    for across in range(100, 700, 3):
        page.mouse.move(across, 333)
        page.evaluate("new Promise(done => requestAnimationFrame(() => setTimeout(done, 0)))")
        names = page.locator(".street-name")
        if names.count():
            assert re.fullmatch(r"Avenue \d+|\d+th Street|Tilbury River", names.inner_text())
            break
    else:
        raise AssertionError("no street was named")
    page.close()


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("index.html", DESK),
        ("pick-list.html", PHONE),
        ("truck-T2.html", DESK),
        ("truck-T2.html", PHONE),
        ("map.html", DESK),
        ("map.html", PHONE),
    ],
)
def test_axe_finds_nothing_serious(
    browser: Browser, folder: Path, name: str, size: tuple[int, int]
) -> None:
    page, _ = visit(browser, folder / name, size)
    assert serious(page) == []
    page.close()


def test_axe_finds_what_is_wrong(browser: Browser, tmp_path: Path) -> None:
    """That the check above can fail."""
    bad = tmp_path / "bad.html"
    bad.write_text('<html><body><p style="color:#ccc">pale</p><img src="x"></body></html>')
    page, _ = visit(browser, bad)
    assert {row[0] for row in serious(page)} >= {"image-alt", "html-has-lang", "color-contrast"}
    page.close()


SHEETS = {
    "index.html": {"Letter": 2, "A4": 2},
    "pick-list.html": {"Letter": 1, "A4": 1},
    "truck-T1.html": {"Letter": 8, "A4": 8},
    "truck-T2.html": {"Letter": 6, "A4": 5},
}
"""T1 has three compartments and T2 two; both catch mix, and so have a sheet of labels."""


@pytest.mark.parametrize("name", PAPERS)
def test_links_are_reached_by_keyboard_and_paper_holds_it(
    browser: Browser, folder: Path, name: str
) -> None:
    """So many sheets, and no text over the edge."""
    page, _ = visit(browser, folder / name)
    page.keyboard.press("Tab")
    reached = page.evaluate("document.activeElement.outerHTML.slice(0, 40)")
    assert reached.startswith("<a "), reached
    assert {paper: printed(page, paper)[0] for paper in PAPER_PX} == SHEETS[name]
    for paper in PAPER_PX:
        assert beyond_paper(page, paper, SIDE_MARGINS_PX) == []
    page.close()


def test_thirty_stops_print_on_two_sheets(browser: Browser, tmp_path: Path) -> None:
    """The route sheet alone, with 30 stops of the sample's kinds."""
    day = sample_day()
    plan = sample_plan(day)
    truck = plan.trucks[0]
    visits = [stop for stop in truck.stops if stop.kind != "return" and stop.seq > 0]
    many, homes = [], dict(day.workbook.properties)
    for row in range(30):
        stop = visits[row % len(visits)]
        # Each lawn is another customer's.
        if stop.kind == "visit":
            homes[f"{stop.place_id} {row}"] = homes[stop.place_id]
            stop = replace(stop, place_id=f"{stop.place_id} {row}")
        many.append(replace(stop, seq=row + 1))
    day = replace(day, workbook=replace(day.workbook, properties=homes))
    long = replace(truck, stops=(truck.stops[0], *many, truck.stops[-1]))
    legs = {("T1", seq): sample_legs(plan)["T1", 1] for seq in range(40)}
    page = packet_pages(replace(plan, trucks=(long,)), day, legs, "", "0123456789")["truck-T1.html"]
    start = page.index('<section class="sheet mix-sheet"')
    end = page.index('<section class="sheet route-sheet"')
    (tmp_path / "route.html").write_text(page[:start] + page[end:], encoding="utf-8")
    opened, _ = visit(browser, tmp_path / "route.html")
    assert printed(opened, "Letter")[0] <= 2
    opened.close()


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no pdftotext (poppler-utils)")
def test_what_follows_the_last_fill_is_never_alone_on_a_page(
    browser: Browser, tmp_path: Path
) -> None:
    """However long the mix sheet gets: each of its pages has a fill on it, and a fill's measures
    stay the largest print of its table."""
    day = sample_day()
    plan = sample_plan(day)
    for lines in range(0, 32, 4):
        mixes = {
            name: replace(
                mix, note=" ".join(["Walk the lawn once more before the first pass."] * lines)
            )
            for name, mix in day.workbook.mixes.items()
        }
        long = replace(day, workbook=replace(day.workbook, mixes=mixes))
        page = packet_pages(plan, long, sample_legs(plan), "", "0123456789")["truck-T2.html"]
        (tmp_path / "sheets.html").write_text(page, encoding="utf-8")
        opened, _ = visit(browser, tmp_path / "sheets.html")
        (tmp_path / "sheets.pdf").write_bytes(printed(opened, "Letter")[1])
        command = ["pdftotext", "-layout", str(tmp_path / "sheets.pdf"), "-"]
        texts = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split(
            "\f"
        )
        mixed = texts[: next(row for row, text in enumerate(texts) if "Container labels:" in text)]
        assert len(mixed) >= 3
        assert [row for row, text in enumerate(mixed) if not re.search(r"Fill \d of", text)] == []
        opened.emulate_media(media="print")
        sizes = opened.evaluate(
            """() => ['.steps .jug', '.steps td:nth-child(2)', '.levels td'].map(one =>
                parseFloat(getComputedStyle(document.querySelector(one)).fontSize))"""
        )
        assert sizes[0] == max(sizes)
        assert sizes[0] >= 11.5 * 96 / 72 - 0.01
        opened.close()


@pytest.mark.parametrize("name", PAPERS)
def test_long_names_stay_on_the_paper(browser: Browser, hostile_folder: Path, name: str) -> None:
    page, _ = visit(browser, hostile_folder / name)
    assert beyond_paper(page, "Letter", SIDE_MARGINS_PX) == []
    page.close()


def test_map_prints_whole_on_one_sheet(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "map.html")
    for paper in PAPER_PX:
        assert printed(page, paper)[0] == 1, paper
    assert heard.nothing, heard
    page.close()


def test_a_truck_alone_is_fitted_named_and_alone_in_the_key(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "map.html")
    names = page.locator(".truck-name")
    assert sorted(names.all_inner_texts()) == ["A Truck T1 Juniper", "B Truck T2 Sumac"]
    whole = page.evaluate(f"{MAP}.getZoom()")
    alone = "document.querySelectorAll('.truck-name').length === 1"
    page.locator(".legend a", has_text="Sumac").click()
    settled(page, alone)
    assert page.evaluate(f"{MAP}.getZoom()") >= whole
    assert names.all_inner_texts() == ["B Truck T2 Sumac"]
    assert page.locator(".legend [data-truck]:visible").count() == 1
    # Every point of the truck's way lies on the screen, not under an edge of it.
    assert page.evaluate(
        """() => {
            const map = Object.values(window).find(one => one instanceof L.Map);
            let all = true;
            map.eachLayer(one => { if (one instanceof L.Polyline && one.options.className)
                all = all && map.getBounds().contains(one.getBounds()); });
            return all;
        }"""
    )
    page.goto(page.url.split("#")[0] + "#T1")
    settled(page, f"{alone} && document.querySelector('.truck-name').innerText.includes('T1')")
    assert names.all_inner_texts() == ["A Truck T1 Juniper"]
    assert heard.nothing, heard
    page.close()


@pytest.mark.parametrize("width", [390, 320])
def test_a_phone_shows_signal_words_and_jumps_to_a_stop(
    browser: Browser, folder: Path, width: int
) -> None:
    page, heard = visit(browser, folder / "truck-T1.html", (width, 844))
    for word in page.locator(".products .signal").all():
        box = word.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= width
    page.get_by_role("navigation", name="Stops to come").get_by_role("link").nth(3).click()
    box = page.locator("#stop-3").bounding_box()
    assert box is not None
    assert 0 <= box["y"] < 200
    assert heard.nothing, heard
    page.close()
