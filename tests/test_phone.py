"""The phone's page says what the paper says, is one small file, and works by thumb and keyboard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from planner.exports.text import BYTE_ORDER_MARK
from planner.papers.packet import packet_pages, truck_files
from planner.phone import page
from planner.phone.page import content_policy, phone_pages
from planner.plan.document import to_json
from planner.records.sealed import plan_checksum
from planner.records.sheet import actuals_sheet, read_actuals
from tests.browser import by_tab, chromium, needs_browser, violations, visit
from tests.sample_plan import sample_day, sample_legs, sample_plan, sample_streets

if TYPE_CHECKING:
    from playwright.sync_api import Browser

BIG, SMALL = (390, 844), (320, 640)
MOST_BYTES = 200_000
LEAST_PX = 50
VOID = {"br", "meta", "col", "input", "link", "img", "hr"}


class Texts(HTMLParser):
    """Texts of a page, each with the ids and classes of what it stands in."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.inside: list[tuple[str, str]] = []
        self.found: list[tuple[str, tuple[str, ...]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            told = dict(attrs)
            self.inside.append((tag, f"{tag} {told.get('id') or ''} {told.get('class') or ''}"))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Parts of drawings hold no text."""

    def handle_endtag(self, tag: str) -> None:
        while self.inside and self.inside.pop()[0] != tag:
            pass

    def handle_data(self, text: str) -> None:
        plain = " ".join(text.replace("\xa0", " ").split())
        if plain:
            self.found.append((plain, tuple(names for _, names in self.inside)))

    def within(self, name: str, *without: str) -> list[str]:
        """Texts in the element of that id or class, those within others left out."""
        return [
            text
            for text, around in self.found
            if any(name in names.split() for names in around)
            and not any(other in names.split() for names in around for other in without)
        ]


def pages_of(hostile: bool) -> tuple[dict[str, str], dict[str, str]]:
    day = sample_day(hostile)
    plan = sample_plan(day)
    legs, checksum = sample_legs(plan), plan_checksum(to_json(plan))
    papers = packet_pages(plan, day, legs, "", checksum, "© Somebody")
    phones = phone_pages(plan, day, legs, sample_streets(), checksum, credit="© Somebody")
    names = truck_files(phones)
    return {name: papers[names[name]] for name in phones}, phones


@pytest.fixture(scope="module")
def pages() -> tuple[dict[str, str], dict[str, str]]:
    return pages_of(hostile=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    here = tmp_path_factory.mktemp("phones")
    for hostile, kind in ((False, "plain"), (True, "hostile")):
        for name, text in pages_of(hostile)[1].items():
            (here / f"{kind}-{name}.html").write_text(text, encoding="utf-8")
    return here


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


def test_nobody_is_asked_for_the_level_of_a_compartment_that_holds_nothing() -> None:
    day = sample_day()
    plan = sample_plan(day)
    truck = plan.trucks[0]
    known = day.workbook.trucks[truck.truck_id]
    spare = replace(known.compartments[0], compartment_id="spare", position=9)
    known = replace(known, compartments=(*known.compartments, spare))
    trucks = {**day.workbook.trucks, truck.truck_id: known}
    day = replace(day, workbook=replace(day.workbook, trucks=trucks))
    used = {fill.compartment_id for stop in truck.stops for fill in stop.fills}
    some = next(mix for mix in truck.loading.values() if mix)
    loaded = replace(
        truck,
        loading={**truck.loading, "spare": some},
        start_gal={**truck.start_gal, "spare": 0.0},
        end_gal={**truck.end_gal, "spare": 0.0},
    )
    plan = replace(plan, trucks=(loaded, *plan.trucks[1:]))
    page = phone_pages(plan, day, sample_legs(plan), [], "0" * 64)[truck.truck_id]
    asked = set(re.findall(r'"key": ?"left ([^"]+)"', page))
    assert asked == used == set(re.findall(r'data-row="left ([^"]+)"', page))
    sheet = actuals_sheet(plan, day, "0" * 64)
    left = re.findall(rf'^"?{truck.truck_id}"?,"?\d+"?,"?left"?,"?"?,"?(\w+)', sheet, re.MULTILINE)
    assert set(left) == used


def words(texts: list[str]) -> str:
    return " ".join(" ".join(texts).split())


def test_every_word_and_figure_of_the_route_sheet_stands_at_its_stop(
    pages: tuple[dict[str, str], dict[str, str]],
) -> None:
    compared = 0
    for name, paper in pages[0].items():
        sheet, phone = Texts(paper), Texts(pages[1][name])
        stops = set(re.findall(r'<tr id="(stop-\d+)"', paper))
        assert len(stops) > 4
        for stop in stops:
            on_phone = words(phone.within(stop))
            for text in sheet.within(stop, "write", "n"):
                # Of the way the phone shows every turn, the paper those that matter.
                if text in ("open in phone map", "Refill at", "Leave") or text.startswith(": "):
                    continue
                # Commas and points between two parts of a line are the layout's.
                piece = text.strip(" ,·").removeprefix("via ").strip()
                # '4.1 caught' on paper is a sentence on the phone.
                piece = re.sub(r"^([\d.]+) caught$", r"First the \1 gal caught", piece)
                assert piece in on_phone, (name, stop, text, on_phone)
                compared += 1
    assert compared > 150


def test_every_turn_of_every_leg_stands_at_its_stop(
    pages: tuple[dict[str, str], dict[str, str]],
) -> None:
    told = 0
    for (name, seq), leg in sample_legs(sample_plan(sample_day())).items():
        shown = words(Texts(pages[1][name]).within(f"stop-{seq}"))
        for one in leg.maneuvers:
            assert f"{one.text} {one.distance}".strip() in shown
            told += 1
    assert told > 5


def test_every_word_of_the_mix_sheets_stands_on_the_phone(
    pages: tuple[dict[str, str], dict[str, str]],
) -> None:
    layout = {"Product", "Rate", "Reg. no.", "Signal word", "In this order", "Measure"}
    layout |= {
        "Done",
        "#",
        "gallons",
        "Gallons added",
        "Mark reached",
        "Time",
        "Initials",
        "Level read",
    }
    for name, paper in pages[0].items():
        sheet, phone = Texts(paper), words([text for text, _ in Texts(pages[1][name]).found])
        for text in sheet.within("mix-sheet", "strip", "svg", "header", "mark"):
            if text in layout or text.startswith(("rinse ", "Initials", "By the figures")):
                continue
            for piece in re.split(r" · |, (?=\d+ min in all)", text):
                plain = piece.strip(" .,:;·()")
                plain = plain.removesuffix(" will stay").strip()
                assert plain in phone, (name, text)


def test_every_figure_of_the_packet_stands_on_the_phone(
    pages: tuple[dict[str, str], dict[str, str]],
) -> None:
    figure = re.compile(r"\d[\d,.:]*\d|\d")
    for name, paper in pages[0].items():
        told = Texts(paper).within(
            "main", "strip", "write", "svg", "steps", "rinse", "totals", "sum"
        )
        phone = words([text for text, _ in Texts(pages[1][name]).found])
        missing = set(figure.findall(words(told))) - set(figure.findall(phone))
        assert not missing, (name, missing)


def test_the_page_is_small_and_asks_for_nothing(
    pages: tuple[dict[str, str], dict[str, str]],
) -> None:
    for name, text in pages[1].items():
        assert len(text.encode()) <= MOST_BYTES, name
        assert not re.findall(r'(?:src|href)="(?!#|tel:|geo:|sms:|mailto:)[^"]*"', text)
        assert " style=" not in text, "the content policy forbids it"
        assert content_policy() in text.replace("&#39;", "'")


def test_a_longer_day_has_fewer_streets_behind_its_ways(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here the room is made smaller; what the page says stays."""
    usual = pages_of(False)[1]
    streets = r'<path class="(?:water|minor|major)" d="[^"]*"/>'
    least = max(len(re.sub(streets, "", text).encode()) for text in usual.values())
    monkeypatch.setattr(page, "MOST_BYTES", least + 2_000)
    assert max(len(text.encode()) for text in usual.values()) > page.MOST_BYTES
    for name, text in pages_of(False)[1].items():
        assert len(text.encode()) <= page.MOST_BYTES
        assert re.sub(streets, "", text) == re.sub(streets, "", usual[name])


LOOK_AT_EVERY_SCREEN = """async ([least, height]) => {
    const found = [];
    for (const screen of document.querySelectorAll('.screen')) {
        location.hash = screen.id;
        await new Promise(ready => setTimeout(ready, 0));
        const note = (what, one) =>
            found.push(`${screen.id}: ${what} ${one.outerHTML.slice(0, 90)}`);
        if (!screen.classList.contains('shown')) note('not shown', screen);
        if (document.documentElement.scrollWidth > innerWidth) note('too wide', screen);
        for (const one of screen.querySelectorAll('.middle *:not(svg *)')) {
            if (one.getBoundingClientRect().right > innerWidth + 1) note('cut off', one);
        }
        const kinds = ['a', 'button', 'select', 'input:not([type=radio])', '.two span'];
        const pressed = kinds.map(kind => `.shown ${kind}`).join(', ');
        for (const one of document.querySelectorAll(`${pressed}, header a`)) {
            const box = one.getBoundingClientRect();
            if (one.offsetParent && (box.height < least - .5 || box.width < 40)) note('small', one);
        }
        const caution = screen.querySelector('.caution').getBoundingClientRect();
        if (caution.top < 0 || caution.bottom > height + .5) note('caution hidden', screen);
        const word = screen.querySelector('.word')?.getBoundingClientRect();
        if (word && word.bottom > height) note('signal word hidden', screen);
    }
    return found;
}"""


@needs_browser
@pytest.mark.parametrize("kind", ["plain", "hostile"])
def test_every_screen_fits_and_is_quiet(browser: Browser, folder: Path, kind: str) -> None:
    page, heard = visit(browser, folder / f"{kind}-T1.html", BIG, keeps=True)
    for width, height in (BIG, SMALL):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(LOOK_AT_EVERY_SCREEN, [LEAST_PX, height]) == []
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_every_kind_of_screen_is_open_to_all(browser: Browser, folder: Path) -> None:
    """axe-core 4 (https://dequeuniversity.com/rules/axe/) finds nothing, of any weight. Every
    screen: `python -m tests.phone_walk`."""
    page, _ = visit(browser, folder / "plain-T2.html", SMALL, keeps=True)
    page.click("text=Go to my stop >> visible=true")
    page.click(".shown .fill-line a >> nth=0")
    assert violations(page) == []
    page.evaluate("location.hash = 'stop-1'")
    page.click(".shown [data-do=here]")
    page.fill(".shown [data-column=wind_mph]", "99")
    assert violations(page) == []
    page.evaluate("location.hash = 'end'")
    assert violations(page) == []
    page.close()


@needs_browser
def test_every_screen_is_walked_by_tab(browser: Browser, folder: Path) -> None:
    """In the order of the page, with a ring, and under nothing (WCAG 2.2: 2.4.3, 2.4.7, 2.4.11)."""
    page, heard = visit(browser, folder / "plain-T1.html", SMALL, keeps=True)
    screens = page.evaluate("[...document.querySelectorAll('.screen')].map((one) => one.id)")
    assert len(screens) > 10
    # One of each kind: a stop, a fill and what is there once.
    kinds = {re.sub(r"[0-9].*", "", name): name for name in screens}
    for name in kinds.values():
        page.evaluate(f"location.hash = '{name}'")
        page.locator(f"#{name}.shown").wait_for()
        assert by_tab(page) == [], name
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_a_stop_by_keyboard_alone_with_the_focus_kept(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "plain-T1.html", BIG, keeps=True)

    def press(words: str) -> None:
        page.locator(f".shown button:has-text('{words}'):visible").first.focus()
        page.keyboard.press("Enter")

    def focused() -> str:
        return str(
            page.evaluate(
                "(one => one.dataset.column ?? one.dataset.do ?? one.id)(document.activeElement)"
            )
        )

    press("Go to my stop")
    page.locator("#stop-0.shown").wait_for()
    assert focused() == "stop-0-h"
    press("I am leaving")
    page.locator("#stop-1.shown").wait_for()
    press("I am here")
    assert focused() in ("sign", "wind_mph", "notice")
    page.locator(".shown [data-column=wind_mph]").focus()
    page.keyboard.type("22")
    page.keyboard.press("Tab")
    assert focused() == "wind_from"
    assert "do not spray" in page.inner_text(".shown .told:visible")
    page.keyboard.type("SW")
    page.keyboard.press("Tab")
    page.keyboard.type("61")
    press("Wait")
    assert focused() == "wind_mph"
    page.keyboard.type("4")
    press("Start")
    assert focused() == "gal"
    page.keyboard.type("12.5")
    press("Done")
    assert focused() == "next"
    assert "12.5 gal" in page.inner_text(".shown .written")
    page.keyboard.press("Enter")
    assert page.locator("#stop-1.shown").count() == 0
    # What was written outlives the page.
    page.reload()
    page.evaluate("location.hash = 'stop-1'")
    page.locator("#stop-1.shown").wait_for()
    assert "12.5 gal" in page.inner_text(".shown .written")
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_over_the_limit_nothing_starts_and_the_crew_waits_or_skips(
    browser: Browser, folder: Path
) -> None:
    """The sample's labels allow 10 or 15 mph at most."""
    page, heard = visit(browser, folder / "plain-T1.html", BIG, keeps=True)
    page.click("text=Go to my stop >> visible=true")
    page.evaluate("location.hash = 'stop-1'")
    page.click(".shown [data-do=here]")
    start, wait = page.locator(".shown [data-do=start]"), page.locator(".shown [data-do=wait]")
    assert (start.is_visible(), wait.is_visible()) == (True, False)
    # Straight from the field onto the button: it does not start, and is gone.
    page.locator(".shown [data-column=wind_mph]").press_sequentially("21")
    start.click()
    assert (start.is_visible(), wait.is_visible()) == (False, True)
    assert page.locator(".shown").get_attribute("data-phase") == "ready"
    assert "do not spray" in page.inner_text(".shown .told:visible")
    # The reading that was too high does not stand in for the next one.
    wait.click()
    assert page.input_value(".shown [data-column=wind_mph]") == ""
    page.fill(".shown [data-column=wind_mph]", "4")
    page.keyboard.press("Tab")
    assert (start.is_visible(), wait.is_visible()) == (True, False)
    page.fill(".shown [data-column=wind_mph]", "21")
    page.keyboard.press("Tab")
    page.locator(".shown [data-do=skip]:has-text('too windy')").click()
    assert page.inner_text("#skip [aria-pressed=true]") == "Too windy"
    page.click("#skip [data-do=skipped]")
    page.evaluate("location.hash = 'stop-1'")
    assert page.locator("#stop-1").get_attribute("data-phase") == "done"
    assert "Too windy" in page.inner_text("#stop-1 .written >> nth=0")
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_without_reach_the_day_is_saved_as_an_actuals_sheet(
    browser: Browser, folder: Path, tmp_path: Path
) -> None:
    page, heard = visit(browser, folder / "plain-T1.html", BIG, keeps=True)
    page.click("text=Go to my stop >> visible=true")
    page.click(".shown .fill-line a >> nth=0")
    while page.locator(".shown .on-write:not([hidden])").count() == 0:
        page.click(".shown [data-do=in]")
    page.click(".shown .alike")
    page.fill(".shown [data-column=lot]", 'A "1", B')
    page.click(".shown [data-do=in]")
    page.click("text=I am leaving >> visible=true")
    page.click(".shown [data-do=skip]")
    page.click("text=Gate locked >> visible=true")
    page.click("text=Skip it >> visible=true")
    page.click("header >> text=Day")
    with page.expect_download() as download:
        page.click("text=Save as a file >> visible=true")
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    rows, problems = read_actuals(file)
    assert problems == []
    assert [(row.what, row.done, row.lot, row.note) for row in rows][:1] == [
        ("fill", True, 'A "1", B', "")
    ]
    assert {(row.done, row.note) for row in rows[1:]} == {(False, "Gate locked")}
    assert all(row.plan.startswith("plan ") for row in rows)
    assert not file.read_text(encoding="utf-8").startswith(BYTE_ORDER_MARK)
    assert heard.nothing, heard
    page.close()
