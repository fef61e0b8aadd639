"""A crew's whole day by thumb in a browser, with an office that is out of reach, dies and is
started again. Full run (not in CI): `python -m tests.phone_walk --ticks 300`."""

from __future__ import annotations

import argparse
import json
import random
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from click.testing import CliRunner

from planner.cli.main import main
from planner.phone.page import content_policy
from planner.phone_day import PhoneDay
from planner.records.current import TICKED
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.tables.starter import starter_files
from tests.browser import PHONE, chromium, violations

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

DAY = "2027-05-03"
ADDRESS = "http://crew.test/truck/{}/key/"


@dataclass
class Office:
    """What stands at the other end of the air. dice: which messages are lost."""

    book: Path
    day: str
    dice: random.Random
    lossy: bool = True
    phone: PhoneDay = field(init=False)
    lost: int = 0
    unanswered: int = 0
    restarts: int = 0

    def __post_init__(self) -> None:
        self.phone = PhoneDay(self.book, self.day)

    def answer(self, route: Route) -> None:
        request = route.request
        truck = request.url.split("/truck/")[1].split("/")[0]
        if request.method == "GET":
            page = self.phone.page(truck, "ticks") or "nothing"
            headers = {"content-security-policy": content_policy()}
            route.fulfill(body=page, content_type="text/html; charset=utf-8", headers=headers)
            return
        if self.lossy and self.dice.random() < 0.1:
            self.phone, self.restarts = PhoneDay(self.book, self.day), self.restarts + 1
        if self.lossy and self.dice.random() < 0.3:
            self.lost += 1
            route.abort()
            return
        told = self.phone.exchange(truck, json.loads(request.post_data or ""))
        if self.lossy and self.dice.random() < 0.3:
            self.unanswered += 1
            route.abort()
            return
        route.fulfill(json=told)

    def ticks(self) -> list[str]:
        return ticks_in_store(self.book)


def ticks_in_store(book: Path) -> list[str]:
    """Subjects of what crews wrote."""
    with Store(store_path(book)) as store:
        return [row.subject for row in store.events(DAY, f"{DAY}~", (TICKED,))]


def opened(browser: Browser, office: Office, truck: str) -> tuple[Page, list[str]]:
    """The truck's page as a phone has it, and what it complains of."""
    page = browser.new_page(viewport={"width": PHONE[0], "height": PHONE[1]})
    page.set_default_timeout(20000)
    heard: list[str] = []
    # Aborted requests are noted by the browser itself.
    page.on("console", lambda one: None if "net::ERR" in one.text else heard.append(one.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.route("http://crew.test/**", office.answer)
    page.goto(ADDRESS.format(truck))
    return page, heard


def walk(page: Page, also: Callable[[], object] = lambda: None, skip: str = "") -> None:
    """Everything as planned, to the end of the day. also: done between the stops; skip: why the
    first lawn is skipped, '' = it is not."""
    page.click("text=Go to my stop >> visible=true")
    while page.locator(".shown").get_attribute("data-kind") != "return":
        kind = page.locator(".shown").get_attribute("data-kind")
        if kind == "visit" and skip:
            page.click(".shown [data-do=skip]")
            page.click("#skip >> text=Something else")
            page.fill("#skip .slot input", skip)
            page.click("#skip [data-do=skipped]")
            skip = ""
            continue
        if kind == "visit":
            page.click(".shown [data-do=here]")
            while page.locator(".shown").get_attribute("data-phase") != "done":
                readings(page)
                page.click(".shown [data-do=start]")
                page.click(".shown .on-spray .alike")
                page.click(".shown [data-do=done]")
        for number in range(page.locator(".shown .fill-line a").count()):
            page.click(f".shown .fill-line a >> nth={number}")
            while page.locator(".shown .on-write:not([hidden])").count() == 0:
                page.click(".shown [data-do=in]")
            page.click(".shown .alike")
            page.fill(".shown [data-column=level]", "20")
            page.click(".shown [data-do=in]")
        page.click(".shown [data-do=next]")
        also()
    page.click("text=End of day >> visible=true")
    for field_ in page.locator(".tank-line input").all():
        planned = field_.locator("xpath=ancestor::div[contains(@class,'tank-line')]").inner_text()
        field_.fill(planned.split("planned ")[1].split(" ")[0])
    page.click(".shown [data-do=finish]")


def readings(page: Page) -> None:
    """What is read at a lawn."""
    for column in ("sign", "notice", "neighbors"):
        if page.locator(f".shown [data-column={column}]:visible").count():
            page.locator(f".shown [data-column={column}][value=Yes]").check(force=True)
    for column, value in (("wind_mph", "4"), ("temperature_f", "61")):
        if page.locator(f".shown [data-column={column}]:visible").count():
            page.fill(f".shown [data-column={column}]", value)
    if page.locator(".shown [data-column=wind_from]:visible").count():
        page.select_option(".shown [data-column=wind_from]", "SW")


def all_sent(page: Page) -> None:
    """Back in reach."""
    while page.inner_text("#reach") != "in reach: all sent":
        page.evaluate("dispatchEvent(new Event('online'))")
        page.wait_for_timeout(50)


def office_with_a_plan(here: Path) -> Path:
    """A starter office with its printed plan."""
    book = here / "office"
    book.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (book / name).write_text(text, encoding="utf-8")
    words = ("plan", book, "--date", DAY, "--out", here / "day", "--engine", "nearest-fit")
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return book


def full(least_ticks: int) -> None:
    """Days of all trucks, one after another, until so many ticks have arrived."""
    done = lost = unanswered = restarts = seed = 0
    with chromium() as browser:
        while done < least_ticks:
            with tempfile.TemporaryDirectory() as folder:
                office = Office(office_with_a_plan(Path(folder)), DAY, random.Random(seed))
                for truck in office.phone.trucks():
                    page, heard = opened(browser, office, truck)
                    page.evaluate(COUNT_TICKS)

                    def between(page: Page = page, office: Office = office) -> None:
                        page.evaluate("dispatchEvent(new Event('online'))")
                        if office.dice.random() < 0.2:
                            page.reload()
                            page.evaluate(COUNT_TICKS)

                    walk(page, between)
                    all_sent(page)
                    assert heard == [], heard
                    if not seed:
                        open_to_all(page)
                    made = set(page.evaluate("sessionStorage.getItem('made')").split())
                    arrived = [row.rpartition(" ")[2] for row in office.ticks()]
                    assert len(arrived) == len(set(arrived))
                    assert made <= set(arrived), made - set(arrived)
                    page.close()
                done += len(office.ticks())
                waits = office.phone.waiting()
                assert not any(truck.lacking for truck in waits), waits
                lost, unanswered = lost + office.lost, unanswered + office.unanswered
                restarts, seed = restarts + office.restarts, seed + 1
    print(f"{done} ticks, each arrived once: {seed} days, {lost} messages lost, {unanswered}")
    print(f"answers lost, {restarts} restarts of the office")


def open_to_all(page: Page) -> None:
    """axe-core 4 finds nothing on any screen."""
    for screen in page.eval_on_selector_all(".screen", "all => all.map(one => one.id)"):
        page.evaluate("id => { location.hash = id }", screen)
        assert violations(page) == [], screen


COUNT_TICKS = """() => {
    sessionStorage.setItem('made', sessionStorage.getItem('made') ?? '');
    document.addEventListener('changed', () => {
        const kept = JSON.parse(Object.values(localStorage)[0]).outbox.map(one => one.id);
        const made = new Set(sessionStorage.getItem('made').split(' ').filter(Boolean));
        sessionStorage.setItem('made', [...made, ...kept.filter(id => !made.has(id))].join(' '));
    });
}"""
"""Every id that the page ever had to send, so that none is missed."""


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("--ticks", type=int, default=300)
    full(options.parse_args().ticks)
