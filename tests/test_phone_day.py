"""A starter day on its crews' phones: what is lost, sent twice or sent out of order arrives once,
over restarts; a newer plan is told, its pages and records go on."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from planner.cli.main import main
from planner.phone_day import PhoneDay
from planner.records.current import TICKED, current
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.records.ticks import TickError
from tests.browser import chromium, needs_browser
from tests.phone_walk import DAY, Office, all_sent, office_with_a_plan, opened, readings, walk

READ = {"wind_mph": 4.0, "wind_from": "SW", "temperature_f": 61.0, "sign": True, "notice": True}


def planner(*words: object) -> None:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The files of an office with a printed plan."""
    book = office_with_a_plan(tmp_path_factory.mktemp("phone"))
    return {file.name: file.read_bytes() for file in book.iterdir()}


@pytest.fixture
def book(office: Path) -> Path:
    return office


@pytest.fixture
def office(tmp_path: Path, printed: dict[str, bytes]) -> Path:
    folder = tmp_path / "office"
    folder.mkdir()
    for name, content in printed.items():
        (folder / name).write_bytes(content)
    return folder


def rows_on(page: str) -> list[dict[str, Any]]:
    text = page.partition('id="data">')[2].partition("</script>")[0]
    return list(json.loads(text)["rows"])


def day_of_ticks(phone: PhoneDay, truck: str) -> list[dict[str, Any]]:
    """What a crew that works as planned writes, a cell a tick."""
    page = phone.page(truck, "ticks")
    assert page is not None
    found: list[dict[str, Any]] = []
    minute = 420.0
    for row in rows_on(page):
        cells: dict[str, Any] = {"gal": row["gal"]}
        if row["what"] != "left":
            cells |= {"start": minute}
        if row["what"] == "spray":
            cells |= {"end": minute + 9, "arrived": minute} | READ
        if row["what"] == "fill":
            cells |= {"level": row["gal"]}
        if row["what"] != "left":
            cells |= {"done": True}
        minute += 10
        for name, value in cells.items():
            found.append(
                {
                    "id": f"{truck.encode().hex()}{len(found):016x}",
                    "at": "2027-05-03T12:00:00Z",
                    "plan": "abcd",
                    "truck": truck,
                    "order": "",
                    "compartment": "",
                    "cells": {name: value},
                }
                | {
                    key: row[key]
                    for key in ("what", "stop", "order", "compartment", "mix")
                    if key in row
                }
            )
    return found


def records(book: Path) -> dict[str, tuple[str, object]]:
    with Store(store_path(book)) as store:
        events = store.events(DAY, f"{DAY}~")
        assert store.damage() == ()
    told = (TICKED, "printed", "named", "planned")
    return {
        name: (row.kind, row.body) for name, row in current(events).items() if row.kind not in told
    }


def test_lost_doubled_and_shuffled_over_restarts_each_arrives_once(office: Path) -> None:
    """A phone sends until it is answered; the way there and the way back lose a third each, the
    server is started anew one time in eight."""
    dice = random.Random(16)
    phone = PhoneDay(office, DAY)
    trucks = phone.trucks()
    outbox = {truck: day_of_ticks(phone, truck) for truck in trucks}
    every = {tick["id"] for ticks in outbox.values() for tick in ticks}
    lost = doubled = restarts = 0
    while any(outbox.values()):
        truck = dice.choice([name for name, ticks in outbox.items() if ticks])
        message = {"plan": "abcd", "ticks": outbox[truck][: dice.randint(1, 9)]}
        if dice.random() < 1 / 8:
            phone, restarts = PhoneDay(office, DAY), restarts + 1
        if dice.random() < 1 / 3:
            lost += 1
            continue
        answer = phone.exchange(truck, message)
        if dice.random() < 1 / 3:
            doubled += 1
            continue
        kept = set(answer["kept"])
        outbox[truck] = [tick for tick in outbox[truck] if tick["id"] not in kept]
    assert min(lost, doubled, restarts) > 2
    with Store(store_path(office)) as store:
        subjects = [row.subject for row in store.events(DAY, f"{DAY}~", (TICKED,))]
    assert sorted(subjects) == sorted(f"{DAY} tick {name}" for name in every)
    found = records(office)
    rows = sum(len(rows_on(phone.page(truck, "ticks") or "")) for truck in trucks)
    assert len(found) == rows
    assert {kind for kind, _ in found.values()} == {"sprayed", "filled", "left"}
    seen = phone.waiting()
    assert all((truck.lacking, truck.recorded) == ((), truck.rows) for truck in seen), seen


def test_what_is_no_tick_is_refused_and_the_rest_kept(office: Path) -> None:
    phone = PhoneDay(office, DAY)
    truck = phone.trucks()[0]
    good, other, bad = day_of_ticks(phone, truck)[:3]
    answer = phone.exchange(
        truck, {"ticks": [good, other | {"truck": "T9"}, bad | {"cells": {"gal": "x"}}, 7]}
    )
    assert answer["kept"] == [good["id"]]
    assert [row["id"] for row in answer["refused"]] == [other["id"], bad["id"], ""]
    for message in ({}, {"ticks": "all"}, {"ticks": [good] * 501}):
        with pytest.raises(TickError):
            phone.exchange(truck, message)


def test_a_newer_plan_is_told_and_what_was_done_counts(office: Path, tmp_path: Path) -> None:
    phone = PhoneDay(office, DAY)
    truck = phone.trucks()[0]
    page = phone.page(truck, "ticks") or ""
    checksum = json.loads(page.partition('id="data">')[2].partition("</script>")[0])["plan"]
    ticks = day_of_ticks(phone, truck)
    # The first fill and the first order, and everything that they take.
    first = [tick for tick in ticks if tick["stop"] <= 1]
    answer = phone.exchange(truck, {"plan": checksum, "ticks": first})
    assert (answer["plan"]["checksum"], answer["plan"]["changes"]) == (checksum, ())
    done = {name for name in records(office) if " order " in name}
    assert done
    gone = next(row["order"] for row in rows_on(page) if row["what"] == "spray" and row["stop"] > 1)
    orders = (office / "orders.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    left = [line for line in orders if not line.startswith(f"{gone},")]
    (office / "orders.csv").write_text("".join(left), encoding="utf-8")
    planner("plan", office, "--date", DAY, "--out", tmp_path / "b", "--engine", "nearest-fit")
    answer = phone.exchange(truck, {"plan": checksum, "ticks": []})
    assert answer["plan"]["checksum"] not in ("", checksum)
    assert any("No longer on this truck" in text for text in answer["plan"]["changes"])
    assert done <= records(office).keys()
    assert set(answer["recorded"]) >= {f"spray {name.rpartition(' ')[2]}" for name in done}
    new = phone.page(truck, "ticks") or ""
    assert answer["plan"]["checksum"] in new


def test_tables_in_the_middle_of_a_change_stop_no_phone(office: Path) -> None:
    phone = PhoneDay(office, DAY)
    truck = phone.trucks()[0]
    ticks = day_of_ticks(phone, truck)
    (office / "mixes.csv").write_text("mix\n", encoding="utf-8")
    assert phone.exchange(truck, {"ticks": ticks[:2]})["kept"]


def test_without_a_plan_of_record_there_is_no_page(office: Path) -> None:
    (office / "records.sqlite").unlink()
    phone = PhoneDay(office, DAY)
    assert (phone.trucks(), phone.page("T1", "ticks"), phone.waiting()) == ((), None, ())


@needs_browser
def test_a_day_by_thumb_with_the_office_out_of_reach_arrives_once(book: Path) -> None:
    """Short of `python -m tests.phone_walk`, which goes on to 300 ticks."""
    office = Office(book, DAY, random.Random(4))
    (truck, *_) = office.phone.trucks()
    with chromium() as browser:
        page, heard = opened(browser, office, truck)
        walk(page, lambda: page.evaluate("dispatchEvent(new Event('online'))"), "dog on the lawn")
        all_sent(page)
        page.evaluate("location.hash = 'end'")
        assert page.inner_text("#end-h") == "The day is finished"
        # Another phone of the same truck finds everything as it was written.
        other, _ = opened(browser, office, truck)
        all_sent(other)
        other.evaluate("location.hash = 'end'")
        assert other.inner_text("#end-h") == "Everything is written"
        assert heard == []
    assert office.lost + office.unanswered > 0
    ticks = office.ticks()
    assert len(ticks) == len(set(ticks)) > 50
    found = records(book)
    rows = rows_on(office.phone.page(truck, "ticks") or "")
    assert len(found) == len(rows)
    skipped = [str(body) for kind, body in found.values() if kind == "skipped"]
    assert len(skipped) == 1
    assert "dog on the lawn" in skipped[0]


@needs_browser
def test_a_newer_plan_and_what_the_office_asks_are_shown(book: Path, tmp_path: Path) -> None:
    office = Office(book, DAY, random.Random(1), lossy=False)
    (truck, *_) = office.phone.trucks()
    rows = rows_on(office.phone.page(truck, "ticks") or "")
    gone = [row["order"] for row in rows if row["what"] == "spray"][-1]
    with chromium() as browser:
        page, heard = opened(browser, office, truck)
        page.click("text=Go to my stop >> visible=true")
        page.click("text=I am leaving >> visible=true")
        page.click(".shown [data-do=here]")
        readings(page)
        page.click(".shown [data-do=start]")
        page.click(".shown .on-spray .alike")
        page.click(".shown [data-do=done]")
        # It rose while they sprayed.
        page.click(".shown [data-do=change]")
        page.fill(".shown [data-column=wind_mph]", "60")
        page.click("text=That is right >> visible=true")
        all_sent(page)
        # Nothing was filled by the records, and the wind is over the label: the office asks.
        page.evaluate("location.hash = 'end'")
        asked = page.inner_text(".shown .missing")
        assert "First write the fill of" in asked
        assert "up to 10 mph" in asked or "up to 15 mph" in asked
        page.click(".shown .missing button:has-text('mph')")
        page.locator(".shown [data-column=sure][value=Yes]").check(force=True)
        page.fill(".shown [data-column=note]", "a gust")
        page.click("text=That is right >> visible=true")
        all_sent(page)
        assert "mph" not in page.inner_text("#end .missing")
        assert page.locator("#news").is_hidden()
        lines = (book / "orders.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [line for line in lines if not line.startswith(f"{gone},")]
        (book / "orders.csv").write_text("".join(kept), encoding="utf-8")
        planner("plan", book, "--date", DAY, "--out", tmp_path / "b", "--engine", "nearest-fit")
        page.evaluate("dispatchEvent(new Event('online'))")
        page.click("#news a")
        assert "No longer on this truck" in page.inner_text("#newer .changes")
        assert f"spray {gone}" in page.inner_html("#data")
        with page.expect_navigation():
            page.click(".shown [data-do=take]")
        assert page.locator("#news").is_hidden()
        page.evaluate("location.hash = 'stops'")
        assert f"spray {gone}" not in page.inner_html("#data")
        assert "✓" in page.inner_text("#stops")
        assert heard == []
