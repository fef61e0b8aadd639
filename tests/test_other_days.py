"""Days of one workbook beside each other under one server, each with its own journal and events."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from planner.cli.main import main
from planner.kept_home import calendar_path
from planner.office.open_day import SharedDay
from planner.office.opening import open_office, open_tables
from planner.serve import days
from planner.serve.guard import Keys
from planner.serve.later import desks_of
from planner.serve.run import HERE, OfficeSite
from planner.weeks.share import share_of
from tests.phone_walk import DAY, office_with_a_plan

BASE = "http://127.0.0.1"
OWN = {"origin": BASE}
TODAY = date.fromisoformat(DAY)


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return office_with_a_plan(tmp_path_factory.mktemp("days"))


@pytest.fixture
def book(printed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PLANNER_STATE_DIR", str(tmp_path / "state"))
    shutil.copytree(printed, tmp_path / "office")
    orders = tmp_path / "office" / "orders.csv"
    # Due for a week: each of these days may be opened.
    span = f",,{TODAY},{TODAY + timedelta(days=7)},"
    orders.write_text(orders.read_text().replace(f",{DAY},,,", span))
    return tmp_path / "office"


@pytest.fixture
def client(book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    # No process that plans: nothing here asks one.
    monkeypatch.setattr(SharedDay, "start_searcher", lambda _day: None)
    tables, keys = open_tables(book, TODAY), Keys(b"secret")

    def opened(when: date | None) -> SharedDay:
        return open_office(book, when or TODAY, None, None, tmp_path / f"out-{when or TODAY}")

    site = OfficeSite(opened, tables, desks_of(tables, book), keys, "planner-test", HERE)
    site.open()
    one = TestClient(site, base_url=BASE)
    assert one.get(f"/open/{keys.new_link()}").status_code == 200
    yield one
    site.close()


def test_another_day_is_opened_changed_and_kept_beside_the_first(client: TestClient) -> None:
    other = TODAY + timedelta(days=2)
    assert client.get(f"/day?date={other}").url.path == f"/day/{other}"
    page = client.get(f"/day/{other}").text
    assert f'data-day="/day/{other}"' in page
    # The day of the start answers by its date, too, and with its own plan.
    assert client.get(f"/day/{TODAY}").text == client.get("/day").text
    assert (paper := f"/day/{TODAY}/papers/map.html") in client.get("/day").text
    assert client.get(paper).status_code == 200
    parts = client.get(f"/day/{other}/parts").json()
    first = client.get("/day/parts").json()
    body = {"revision": parts["revision"], "change": {"kind": "draft_save", "name": "wet"}}
    done = client.post(f"/day/{other}/change", json=body, headers=OWN)
    assert done.status_code == 200, done.text
    assert done.json()["revision"] > parts["revision"]
    assert client.get("/day/parts").json()["revision"] == first["revision"], "a journal of its own"
    assert client.post(f"/day/{other}/change", json=body).status_code == 403
    assert client.get(f"/day/{TODAY}/phones").url.path == "/day/phones"
    assert f"--date {other}" in client.get(f"/day/{other}/phones").text


def test_a_day_that_was_closed_for_others_is_as_it_was_left(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(days, "MOST_OPEN", 1)
    one, two = TODAY + timedelta(days=1), TODAY + timedelta(days=2)
    revision = client.get(f"/day/{one}/parts").json()["revision"]
    body = {"revision": revision, "change": {"kind": "draft_save", "name": "mine"}}
    revision = client.post(f"/day/{one}/change", json=body, headers=OWN).json()["revision"]
    assert client.get(f"/day/{two}").status_code == 200
    assert client.get(f"/day/{one}/parts").json()["revision"] == revision
    assert "mine" in client.get(f"/day/{one}").text


def test_days_that_cannot_be_opened_are_told_in_words(client: TestClient) -> None:
    empty = client.get("/day/2019-01-02")
    assert empty.status_code == 404
    assert "No order is due on 2019-01-02" in empty.text
    assert re.search(r'href="/day/2\d{3}-\d\d-\d\d"', empty.text), "a way on"
    for none in ("/day/2027-13-01", "/day/tomorrow"):
        assert client.get(none).status_code == 404
    stranger = TestClient(client.app, base_url=BASE)
    assert stranger.get(f"/day/{TODAY + timedelta(days=1)}").status_code == 401


def test_a_day_that_nobody_planned_begins_with_its_share_of_the_calendar(
    client: TestClient, book: Path
) -> None:
    """As `planner plan` does: what customers were told for later days is none of this one's."""
    when = TODAY + timedelta(days=3)

    def shown() -> tuple[str, int]:
        page = client.get(f"/day/{when}").text
        found = re.search(r"([0-9]+)</b>\s*(?:<b>)?not in this day", page)
        assert found, page
        return page, int(found[1])

    page, every = shown()
    assert "has for later days" not in page
    words = ("weeks", book, "--from", when, "--days", 4, "--engine", "nearest-fit", "--effort", 3)
    told = CliRunner().invoke(main, [str(word) for word in words])
    assert told.exit_code in (0, 3), told.output
    calendar = json.loads(calendar_path(book).read_text())
    rows = [row for share in calendar["shares"] for row in share["orders"]]
    first = {**calendar["shares"][0], "date": str(when), "orders": rows[:1]}
    later = {**first, "date": calendar["days"][-1], "orders": rows[1:]}
    calendar_path(book).write_text(json.dumps(calendar | {"shares": [first, later]}))
    page, mine = shown()
    assert mine == every - len(rows[1:])
    assert f"without {len(rows[1:])} that the calendar has for later days" in page
    share = share_of(book, when)
    assert share is not None
    assert len(share.later) == len(rows[1:])
    # Laid anew: the day takes what lies on it by then, as long as nothing is planned on it.
    calendar_path(book).unlink()
    assert shown()[1] == every
