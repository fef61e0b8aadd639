"""The tables' page in a real browser: by keyboard alone, at every size, no accessibility violation
(axe-core 4), nothing asked of others."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import uvicorn
from click.testing import CliRunner

from planner.cli.main import main
from planner.office.day_records import DayRecords
from planner.office.open_day import SharedDay
from planner.office.opening import open_office
from planner.office.runs import Comparisons
from planner.office.tables import OfficeTables
from planner.office.weeks import Weeks
from planner.serve.answers import Hub
from planner.serve.guard import Keys
from planner.serve.later import Desk, desks_of
from planner.serve.run import HERE, OfficeSite, bound
from planner.serve.runs import CompareDesk, WeeksDesk
from tests.bad_workbooks import BASE
from tests.browser import by_tab, chromium, needs_browser, sideways, until, violations
from tests.phone_walk import DAY, office_with_a_plan
from tests.test_day_page_browser import ANSWERED, HIDE, UNANSWERED
from tests.test_table_pages import no_day, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = needs_browser

SIZES = ((1300, 768), (1024, 768), (683, 384), (320, 640))


@dataclass
class AtTables:
    page: Page
    tables: OfficeTables
    book: Path
    link: str

    def write(self, key: str) -> None:
        """Press the key that writes, and wait until the page shows what was checked then."""
        before = self.tables.state.revision
        self.press(key)
        until(self.page, lambda: self.tables.state.revision != before)
        revision = self.tables.settled().revision
        self.page.wait_for_selector(f'body[data-revision="{revision}"]:not([data-busy])')

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def focused(self) -> str:
        return str(self.page.evaluate("document.activeElement.textContent"))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@contextmanager
def site_of(
    book: Path,
    folder: Path,
    day: Callable[[date | None], SharedDay] = no_day,
    **more: Callable[[Hub], Desk],
) -> Iterator[tuple[OfficeSite, str]]:
    """The site of a workbook, and its address. day: opens one; without it it stays closed."""
    tables = opened(book, folder)
    tables.settled()
    listening, keys = bound(0, False), Keys(b"secret")
    port = listening.getsockname()[1]
    site = OfficeSite(
        day,
        tables,
        desks_of(tables, book) | more,
        keys,
        f"planner-{port}",
        HERE,
    )
    config = uvicorn.Config(site, log_level="warning", access_log=False, lifespan="off", ws="none")
    server = uvicorn.Server(config)
    site.hub.ending = lambda: server.should_exit
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    yield site, f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(10)
    site.close()


@pytest.fixture
def at(browser: Browser, tmp_path: Path) -> Iterator[AtTables]:
    book = tmp_path / "book"
    shutil.copytree(BASE, book)
    sites = (book / "sites.csv").read_text()
    (book / "sites.csv").write_text(sites.replace(",yard,", ",yrad,", 1))
    orders = (book / "orders.csv").read_text().splitlines()
    orders[1] = orders[1].replace("2027-04-14", "14/4/2027")
    (book / "orders.csv").write_text("\n".join(orders) + "\n")
    with site_of(book, tmp_path) as (site, address):
        context = browser.new_context(viewport={"width": 1300, "height": 768})
        context.set_default_timeout(30_000)
        page, heard = context.new_page(), []
        page.on(
            "request", lambda one: None if one.url.startswith(address) else heard.append(one.url)
        )
        page.on("pageerror", lambda error: heard.append(str(error)))
        page.goto(f"{address}/open/{site.keys.new_link()}")
        page.wait_for_selector('body[data-ready="1"]')
        yield AtTables(page, site.tables, book, address)
        context.close()
    assert [one for one in heard if not one.startswith("data:")] == []


def test_problems_are_cured_and_cells_written_by_keyboard_alone(at: AtTables) -> None:
    page = at.page
    count = len(at.tables.state.problems)
    assert count >= 2
    at.press("n")
    page.wait_for_selector("tr.cause button:focus")
    assert "2027-04-14" in at.focused()
    assert violations(page) == []
    # The cure stays under the finger when somebody else writes meanwhile.
    state = at.tables.state
    was = state.text("orders", 3, 1)
    at.tables.write(state.reading, "orders", {(3, 1): (was, "P999")})
    page.wait_for_selector('#t-grid tr[data-row="3"] >> text=P999')
    page.wait_for_selector("tr.cause button:focus")
    at.tables.write(at.tables.state.reading, "orders", {(3, 1): ("P999", was)})
    page.wait_for_selector(f'#t-grid tr[data-row="3"] >> text={was}')
    at.tables.settled()
    page.wait_for_selector("tr.cause button:focus")
    at.write("Enter")
    assert len(at.tables.state.problems) == count - 1
    page.wait_for_selector("td.chosen:focus")
    at.press("ArrowDown", "ArrowLeft", "Enter")
    page.wait_for_selector("td input:focus")
    assert violations(page) == []
    at.press("Escape")
    page.focus("#tab-properties")
    at.press("Enter")
    page.wait_for_selector('#t-title:has-text("properties")')
    page.focus('#t-grid tr[data-row="2"] td[data-c="1"]')
    at.press("Enter")
    page.keyboard.insert_text("Nell O'Brien, Jr.")
    at.write("Enter")
    assert '"Nell O\'Brien, Jr."' in (at.book / "properties.csv").read_text()
    assert page.evaluate("document.activeElement.closest('tr').dataset.row") == "3"
    at.write("z")
    assert "Nell" not in (at.book / "properties.csv").read_text()
    page.focus("#do-clear")
    at.write("Enter")
    page.wait_for_selector('#t-grid tr[data-row="3"]', state="detached")
    page.wait_for_selector("#t-grid td:focus")
    at.write("z")
    page.wait_for_selector('#t-grid tr[data-row="3"]')


def test_what_may_not_be_written_is_told_until_a_change_is_answered(at: AtTables) -> None:
    """The limit of 60 s is cut to nothing here; a stream that opens again proves nothing."""
    at.press("n")
    at.page.wait_for_selector("tr.cause button:focus")
    at.page.evaluate(UNANSWERED)
    at.press("Enter")
    at.page.wait_for_selector("#link >> text=has not answered for 60 seconds")
    at.page.evaluate(ANSWERED)
    at.page.evaluate(HIDE, True)
    at.page.evaluate(HIDE, False)
    at.page.wait_for_selector("#link >> text=It answers again")
    at.write("Enter")
    at.page.wait_for_selector("#link", state="hidden")


def test_a_new_customer_is_placed_on_the_map(at: AtTables) -> None:
    page = at.page
    page.goto(f"{at.link}/tables?table=properties&new=1")
    page.wait_for_selector("#f-property:focus")
    assert violations(page) == []
    page.keyboard.insert_text("NEW")
    page.fill("#f-customer", "Zed")
    page.fill("#f-address", "9 Elm St")
    page.fill("#f-lawn_ft2", "7000")
    at.press("Enter")
    page.wait_for_selector("#place-map[data-ready]")
    assert violations(page) == []
    at.press("ArrowRight", "Enter")
    page.wait_for_selector("#side", state="hidden")
    last = (at.book / "properties.csv").read_text().splitlines()[-1].split(",")
    assert (last[0], last[1]) == ("NEW", "Zed")
    assert -84 < float(last[5]) < -83
    assert [one for one in at.tables.settled().problems if one.file == "properties.csv"] == []


def test_it_fits_every_screen_and_two_people_see_each_other(at: AtTables) -> None:
    page = at.page
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        for name in ("undo", "next", "check", "do-edit"):
            box = page.locator(f"#{name}").bounding_box()
            assert box is not None
            assert 0 <= box["x"] <= width - box["width"] + 1, (name, width)
        assert violations(page) == [], width
    page.set_viewport_size({"width": 1300, "height": 768})
    page.click("#tab-properties")
    page.wait_for_selector('#t-title:has-text("properties")')
    state = at.tables.state
    was = state.text("properties", 3, 1)
    page.click('#t-grid tr[data-row="3"] td[data-c="1"]')
    at.press("F2")
    page.keyboard.insert_text("Mine")
    at.tables.write(state.reading, "properties", {(3, 1): (was, "Theirs")})
    at.press("Enter")
    page.wait_for_selector('#link:has-text("Theirs")')
    assert page.input_value("td input:focus") == "Mine", "what was typed is not lost"
    assert "Theirs" in (at.book / "properties.csv").read_text()


def test_a_days_records_are_completed_and_corrected(browser: Browser, tmp_path: Path) -> None:
    book = office_with_a_plan(tmp_path)
    records = DayRecords(book)
    compared = Comparisons(book, tmp_path)
    own = {"compare": lambda hub: CompareDesk(compared, hub)}
    with site_of(book, tmp_path, **own) as (site, address):
        page = browser.new_page(viewport={"width": 1300, "height": 768})
        page.clock.set_fixed_time(datetime(2027, 5, 3, 18))
        page.goto(f"{address}/open/{site.keys.new_link()}")
        page.goto(f"{address}/records")
        page.wait_for_selector('body[data-ready="1"]')
        page.locator(".r-row[data-what=spray] select[name=done]").first.select_option("yes")
        page.click("#r-save")
        page.wait_for_selector(".r-row input[name=gal]:focus")
        assert "Start not written." in page.inner_text("#r-main")
        assert violations(page) == []
        page.locator(".r-row[data-what=spray] select[name=done]").first.select_option("")
        for name, text in (("wind_mph", "4"), ("temperature_f", "61")):
            page.fill(f".r-day [name={name}]", text)
        page.select_option(".r-day [name=wind_from]", "SW")
        page.click("#r-planned")
        page.wait_for_selector(".r-told")
        page.locator(".r-row[data-what=spray] [data-act=correct]").first.click()
        page.keyboard.press("Tab")
        page.locator(".r-row[data-correct] input[name=note]").fill("gate was open")
        page.fill("[name=why]", "told later")
        page.set_viewport_size({"width": 320, "height": 640})
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        assert violations(page) == []
        page.keyboard.press("Enter")
        page.wait_for_selector('.r-told:has-text("1 recorded")')
        assert "gate was open" in str([row.cells for row in records.rows(DAY)])
        (tmp_path / "compared-done").mkdir()
        (tmp_path / "compared-done" / "index.html").write_text('<a href="days.csv">The days</a>')
        (tmp_path / "compared-done" / "days.csv").write_text("day,cost\n")
        page.goto(f"{address}/compare")
        page.wait_for_selector('body[data-ready="1"]')
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        assert violations(page) == []
        assert "no spaces" in (page.get_attribute("[name=name]", "title") or "")
        page.click("#c-results a")
        with page.expect_download() as figures:
            page.click("text=The days")
        assert figures.value.path().read_text() == "day,cost\n"
        page.close()


def test_what_is_typed_for_one_truck_is_kept_while_another_is_looked_at(
    browser: Browser, tmp_path: Path
) -> None:
    """It goes into the records with the rest, and 'as planned' does not count over it."""
    book = office_with_a_plan(tmp_path)
    orders = (book / "orders.csv").read_text(encoding="utf-8").splitlines()
    cells = orders[1].split(",")
    cells[orders[0].split(",").index("only_trucks")] = "truck-2"
    (book / "orders.csv").write_text("\n".join([orders[0], ",".join(cells), *orders[2:]]))
    words = ("plan", book, "--date", DAY, "--out", tmp_path / "two", "--engine", "nearest-fit")
    assert CliRunner().invoke(main, [str(word) for word in words]).exit_code == 0
    records = DayRecords(book)
    with site_of(book, tmp_path) as (site, address):
        page = browser.new_page(viewport={"width": 1300, "height": 768})
        page.clock.set_fixed_time(datetime(2027, 5, 3, 18))
        page.goto(f"{address}/open/{site.keys.new_link()}")

        def look_at(link: str) -> None:
            page.goto(f"{address}/records")
            page.wait_for_selector('body[data-ready="1"]')
            page.click(link)
            page.wait_for_selector('body[data-ready="1"]')

        first, second = ".r-trucks a >> nth=0", ".r-trucks a >> nth=1"
        look_at(first)
        row = page.locator(".r-row[data-what=spray]").first
        skipped, row_stop = (row.get_attribute(f"data-{name}") for name in ("order", "stop"))
        row_truck = page.get_attribute("body", "data-truck")
        row.locator("[name=done]").select_option("no")
        row.locator("[name=note]").fill("gate locked")
        page.click(second)
        page.wait_for_selector('.r-trucks a:has-text("1 written")')
        assert violations(page) == []
        look_at(first)
        row = page.locator(".r-row[data-what=spray]").first
        assert row.locator("[name=note]").input_value() == "gate locked"
        row.locator("[name=gal]").fill("some")
        look_at(second)
        page.click("#r-form [type=submit]")
        stop = f"{row_truck}, stop {row_stop} ({skipped}): "
        page.wait_for_selector(f'[role=alert]:has-text("{stop}")')
        look_at(first)
        page.locator(".r-row[data-what=spray]").first.locator("[name=gal]").fill("")
        look_at(second)
        for name, text in (("wind_mph", "4"), ("temperature_f", "61")):
            page.fill(f".r-day [name={name}]", text)
        page.select_option(".r-day [name=wind_from]", "SW")
        page.click("#r-planned")
        page.wait_for_selector(".r-told")
        assert "written" not in page.inner_text(".r-trucks")
        found = next(one for one in records.rows(DAY) if one.step.order_id == skipped)
        assert (found.cells["done"], found.cells["note"]) == (False, "gate locked")
        look_at(first)
        assert page.evaluate("JSON.stringify(Object.values(sessionStorage))") == '["{}"]'
        page.close()


@pytest.fixture(scope="module")
def whole_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[OfficeSite, str]]:
    """Every page of an office with a printed day, a calendar and a folder for comparisons."""
    tmp_path = tmp_path_factory.mktemp("whole")
    book = office_with_a_plan(tmp_path)
    words = ("weeks", book, "--from", DAY, "--days", 6, "--engine", "nearest-fit", "--effort", 5)
    told = CliRunner().invoke(main, [str(word) for word in words])
    assert told.exit_code == 0, told.output
    compared = Comparisons(book, tmp_path)

    def opened_day(_when: date | None) -> SharedDay:
        return open_office(book, date.fromisoformat(DAY), None, None)

    own = {"compare": lambda hub: CompareDesk(compared, hub)}
    with site_of(book, tmp_path, opened_day, **own) as found:
        yield found


PLACES = ("day", "weeks", "tables", "import", "records", "compare")


@pytest.mark.parametrize("size", [(1366, 768), (768, 1024), (390, 844)])
def test_every_page_is_walked_by_tab_and_nothing_is_cut_off(
    browser: Browser, whole_site: tuple[OfficeSite, str], size: tuple[int, int]
) -> None:
    """Every control in the page's order, with a ring and in sight; every panel of the day opens by
    Enter, is the only thing within reach where it covers the page, and Escape leads back to its
    button. A table of the workbook is wider than a screen, and so may be a row of many dates."""
    site, address = whole_site
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    # The first page opens the day, beside whatever else this machine does.
    page.set_default_navigation_timeout(120_000)
    page.goto(f"{address}/open/{site.keys.new_link()}")
    for name in PLACES:
        page.goto(f"{address}/{name}")
        page.wait_for_selector('body[data-ready="1"]')
        assert by_tab(page) == [], name
        assert sideways(page, "#t-grid .scroll, .records #t-tabs") == [], name
    page.goto(f"{address}/day")
    page.wait_for_selector('body[data-ready="1"]')
    assert min(
        page.evaluate("[...document.querySelectorAll('.sheet:not([hidden]) td.who')]"
                      ".map((one) => one.clientWidth)")
    ) >= 80, "names are read, not spelled"  # fmt: skip
    panels = page.evaluate(
        "[...document.querySelectorAll('[data-panel]')].map((one) => one.dataset.panel)"
    )
    assert len(set(panels)) == 6
    for name in dict.fromkeys(panels):
        page.locator(f"[data-panel={name}]").first.focus()
        page.keyboard.press("Enter")
        assert page.evaluate(f"document.activeElement.closest('.panel').id === '{name}'")
        assert by_tab(page) == [], name
        assert sideways(page) == [], name
        page.locator(f"#{name}-title").focus()
        page.keyboard.press("Escape")
        assert page.locator(f"#{name}").is_hidden()
        assert page.evaluate("document.activeElement.dataset.panel") == name
    page.locator("[data-panel=drafts]").first.focus()
    page.keyboard.press("Enter")
    page.locator("#draft-name").focus()
    page.keyboard.type(f"by Enter {size[0]}")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"#drafts :text('by Enter {size[0]}')")
    page.close()


def test_the_plan_of_the_day_is_counted_as_done_in_one_press(
    browser: Browser, tmp_path: Path
) -> None:
    """From the day's page; not before the day, there and on the records' page. What the records
    still need is asked for there."""
    book = office_with_a_plan(tmp_path)
    records, when = DayRecords(book), date.fromisoformat(DAY)

    def opened_day(_when: date | None) -> SharedDay:
        return open_office(book, when, None, None)

    def open_print() -> None:
        page.goto(f"{address}/day")
        page.wait_for_selector('body[data-ready="1"]')
        page.keyboard.press("p")
        page.click("#count-done")

    with site_of(book, tmp_path, opened_day) as (site, address):
        page = browser.new_page(viewport={"width": 1300, "height": 768})
        page.clock.set_fixed_time(datetime(2027, 5, 2, 18))
        page.goto(f"{address}/open/{site.keys.new_link()}")
        open_print()
        page.wait_for_selector("#link:has-text('still to come')")
        page.goto(f"{address}/records?date={DAY}")
        page.wait_for_selector('body[data-ready="1"]')
        page.click("#r-planned")
        page.wait_for_selector("#link:has-text('still to come')")
        assert not any(row.recorded for row in records.rows(DAY))
        page.clock.set_fixed_time(datetime(2027, 5, 3, 18))
        open_print()
        page.wait_for_selector(".r-told:has-text('Nothing was recorded')")
        assert "wind mph not written in" in page.inner_text(".r-told")
        assert page.evaluate("location.search") == f"?date={DAY}"
        for name, text in (("wind_mph", "4"), ("temperature_f", "61")):
            page.fill(f".r-day [name={name}]", text)
        page.select_option(".r-day [name=wind_from]", "SW")
        page.click("#r-planned")
        page.wait_for_selector('.r-told:has-text("recorded.")')
        assert all(row.recorded for row in records.rows(DAY) if row.step.what != "left")
        open_print()
        page.wait_for_selector(".r-told:has-text('That is recorded already')")
        page.close()


def test_who_calls_writes_what_was_said_and_takes_back_what_was_pressed_by_mistake(
    browser: Browser, tmp_path: Path
) -> None:
    book = office_with_a_plan(tmp_path)
    words = ["weeks", str(book), "--from", DAY, "--days", "1"]
    assert CliRunner().invoke(main, words).exit_code in (0, 3)
    weeks = Weeks(book)
    with site_of(book, tmp_path, weeks=lambda hub: WeeksDesk(weeks, hub)) as (site, address):
        page = browser.new_page(viewport={"width": 1300, "height": 768})
        page.goto(f"{address}/open/{site.keys.new_link()}")
        page.goto(f"{address}/weeks")
        page.wait_for_selector('body[data-ready="1"]')
        first, second = page.locator("#w-calls li input").all()[:2]
        first.fill("try at six")
        second.fill("half a note")
        page.click("#w-calls li:first-child [data-outcome='no answer']")
        page.wait_for_selector("#w-calls .r-made:has-text('“try at six”')")
        assert [one.input_value() for one in page.locator("#w-calls li input").all()[:2]] == [
            "",
            "half a note",
        ]
        assert violations(page) == []
        count = page.locator("#w-calls li").count()
        page.click("#w-all-1")
        page.wait_for_selector("#w-calls:has-text('Everybody knows the day.')")
        assert weeks.standing().calendar.told  # type: ignore[union-attr]
        page.wait_for_selector(f"#w-calls .r-told:has-text('and {count - 1} more')")
        assert violations(page) == []
        # Also by a server that was started anew.
        assert Weeks(book).pressed() == weeks.pressed()
        page.click("#w-back")
        page.wait_for_selector(f"#w-calls li >> nth={count - 1}")
        assert page.locator("#w-calls li").count() == count
        assert page.locator("#w-calls .r-made").count() == 1, "what was written by mistake is none"
        assert not weeks.standing().calendar.told  # type: ignore[union-attr]
        page.click("#w-back")
        page.wait_for_selector("#w-back", state="detached")
        assert page.locator("#w-calls .r-made").count() == 0
        page.close()
