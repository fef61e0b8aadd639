"""The office's server, asked in this process; the day behind it, killed in another.

1,000 moves and 100 kills: `python -m tests.bench.bench_page`.
"""

from __future__ import annotations

import os
import random
import re
import shlex
import shutil
import signal
import ssl
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from http.client import HTTPSConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from starlette.testclient import TestClient

from planner.by_hand.sheet import rows_of_plan, rows_of_sheet, stop_order_sheet
from planner.changing import ReadyDay
from planner.day.life import NoRecord, brief_day, day_text
from planner.day_roads import DayRoads
from planner.office.day import DayState, Offer, Searching
from planner.office.facts import Made
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.opening import empty_plan
from planner.office.planning import WARM_SHARE, Rest
from planner.office.ready import OfficeDay
from planner.pages import day_page as pages
from planner.plan.document import from_json, to_json
from planner.plan.keep import trucks_of
from planner.plan.model import Plan
from planner.roads.open import StraightLineRoads
from planner.routing.problem import StopToken
from planner.serve.answers import Hub
from planner.serve.app import Office, Pieces, _search, application
from planner.serve.guard import MOST_BODY, Keys
from planner.serve.run import HERE, ServeError, bound, checked_certificate, why_not_trusted
from tests.bad_workbooks import BASE as BOOK
from tests.office_changes import kept_line, some_change, tried
from tests.office_server import straight_day
from tests.random_days import straight_travel
from tests.sample_plan import sample_day

BASE = "http://127.0.0.1"
OWN = {"origin": BASE}


@pytest.fixture
def day(tmp_path: Path) -> Iterator[SharedDay]:
    opened = straight_day(sample_day(), tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def office(day: SharedDay) -> Office:
    return Office(day, Keys(day.secret), Hub(), "planner-test")


@pytest.fixture
def page(office: Office) -> TestClient:
    """A browser whose link was opened."""
    client = TestClient(application(office, HERE), base_url=BASE)
    assert client.get(f"/open/{office.keys.new_link()}").status_code == 200
    return client


def change(page: TestClient, revision: int, **what: Any) -> Any:
    return page.post("/day/change", json={"revision": revision, "change": what}, headers=OWN)


def an_order(state: DayState) -> tuple[str, str]:
    truck = next(truck for truck in state.trucks if truck.orders > 1)
    return next(item.what for item in truck.items if item.kind == "order"), truck.truck_id


def as_the_command_reckons(day: SharedDay, before: Plan, after: Plan, folder: Path) -> str:
    """The plan of `planner packet BEFORE --stops` with the sheet of the plan after."""
    office_day = day.state.planned.day
    sheet = folder / "stop-order.csv"
    sheet.write_text(stop_order_sheet(after, office_day), encoding="utf-8")
    rows, problems = rows_of_sheet(sheet)
    assert problems == []
    roads = day.state.planned.roads
    earlier = from_json(to_json(before))
    ready = ReadyDay(office_day, roads.travel_by_truck, roads.source, earlier)
    return to_json(ready.change(rows, earlier).plan)


def test_changes_are_those_of_the_command_line_to_the_byte(day: SharedDay, tmp_path: Path) -> None:
    rng = random.Random("page against command")
    made = 0
    while made < 20:
        before = day.state.planned.plan
        what = some_change(day.state, rng)
        if what["kind"] in ("undo", "redo") or not tried(day, what):
            continue
        after = day.state.planned.plan
        assert as_the_command_reckons(day, before, after, tmp_path) == to_json(after), what
        made += 1


def test_a_change_is_answered_with_what_is_other(page: TestClient, day: SharedDay) -> None:
    state = day.state
    order, truck = an_order(state)
    answer = change(page, state.revision, kind="remove", orders=[order])
    assert answer.status_code == 200
    told = answer.json()
    number = [row.truck_id for row in state.trucks].index(truck) + 1
    assert told["revision"] == state.revision + 1 == day.state.revision
    sheets = {name for name in told["parts"] if name.startswith("sheet-")}
    assert sheets == {f"sheet-{number}"}
    assert told["say"].startswith(f"Order {order} out of the day.")
    assert len(answer.content) < 40_000


def test_rows_that_stay_are_named_and_the_page_is_whole_all_the_same(day: SharedDay) -> None:
    """A page that puts its own rows where they are only named holds what a new page holds."""
    rng, pieces, named = random.Random("rows that stay"), Pieces(), 0
    shown = pieces.answer(day.state, None, None, "")["parts"]
    row = re.compile(r'<(tr|article) [^>]*data-key="([^"]*)".*?</\1>', re.DOTALL)
    place = re.compile(r'<(\w+) data-same="([^"]*)"></\1>')
    for _ in range(15):
        since = day.state.revision
        if not tried(day, some_change(day.state, rng)):
            continue
        told = pieces.answer(day.state, since, None, "")
        assert told["since"] == since
        for name, made in told["parts"].items():
            had = {one[2]: one[0] for one in row.finditer(shown.get(name, ""))}
            named += len(place.findall(made))
            shown[name] = place.sub(lambda one, had=had: had[one[2]], made)
        assert shown == Pieces().answer(day.state, None, None, "")["parts"]
    assert named > 50


def test_a_stale_change_is_not_made_and_the_page_is_brought_up_to_date(
    page: TestClient, day: SharedDay
) -> None:
    """Two editors of the same revision: the second one's change is not made, nothing is lost."""
    first = day.state.revision
    order, _ = an_order(day.state)
    assert change(page, first, kind="remove", orders=[order]).status_code == 200
    late = change(page, first, kind="truck_out", truck=day.state.trucks[0].truck_id)
    assert late.status_code == 409
    assert late.json()["revision"] == first + 1
    assert late.json()["parts"]
    assert not any(truck.out for truck in day.state.trucks)


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ({"kind": "move", "orders": ["no such"], "truck": "T1"}, "not among those due"),
        ({"kind": "fly"}, "no change 'fly'"),
        ({"kind": "undo"}, "nothing to undo"),
        ({"kind": "refill_delete", "truck": "T1", "item": "refill 99"}, "has no refill 99"),
        ({"kind": "draft_open", "name": "nowhere"}, "no draft 'nowhere'"),
        ({"kind": "lunch_move", "truck": "T1", "gap": -1}, "no gap -1"),
        ({"kind": "take", "offer": 1}, "no such plan"),
    ],
)
def test_what_cannot_be_done_is_said(
    page: TestClient, day: SharedDay, what: dict[str, Any], words: str
) -> None:
    if "truck" in what:
        what = what | {"truck": day.state.trucks[0].truck_id}
    before = day.state
    answer = change(page, before.revision, **what)
    assert answer.status_code == 422
    assert words in answer.json()["say"]
    assert day.state is before


def test_every_truck_answers_and_keeps_its_word(page: TestClient, day: SharedDay) -> None:
    """The price of the best gap is what the change then costs, and the audit finds nothing new."""
    before = day.state
    broken = len(before.planned.violations)
    tested = 0
    for order in list(before.planned.day.orders)[:6]:
        asked = day.ask(day.state.revision, [order])
        for answer in asked.trucks:
            if answer.best is None:
                assert answer.why_not
                continue
            load = next(iter(answer.loads), None)
            to = {"truck": answer.truck_id, "gap": answer.best.gap, "compartment": load}
            after = day.change(day.state.revision, {"kind": "move", "orders": [order], **to})
            assert after.cost_change == pytest.approx(answer.best.price, abs=0.005)
            assert len(after.planned.violations) <= broken
            assert after.truck(answer.truck_id).home_min == pytest.approx(answer.best.home_min)
            day.change(after.revision, {"kind": "undo"})
            tested += 1
    assert tested > 5
    # Where its own truck breaks a rule with it, the best gap is one that mends, not where it is.
    order, truck = an_order(day.state)
    gaps = next(row for row in day.ask(day.state.revision, [order]).trucks if row.truck_id == truck)
    bad = next(gap.gap for gap in gaps.gaps if gap.why_not)
    to = {"kind": "move", "orders": [order], "truck": truck}
    after = day.change(day.state.revision, {**to, "gap": bad})
    asked = day.ask(after.revision, [order])
    best = next(row.best for row in asked.trucks if row.truck_id == truck)
    assert best is not None
    assert best.mends
    mended = day.change(after.revision, {**to, "gap": best.gap})
    assert len(mended.planned.violations) < len(after.planned.violations)
    order, _ = an_order(day.state)
    asked_body = {"revision": day.state.revision, "lift": [order]}
    assert page.post("/day/ask", json=asked_body, headers=OWN).status_code == 200


def test_undo_and_redo_have_no_end_and_drafts_stay_apart(day: SharedDay) -> None:
    def plan() -> str:
        return to_json(day.state.planned.plan)

    def do(**what: Any) -> None:
        day.change(day.state.revision, what)

    seen = [plan()]
    for order in list(day.state.truck_of)[:5]:
        do(kind="remove", orders=[order])
        seen.append(plan())
    for expected in reversed(seen[:-1]):
        do(kind="undo")
        assert plan() == expected
    assert day.state.undo == ""
    for expected in seen[1:]:
        do(kind="redo")
        assert plan() == expected
    assert day.state.redo == ""
    do(kind="draft_save", name="B")
    order, _ = an_order(day.state)
    do(kind="pin", orders=[order])
    assert day.state.planned.plan.pinned == (order,)
    do(kind="draft_open", name="the plan")
    assert (plan(), day.state.draft) == (seen[-1], "the plan")
    assert [row.name for row in day.state.drafts] == ["the plan", "B"]
    do(kind="undo")
    assert plan() == seen[-2]


def test_a_day_is_opened_where_it_was_left(tmp_path: Path) -> None:
    day = straight_day(sample_day(), tmp_path)
    rng = random.Random("left and opened")
    lines = [kept_line(day)]
    for _ in range(12):
        if tried(day, some_change(day.state, rng)):
            lines.append(kept_line(day))
    tried(day, {"kind": "draft_save", "name": "B"})
    left, undo, redo = kept_line(day), day.state.undo, day.state.redo
    day.close()
    day = straight_day(sample_day(), tmp_path)
    assert (kept_line(day), day.state.undo, day.state.redo) == (left, undo, redo)
    assert day.state.draft == "B"
    while tried(day, {"kind": "undo"}):
        pass
    assert kept_line(day).split()[1] == lines[0].split()[1]
    day.close()


def test_a_plan_made_elsewhere_since_is_opened_and_undo_leads_back(tmp_path: Path) -> None:
    """Who plans the day again by the command finds that plan on the page, not the one before."""
    day = straight_day(sample_day(), tmp_path)
    order, truck = an_order(day.state)
    out = day.change(0, {"kind": "remove", "orders": [order]})
    elsewhere, before = out.planned.plan, sample_day()
    assert tried(day, {"kind": "undo"})
    left = kept_line(day).split()[1]
    roads, journal = day.state.planned.roads, tmp_path / "journal.sqlite"
    day.close()

    def opened(plan: Plan) -> SharedDay:
        return SharedDay(OfficeDay(before, roads, plan), Journal(journal), tmp_path)

    # The page made that plan itself: the day goes on where it was left, although it is printed.
    day = opened(elsewhere)
    assert kept_line(day).split()[1] == left
    assert not day.state.notes
    tried(day, {"kind": "remove", "orders": [order]})
    row = next(row for row in day.state.trucks if row.truck_id != truck and row.orders)
    other = next(item.what for item in row.items if item.kind == "order")
    here = kept_line(day).split()[1]
    ready = ReadyDay(before, roads.travel_by_truck, roads.source, elsewhere)
    rows = [row for row in rows_of_plan(elsewhere) if row.what != other]
    theirs = ready.change(rows, elsewhere).plan
    day.close()
    day = opened(theirs)
    assert to_json(day.state.planned.plan) == to_json(theirs)
    assert [text for text in day.state.notes if "made elsewhere" in text]
    shown = pages.day_parts(day.state)["notright"].make()
    assert "made elsewhere" in shown
    assert "Undo" in shown
    tried(day, {"kind": "undo"})
    assert kept_line(day).split()[1] == here
    day.close()
    # Said once: from then on the day knows that plan.
    day = opened(theirs)
    assert kept_line(day).split()[1] == here
    assert not day.state.notes
    day.close()


def test_the_page_says_which_earlier_day_has_no_record(tmp_path: Path) -> None:
    """Whoever plans tomorrow while today is out sees why today's orders are there once more."""
    one = sample_day()
    earlier = NoRecord(one.date - timedelta(days=1), ("1", "2"), 5)
    day = straight_day(replace(one, no_record=(earlier,)), tmp_path)
    shown = pages.day_parts(day.state)["notright"].make()
    assert "have no record" in shown
    assert f"/records?date={earlier.day}" in shown
    day.close()
    # Two weeks without records are one line, with a link to each day that had a plan.
    many = [NoRecord(one.date - timedelta(days=back), ("1", "2"), 5) for back in range(14, 0, -1)]
    late = NoRecord(one.date - timedelta(days=3), ("9",))
    day = straight_day(replace(one, no_record=(*many, late)), tmp_path)
    shown = pages.day_parts(day.state)["notright"].make()
    day.close()
    (line,) = [row for row in shown.splitlines() if "have no record" in row]
    assert f"28 of 70 orders planned from {day_text(many[0].day)}" in line
    assert [f"/records?date={row.day}" in line for row in many] == 14 * [True]
    assert f"{brief_day(many[0].day.isoformat())}: 2</a>" in line
    (other,) = [row for row in shown.splitlines() if "in no plan" in row]
    assert "/records" not in other


def test_the_page_says_why_a_truck_has_no_stall(tmp_path: Path) -> None:
    """A license that ends today takes the truck from tomorrow's page: not without a word."""
    one = replace(sample_day(), barred={"T9": "the license of A. B. ran out on Mon 2027-05-03"})
    day = straight_day(one, tmp_path)
    shown = pages.day_parts(day.state)["notright"].make()
    day.close()
    assert "T9 stays in the yard: the license of A. B. ran out on Mon 2027-05-03" in shown


def test_a_kill_loses_no_change_that_was_answered(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.office_changes", str(tmp_path), "kill"]
    root = Path(__file__).resolve().parents[1]
    writer = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=root)
    assert writer.stdout is not None
    answered = [writer.stdout.readline() for _ in range(15)]
    os.kill(writer.pid, signal.SIGKILL)
    answered += writer.stdout.readlines()
    writer.wait()
    whole = [line for line in answered if line.endswith("\n")]
    day = straight_day(sample_day(), tmp_path)
    revision, sha = whole[-1].split()
    # One more may have been kept than could be said.
    assert int(revision) <= day.state.revision <= int(revision) + 1
    if day.state.revision == int(revision):
        assert kept_line(day).split()[1] == sha
    day.close()


def test_a_day_that_nobody_planned_begins_empty_and_keeps_every_rule(tmp_path: Path) -> None:
    day = sample_day()
    roads = DayRoads(StraightLineRoads(1.3, 26.0), straight_travel(day), {}, ())
    ready = OfficeDay(day, roads, empty_plan(day, roads))
    opened = SharedDay(ready, Journal(tmp_path / "journal.sqlite"), tmp_path)
    assert opened.state.planned.violations == ()
    assert opened.state.cost == 0.0
    shown = {name: part.make() for name, part in pages.day_parts(opened.state).items()}
    assert "Plan the day" in shown["acts"]
    assert 'aria-disabled="true"' in shown["acts"].split('id="open-print"')[0].split("<button")[-1]
    assert "nothing to print" in shown["print"]
    order = next(row.order_id for row in opened.state.planned.plan.unserved)
    best = next(row for row in opened.ask(0, [order]).trucks if row.best is not None)
    load = next(iter(best.loads))
    what = {"orders": [order], "truck": best.truck_id, "gap": 0, "compartment": load}
    moved = opened.change(0, {"kind": "move", **what})
    assert moved.planned.violations == ()
    shown = {name: part.make() for name, part in pages.day_parts(moved).items()}
    assert "Print" in shown["acts"]
    assert not any(">new<" in text or "since opened" in text for text in shown.values())
    opened.close()


def test_planning_the_rest_begins_with_the_plan_and_is_never_worse(day: SharedDay) -> None:
    """Around a pin; what begins with nothing is the engine's, tested there."""
    first = day.state
    pinned, truck = an_order(first)
    gone = [name for name in first.truck_of if name != pinned][:2]
    day.change(first.revision, {"kind": "pin", "orders": [pinned]})
    state = day.change(day.state.revision, {"kind": "remove", "orders": gone})
    assert not state.planned.violations
    roads, stop, found = state.planned.roads, StopToken(), []
    ready = ReadyDay(state.planned.day, roads.travel_by_truck, roads.source, first.opened)

    def progress(share: float, _text: str) -> None:
        if share >= WARM_SHARE:
            stop.set()

    made = Made(state.planned.plan, state.planned.violations, ())
    without = Rest(ready, replace(made, trucks_out=(truck,)), 10, progress, stop, found.append)
    assert truck not in [one.truck_id for one in without.problem.trucks]
    rest = Rest(ready, made, 10, progress, stop, found.append)
    before = rest.price(state.planned.plan)
    after = rest.run(1)
    assert found, "what was taken out has room"
    prices = [one.price for one in found]
    assert prices == sorted(prices, reverse=True)
    assert after == prices[-1] < before
    for one in found:
        assert ready.audit(one.plan) == ()
        assert trucks_of(one.plan)[pinned] == truck


# ---- who may ask what


def test_a_search_that_a_change_cut_off_offers_nothing(day: SharedDay) -> None:
    state = day.state
    offers = tuple(
        Offer(number, revision, state.planned.plan, -1.0, "T1 goes first")
        for number, revision in ((1, state.revision - 1), (2, state.revision))
    )
    for found, text in ((offers[:1], "cut off by a change"), (offers[1:], "a better plan")):
        ended = Searching(False, 1.0, "a better plan was found", found)
        told = _search(replace(state, searching=ended))
        assert text in told["text"]
        assert len(told["offers"]) == (found[0].revision == state.revision)


def test_a_day_never_printed_names_no_plan_before_it_and_guessed_roads_are_told(
    page: TestClient,
) -> None:
    text = page.get("/day").text
    assert "its sheets are marked as a draft." in text
    assert "show the one before" not in text
    assert "NO ROAD MAP: drive times are guessed from straight lines" in text


def test_a_link_opens_once_and_without_a_cookie_nothing_is_shown(office: Office) -> None:
    client = TestClient(application(office, HERE), base_url=BASE)
    for path in ("/day", "/day/events", "/day/papers/index.html", "/static/day.css", "/"):
        assert client.get(path, follow_redirects=False).status_code == 401
    key = office.keys.new_link()
    opened = client.get(f"/open/{key}", follow_redirects=False)
    assert opened.status_code == 303
    assert "httponly" in opened.headers["set-cookie"].lower()
    assert client.get("/day").status_code == 200
    again = client.get(f"/open/{key}", follow_redirects=False)
    assert again.headers["location"] == "/day", "who is in already comes in by an old link, too"
    stranger = TestClient(application(office, HERE), base_url=BASE)
    assert stranger.get(f"/open/{key}").status_code == 401
    stranger.cookies.set("planner-test", "guessed")
    assert stranger.get("/day").status_code == 401


def test_foreign_hosts_and_writes_from_other_sites_are_refused(
    page: TestClient, day: SharedDay
) -> None:
    before = day.state.revision
    assert page.get("/day", headers={"host": "evil.example"}).status_code == 400
    body = {"revision": before, "change": {"kind": "truck_out", "truck": "T1"}}
    for headers in ({}, {"origin": "http://evil.example"}, {"origin": "null"}):
        assert page.post("/day/change", json=body, headers=headers).status_code == 403
    assert day.state.revision == before


def test_bodies_are_limited_and_read_with_care(page: TestClient) -> None:
    headers = OWN | {"content-type": "application/json"}
    long = b"[" + b" " * MOST_BODY + b"]"
    assert page.post("/day/change", content=long, headers=headers).status_code == 413
    in_parts = (b" " * 65_536 for _ in range(8))
    assert page.post("/day/change", content=in_parts, headers=headers).status_code == 400
    for body in (b"", b"{", b"[]", b'{"revision": 0}', b'{"revision": "0", "change": {}}', b"\xff"):
        assert page.post("/day/change", content=body, headers=headers).status_code == 400


@pytest.mark.parametrize(
    "path",
    ["/static/../__init__.py", "/static/%2e%2e/__init__.py", "/day/papers/..%2f..%2fetc%2fpasswd"],
)
def test_nothing_beside_the_pages_own_files_is_served(page: TestClient, path: str) -> None:
    assert page.get(path).status_code in (404, 422)


def test_pages_allow_no_inline_script_and_no_foreign_source(page: TestClient) -> None:
    policy = page.get("/day").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


def test_a_trucks_key_opens_its_page_and_nothing_else(office: Office, day: SharedDay) -> None:
    """Nothing is printed of this day, so that a good key finds no page, in words of its own."""
    phone = TestClient(application(office, HERE), base_url=BASE)
    mine, other = (truck.truck_id for truck in day.state.trucks[:2])
    key = office.keys.truck(mine)
    good = phone.get(f"/truck/{mine}/{key}/")
    assert (good.status_code, "printed" in good.text) == (404, True)
    for path in (f"/truck/{other}/{key}/", f"/truck/{mine}/guessed/", f"/truck/{mine}/%00/"):
        bad = phone.get(path)
        assert (bad.status_code, bad.text) == (404, "There is no such page.")
    assert phone.get("/day").status_code == 401
    said = phone.post(f"/truck/{other}/{key}/say", json={"ticks": []}, headers=OWN)
    assert said.status_code == 404


def test_a_port_in_use_is_said_with_the_cure() -> None:
    with bound(0, False) as listening:
        port = listening.getsockname()[1]
        with pytest.raises(ServeError, match=f"port {port} is in use.*--port"):
            bound(port, False)


def test_https_with_the_offices_own_certificate(tmp_path: Path) -> None:
    """Python's own client and OpenSSL's certificate are the reference."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("no openssl on this machine")
    pem, key = tmp_path / "office.pem", tmp_path / "office.key"
    for file in (pem, key):
        with pytest.raises(ServeError, match="cannot be used for https"):
            checked_certificate(pem, file)
        file.write_text("no certificate")
    guide = (Path(__file__).parent.parent / "planner/docs/guide.md").read_text(encoding="utf-8")
    line = next(line for line in guide.splitlines() if line.startswith("    openssl req"))
    words = shlex.split(line.replace("192.168.1.20", "127.0.0.1"))[1:]
    subprocess.run([openssl, *words], check=True, capture_output=True, cwd=tmp_path)
    # What phones of one maker ask, or they do not open the page: Apple, "Requirements for trusted
    # certificates in iOS 13 and macOS 10.15", https://support.apple.com/en-us/103769, read
    # 2026-11-27: RSA of 2048 bits, SHA-2, the server's name in the Subject Alternative Name, the
    # extended key usage id-kp-serverAuth, 825 days or fewer.
    show = [openssl, "x509", "-in", str(pem), "-noout"]
    said = subprocess.run([*show, "-text"], check=True, capture_output=True, text=True).stdout
    for needed in ("sha256WithRSA", "2048 bit", "IP Address:127.0.0.1", "TLS Web Server Authent"):
        assert needed in said
    ends = subprocess.run([*show, "-checkend", str(825 * 86400)], capture_output=True, check=False)
    assert ends.returncode == 1
    assert checked_certificate(pem, key) == (pem, key)
    assert why_not_trusted(pem, key, "127.0.0.1") == ""
    assert "IP address mismatch" in why_not_trusted(pem, key, "192.168.1.20")
    assert "mismatch" in why_not_trusted(pem, key, "office.example")
    book = tmp_path / "book"
    shutil.copytree(BOOK, book)
    words = ["serve", str(book), "--date", "2027-04-14", "--port", "0"]
    words += ["--certificate", str(pem), "--key", str(key)]
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "planner", *words],
        cwd=tmp_path,
        env=os.environ | {"PLANNER_STATE_DIR": str(tmp_path / "state")},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert server.stdout is not None
        link = next(one[0] for line in server.stdout if (one := re.search(r"https\S+", line)))
        parts = urlsplit(link)
        trusted = ssl.create_default_context(cafile=pem)
        asked = HTTPSConnection("127.0.0.1", parts.port, context=trusted)
        asked.request("GET", parts.path)
        answer = asked.getresponse()
        assert answer.status == 303
        assert "secure" in answer.headers["set-cookie"].lower()
    finally:
        server.terminate()
        server.wait()
