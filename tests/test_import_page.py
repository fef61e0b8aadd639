"""An export brought in on the page, as `planner import` brings it in: read, decided, written, taken
back; the calendar laid, asked and called from; both in a browser, by keyboard and at every size."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from planner.cli.main import main
from planner.day.life import brief_day
from planner.importing.mapping_text import decided, mapping_lines, with_open
from planner.kept_home import calendar_path
from planner.office.cures import Places
from planner.office.imports import Imports
from planner.office.runs import Run
from planner.office.weeks import Weeks
from planner.records.calls import CALLED
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.serve.answers import Hub
from planner.serve.guard import MOST_FILE, Keys
from planner.serve.later import Desk, desks_of
from planner.serve.run import HERE, OfficeSite
from planner.serve.runs import WeeksDesk
from planner.serve.tables import ImportDesk
from planner.tables.starter import starter_files
from planner.weeks.model import read_calendar
from tests import odd_export
from tests.browser import chromium, needs_browser, violations
from tests.test_import_walk import ANSWERS, TOWN
from tests.test_table_pages import ADDRESS, OWN, no_day, opened
from tests.test_table_pages_browser import site_of

MONDAY = date(2027, 5, 3)
EXPORT = odd_export.text().encode("cp1252")
GIVEN = {
    "Cell": "614",
    "Grub Shield": "INSECT",
    "Fungus + Green": "DISEASE | GREEN",
    "orders.due_from": "2027-04-14",
    "see map": "8,000",
}
"""ANSWERS as they are typed on the page."""


@pytest.fixture
def spring(tmp_path: Path) -> Path:
    """The demo company without customers."""
    book = tmp_path / "spring"
    shutil.copytree(odd_export.DEMO, book)
    for table in ("properties", "orders", "history"):
        file = book / f"{table}.csv"
        file.write_text(file.read_text().splitlines()[0] + "\n")
    (book / "planner.toml").write_text(f'roads = "{TOWN}"\n')
    return book


class Told:
    """A run in this process with the quick engine, told as one in a process of its own."""

    def __init__(self, weeks: Weeks) -> None:
        self.weeks, self.words = weeks, [""]

    def __call__(
        self, name: str, words: Sequence[str], ended: Callable[[str], None] = lambda _: None
    ) -> Run:
        self.words = [*words]
        quick = ["--engine", "nearest-fit", "--effort", "20"] if words[0] == "weeks" else []
        self.weeks.run._tell(Run(name, True))
        done = CliRunner().invoke(main, [*words, *quick])
        assert done.exit_code in (0, 3), done.output
        ended(done.stdout)
        self.weeks.run._tell(Run(name, False, 1.0, "finished", True))
        return Run(name, True)


@pytest.fixture
def weeks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Weeks:
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))
    book = tmp_path / "office"
    book.mkdir()
    for name, text in starter_files(MONDAY).items():
        if name != "weather.csv":
            (book / name).write_text(text, encoding="utf-8")
    found = Weeks(book, None, MONDAY)
    monkeypatch.setattr(found.run, "start", Told(found))
    return found


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Callable[..., TestClient]]:
    made: list[OfficeSite] = []

    def client(book: Path, **more: Callable[[Hub], Desk]) -> TestClient:
        keys = Keys(b"secret")
        tables = opened(book, tmp_path)
        desks = desks_of(tables, book) | more
        site = OfficeSite(no_day, tables, desks, keys, "planner-test", HERE)
        made.append(site)
        one = TestClient(site, base_url=ADDRESS)
        assert one.get(f"/open/{keys.new_link()}").status_code == 200
        return one

    yield client
    for site in made:
        site.tables.settled()
        site.close()


def test_a_mapping_is_decided_line_by_line_and_nothing_else_in_it_changes() -> None:
    text = (
        '# what\n[columns]\n"Cell"  = "?"  # 555-0100; "x" = 1\n'
        '"Town" = ["properties.town", "properties.zip"]\n\n[dates]\nyear = "?"\n[words."A [b]"]\n'
        '"see \\"map\\"" = "?"\r\nodd = [\n  1]\n'
    )
    rows = mapping_lines(text)
    assert [(one.part, one.of, one.key, one.value) for one in rows] == [
        ("columns", "", "Cell", "?"),
        ("columns", "", "Town", "properties.town | properties.zip"),
        ("dates", "", "year", "?"),
        ("words", "A [b]", 'see "map"', "?"),
    ]
    assert [one.is_open for one in rows] == [True, False, True, True]
    assert decided(text, {}) == text
    new = decided(text, {rows[0].number: "614", rows[2].number: "2027", rows[3].number: "8,000"})
    assert new.split("\n")[2] == '"Cell"  = "614"  # 555-0100; "x" = 1'
    assert "\nyear = 2027\n" in new
    assert '"see \\"map\\"" = "8,000"\r\n' in new
    assert with_open("[services]\n", "services", ["Lime"]) == '[services]\n"Lime" = "?"\n'


def test_an_export_is_read_decided_written_and_taken_back(
    spring: Path, page: Callable[..., TestClient], tmp_path: Path
) -> None:
    imports = Imports(spring)
    client = page(spring, **{"import": lambda _hub: ImportDesk(imports)})
    assert client.get("/import").status_code == 200
    assert client.post("/import/file?name=a.csv", content=EXPORT).status_code == 403
    read = client.post("/import/file?name=customers.csv", content=EXPORT, headers=OWN)
    assert "5 to be decided" in read.json()["html"].replace("</b>", "")
    alone = tmp_path / "alone" / "spring"
    shutil.copytree(spring, alone, ignore=shutil.ignore_patterns("import*"))
    export = tmp_path / "customers.csv"
    export.write_bytes(EXPORT)
    CliRunner().invoke(main, ["import", str(alone), str(export)])
    assert (spring / "import.toml").read_bytes() == (alone / "import.toml").read_bytes()

    values = {str(one.number): GIVEN[one.key] for one in imports.state().lines if one.is_open}
    answer = client.post("/import/mapping", json={"values": values}, headers=OWN)
    assert "New properties (57)" in answer.json()["html"]
    text = (alone / "import.toml").read_text()
    for was, now in ANSWERS.items():
        text = text.replace(was, now)
    (alone / "import.toml").write_text(text)
    assert (spring / "import.toml").read_text() == text

    before = {file.name: file.read_bytes() for file in spring.iterdir()}
    assert client.post("/import/write", json={}, headers=OWN).json()["say"].startswith("Written")
    assert CliRunner().invoke(main, ["import", str(alone), str(export)]).exit_code == 0
    for name in ("properties.csv", "orders.csv", "import-memory.json"):
        assert (spring / name).read_bytes() == (alone / name).read_bytes(), name
    assert "Nothing changes" in client.post("/import/write", json={}, headers=OWN).json()["say"]
    found = [one for one in Places(spring, None).locate() if one.table == "properties"]
    assert len(found) == 57
    assert client.post("/import/undo", json={}, headers=OWN).json()["say"].startswith("Taken back")
    assert {file.name: file.read_bytes() for file in spring.iterdir()} == before
    assert client.post("/import/undo", json={}, headers=OWN).status_code == 422


def test_what_is_new_in_an_export_gets_its_line_and_files_that_are_none_are_refused(
    spring: Path, page: Callable[..., TestClient]
) -> None:
    imports = Imports(spring)
    client = page(spring, **{"import": lambda _hub: ImportDesk(imports)})
    for query, content in (
        ("name=customers.csv&mapping=../x.toml", EXPORT),
        ("name=customers.csv&mapping=planner.toml", EXPORT),
        ("name=&mapping=", EXPORT),
        ("name=x.xlsx", b"PK no"),
    ):
        answer = client.post(f"/import/file?{query}", content=content, headers=OWN)
        assert answer.status_code == 422, query
        assert answer.json()["say"]
    long = OWN | {"content-length": str(MOST_FILE + 1)}
    assert client.post("/import/file?name=a.csv", content=b"x", headers=long).status_code == 413
    client.post("/import/file?name=customers.csv", content=EXPORT, headers=OWN)
    text = (spring / "import.toml").read_text()
    text = re.sub(r'\n"Balance" = [^\n]*', "", text)
    client.post("/import/mapping", json={"values": {}, "text": text}, headers=OWN)
    assert imports.state().lacking == (("columns", "Balance"),)
    client.post("/import/mapping", json={"values": {}, "lacking": True}, headers=OWN)
    assert "Balance" in [one.key for one in imports.state().lines if one.is_open]
    assert imports.state().lacking == ()
    # A column that is taken for days only now asks how days are written.
    days = b"Client,Street,City,Turf Sq Ft,Due\nNew,12 Vista Trail,Alder Mills,6100,5/4/27\n"
    client.post("/import/file?name=days.csv&mapping=days.toml", content=days, headers=OWN)
    text = re.sub(r'\norder = [^\n]*|"Due" = [^\n]*', "", (spring / "days.toml").read_text())
    text = text.replace("[columns]\n", '[columns]\n"Due" = "orders.date"\n')
    client.post("/import/mapping", json={"values": {}, "text": text}, headers=OWN)
    assert imports.state().lacking == (("dates", "order"),)
    shown = client.get("/import").text
    problems = html.unescape(shown[shown.index("What is wrong") :])
    assert "“How its days are written”" in problems
    assert "[dates]" not in problems, "the page knows no parts of a file"
    wrong = text.replace('"orders.date"', '"orders.nothing"')
    client.post("/import/mapping", json={"values": {}, "text": wrong}, headers=OWN)
    shown = client.get("/import").text
    problems = shown[shown.index("What is wrong") : shown.index("What would change")]
    assert "step 2 above, what the columns are" in problems
    assert "days.toml" not in problems, "nor the file itself"
    client.post("/import/mapping", json={"values": {}, "text": text}, headers=OWN)
    client.post("/import/mapping", json={"values": {}, "lacking": True}, headers=OWN)
    assert ("dates", "order") in [(one.part, one.key) for one in imports.state().lines]
    wrong = {"values": {"a": 1}}
    assert client.post("/import/mapping", json=wrong, headers=OWN).status_code == 400
    assert client.get("/import").status_code == 200


def test_days_are_laid_rain_is_asked_about_and_calls_are_recorded(
    weeks: Weeks, page: Callable[..., TestClient]
) -> None:
    client = page(weeks.workbook, weeks=lambda hub: WeeksDesk(weeks, hub))
    assert "No calendar yet" in client.get("/weeks").text
    assert client.get("/weeks/sheet").status_code == 404
    for body in ({"days": "0"}, {"days": "3", "from": "someday"}):
        assert client.post("/weeks/lay", json=body, headers=OWN).status_code == 422
    body = {"days": "3", "from": MONDAY.isoformat()}
    assert client.post("/weeks/lay", json=body, headers=OWN).json()["running"] is True
    calendar = read_calendar(calendar_path(weeks.workbook))
    assert calendar is not None
    assert "To call" in client.get("/weeks").text
    assert "3 working days" in client.get("/weeks/sheet").text
    assert "sandbox" in client.get("/weeks/sheet").headers["content-security-policy"]
    assert client.get("/weeks/files/weeks.csv").text.startswith('\ufeff"order",')
    assert client.get("/weeks/files/office.sqlite").status_code == 404

    asked = calendar.shares[0].date
    for body in ({"wet": "2027-01-01"}, {"without": "T9@2027-05-03"}, {}):
        assert client.post("/weeks/ask", json=body, headers=OWN).status_code == 422
    client.post("/weeks/ask", json={"wet": asked}, headers=OWN)
    assert weeks.asked is not None
    assert all(row[0] == asked for row in weeks.asked.moved)
    away = (weeks.asked.moved, weeks.asked.without, weeks.asked.put_off)
    assert sum(map(len, away)) >= len(calendar.on(MONDAY)[0].orders)
    row = ("", calendar.days[1], "Vesper Farm", "9001", False, False)
    lost = ("Ada Pell", "9002", "hail"), ("Bo Pell", "9003", "after the last day")
    # Its costs in the command's words, lateness included.
    words = ["weeks", str(weeks.workbook), "--wet", asked, "--engine", "nearest-fit"]
    printed = " ".join(CliRunner().invoke(main, [*words, "--effort", "20"]).stdout.split())
    assert f"more late; {weeks.asked.costs}." in printed
    assert "lateness by priority, and the chance of it, counts for $" in weeks.asked.costs
    assert f"{weeks.asked.costs}." in client.get("/weeks/panel").json()["html"]
    weeks.asked = replace(weeks.asked, moved=(row,), without=lost[:1], put_off=lost[1:], late=0)
    answer = re.sub(r"<[^>]+>", "", client.get("/weeks/panel").json()["html"])
    assert f"had no day → {brief_day(calendar.days[1])}: Vesper Farm (9001)" in answer
    assert "No later day: Ada Pell (9002): hail" in answer
    assert "After the last day: Bo Pell (9003)" in answer
    assert "0 orders on another day, 1 without a later day, 0 more late" in answer
    weeks.asked = replace(
        weeks.asked, instead=((asked, "truck-2", "Ada Pell", "9002"), (asked, "truck-2", "B", "9"))
    )
    answer = re.sub(r"<[^>]+>", "", client.get("/weeks/panel").json()["html"])
    assert f"{brief_day(asked)}, with truck-2 instead: Ada Pell (9002), B (9)" in answer
    # Each order of a truck that stays home is told of, also one that keeps its day.
    said = weeks.asked
    share = calendar.shares[0]
    client.post("/weeks/ask", json={"without": f"{share.truck_id}@{asked}"}, headers=OWN)
    told = {row[3] for row in (*weeks.asked.moved, *weeks.asked.instead)}
    told |= {row[1] for row in (*weeks.asked.without, *weeks.asked.put_off)}
    assert {row.order_id for row in share.orders} <= told
    assert weeks.asked.instead, "the other truck has room that day"
    weeks.asked = said
    assert f"If {brief_day(asked)} is wet" in client.get("/weeks/panel").json()["html"]
    assert read_calendar(calendar_path(weeks.workbook)) == calendar, "it was only asked"

    now = weeks.standing()
    assert now is not None
    called = {"first": calendar.days[0], "calls": [0], "outcome": "no answer", "note": "try at six"}
    assert client.post("/weeks/called", json=called, headers=OWN).status_code == 200
    assert "no answer (" in (panel := client.get("/weeks/panel").json()["html"])
    assert "“try at six”" in panel
    again = weeks.standing()
    assert again is not None
    assert (len(again.calls), [one.outcome for one in again.attempts[0]]) == (
        len(now.calls),
        ["no answer"],
    )
    client.post("/weeks/called", json=called | {"outcome": "reached"}, headers=OWN)
    last = weeks.standing()
    assert last is not None
    assert len(last.calls) == len(now.calls) - 1
    name = now.calls[0].orders.split("; ")[0]
    assert last.calendar.told[name] == now.calls[0].date
    assert [row.told for one in last.calendar.shares for row in one.orders if row.order_id == name]
    with Store(store_path(weeks.workbook)) as store:
        kinds = [one.kind for one in store.events("2027-01-01", "2028", (CALLED,))]
    assert kinds, "as `planner record --calls` records them"
    for wrong in ({"outcome": "maybe"}, {"calls": [999]}, {"first": "2027-01-01"}):
        assert client.post("/weeks/called", json=called | wrong, headers=OWN).status_code == 422
    client.post("/weeks/ask", json={"wet": asked, "write": True}, headers=OWN)
    kept = read_calendar(calendar_path(weeks.workbook))
    assert kept is not None
    assert kept.wet == (asked,)
    assert kept.told, "who was told stays told"


@needs_browser
def test_both_pages_in_a_browser(spring: Path, weeks: Weeks, tmp_path: Path) -> None:
    export = tmp_path / "customers.csv"
    export.write_bytes(EXPORT)
    with (
        chromium() as browser,
        site_of(spring, tmp_path, weeks=lambda hub: WeeksDesk(weeks, hub)) as (site, address),
    ):
        page = browser.new_page(viewport={"width": 1300, "height": 768})
        page.set_default_timeout(30_000)
        heard: list[str] = []
        page.on("console", lambda one: heard.append(one.text))
        page.on("pageerror", lambda one: heard.append(str(one)))
        page.goto(f"{address}/open/{site.keys.new_link()}")
        page.goto(f"{address}/import")
        page.wait_for_selector('body[data-ready="1"]')
        page.set_input_files("[name=file]", export)
        page.focus("#i-take")
        page.keyboard.press("Enter")
        page.wait_for_selector("#i-map [aria-invalid]:focus")
        for width, height in ((1300, 768), (390, 844), (320, 640)):
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert violations(page) == [], width
        for row in page.query_selector_all("tr.lacks"):
            field = row.query_selector("select, input")
            assert field is not None
            field.fill(GIVEN[row.query_selector("th").inner_text()])  # type: ignore[union-attr]
        page.keyboard.press("Enter")
        page.wait_for_selector("#i-go:focus")
        assert violations(page) == []
        page.keyboard.press("Enter")
        page.wait_for_selector("#i-written:focus")
        assert violations(page) == []

        page.goto(f"{address}/weeks")
        page.wait_for_selector('body[data-ready="1"]')
        page.fill("#w-lay [name=days]", "3")
        page.keyboard.press("Enter")
        page.wait_for_selector("#w-calls")
        for width, height in ((320, 640), (1300, 768)):
            page.set_viewport_size({"width": width, "height": height})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert violations(page) == [], width
        page.select_option("[name=wet]", MONDAY.isoformat())
        page.focus("#w-question")
        page.keyboard.press("Enter")
        page.wait_for_selector("#w-answer:focus")
        assert violations(page) == []
        page.locator("#w-calls li [data-outcome='no answer']").first.focus()
        page.keyboard.press("Enter")
        page.wait_for_selector(".r-made")
        assert page.evaluate("document.activeElement.dataset.outcome") == "no answer"
        assert heard == []
        page.close()
