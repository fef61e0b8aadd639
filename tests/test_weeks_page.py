"""The page of the weeks, its call list and its calendar. Figures were worked by hand from the tiny
workbook's tables: 'feed' takes 2 gal/1,000 ft2 and 0.75 lb N/1,000 ft2 of a 28 % liquid of 10.65
lb/gal, so 0.75 / 0.28 / 10.65 = 0.25151 gal of it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from pathlib import Path

import icalendar
import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.day.day import Workbook
from planner.tables.read import read_workbook
from planner.tables.starter import starter_files
from planner.units import parse_amount
from planner.weeks.call_list import call_list
from planner.weeks.lines import calendar_lines
from planner.weeks.model import CALENDAR_VERSION, Calendar, LaidOrder, TruckShare, WaitingOrder
from planner.weeks.needs import ProductNeed, product_needs
from planner.weeks.page import weeks_page
from planner.weeks.page_map import HEIGHT, WIDTH, day_drawings
from planner.weeks.weeks_files import weeks_calendar, weeks_files, weeks_rows
from tests.bad_workbooks import BASE
from tests.browser import chromium, needs_browser, printed, visit

WED, THU, MON = "2027-04-14", "2027-04-15", "2027-04-19"


def laid(order: str, home: str, gal: float, due_to: str, spare: int, **more: object) -> LaidOrder:
    plain = LaidOrder(order, home, "feed", gal, WED, due_to, spare, 0, False, "", "", None)
    return replace(plain, **more)  # type: ignore[arg-type]


def share(day: str, truck: str, *orders: LaidOrder, paid_min: float = 255.0) -> TruckShare:
    gal = sum(order.gal for order in orders)
    return TruckShare(
        day, truck, orders, ("feed",), {"feed": gal}, paid_min, 510.0, max(0.0, paid_min - 510.0),
        12.0, 0, 100.0,
    )  # fmt: skip


CALENDAR = Calendar(
    version=CALENDAR_VERSION,
    workbook_sha256="0" * 64,
    days=(WED, THU, MON),
    closed={"2027-04-16": "closed (settings holidays)"},
    wet=(THU,),
    out=(f"T2@{MON}",),
    trucks=("T1", "T2"),
    shares=(
        share(
            WED,
            "T1",
            laid("1", "A", 12.0, WED, 0, next_day=MON, next_day_cost=9.6),
            laid("2", "B", 6.0, "2027-04-12", 0, overdue_days=2, told=True),
        ),
        share(MON, "T1", laid("3", "B", 18.0, "2027-04-20", 1, told_other=THU), paid_min=520.0),
    ),
    waiting=(
        WaitingOrder("4", "A", "weeds", "KEPT-OUT", "on hold: prepayment", "2027-04-16", ""),
        WaitingOrder("5", "B", "edges", "LATER", "", "2027-05-10", "2027-05-10"),
    ),
    told={"2": WED, "3": THU, "4": WED},
    rain_percent=20.0,
    cost=200.0,
    miles=24.0,
    engine="nearest-fit",
    effort="count 1",
    seed=1,
    roads="",
    roads_warning="",
)


@pytest.fixture(scope="module")
def book() -> Workbook:
    book = read_workbook(BASE).workbook
    assert book is not None
    first = book.trucks["T1"].clean
    second = replace(first, truck_id="T2")
    homes = {
        name: replace(home, customer=f'{name} <b>"&', phone="(614) 555-0123", contact_by="text")
        for name, home in book.properties.items()
    }
    return replace(
        book, properties=homes, trucks=book.trucks | {"T1": first, "T2": second}, out_of_service={}
    )


def stocked(book: Workbook, stock: str, days: int | None) -> ProductNeed:
    nitro = replace(book.products["nitro"], in_store=parse_amount(stock), delivery_days=days)
    needs = product_needs(CALENDAR, replace(book, products=book.products | {"nitro": nitro}))
    return next(need for need in needs if need.product_id == "nitro")


def test_product_by_week_against_the_store(book: Workbook) -> None:
    need = stocked(book, "10 gal", 3)
    # 18 gal of feed on 9,000 ft2 in the first week, 18 gal in the second: 9 x 0.25151 = 2.2636 gal.
    assert need.by_week == ("2 gal 1 qt 2 fl oz", "2 gal 1 qt 2 fl oz")
    assert (need.total, need.store) == ("4 gal 2 qt 3 fl oz", "10 gal")
    assert (need.short_on, need.order_by, need.buy) == (None, None, "")
    none = next(one for one in product_needs(CALENDAR, book) if one.product_id == "nitro")
    assert (none.store, none.short_on) == ("", None)


def test_what_a_tank_holds_already_is_not_taken_from_the_store(book: Workbook) -> None:
    """T1 has 31 gal of feed over its heel: all of the first week's 18 and 13 of the second's, whose
    other 5 gal take 5 / 36 of 4.527 gal, as above. Another truck's mix serves it nothing."""
    trucks = {}
    for name, gal in (("T1", 33.0), ("T2", 50.0)):
        tank, *rest = book.trucks[name].compartments
        tank = replace(tank, last_mix="feed", leftover_gal=gal, heel_gal=2.0)
        trucks[name] = replace(book.trucks[name], compartments=(tank, *rest))
    need = stocked(replace(book, trucks=trucks), "0.5 gal", None)
    assert need.by_week == ("", "2 qt 16.5 fl oz")
    assert need.short_on == date.fromisoformat(MON)


@pytest.mark.parametrize(
    ("days", "order_by", "late"),
    [
        (None, None, False),
        # There on Sunday, the day before; ordered on Saturday, so on Friday.
        (1, "2027-04-16", False),
        (3, "2027-04-15", False),
        (5, "2027-04-13", True),
    ],
)
def test_the_last_day_to_order(
    book: Workbook, days: int | None, order_by: str | None, late: bool
) -> None:
    need = stocked(book, "3 gal", days)
    assert need.short_on == date.fromisoformat(MON)
    assert need.order_by == (date.fromisoformat(order_by) if order_by else None)
    assert (need.late, need.buy) == (late, "1 x 275 gal")


def test_who_is_to_be_called(book: Workbook) -> None:
    rows = call_list(CALENDAR, book)
    said = [(row.what, row.property, row.date, row.told_day, row.orders) for row in rows]
    assert said == [
        ("move", "B", MON, THU, "3"),
        ("no day", "A", "", WED, "4"),
        ("tell", "A", WED, "", "1"),
    ]
    assert rows[0].reach == "text (614) 555-0123"
    assert rows[1].reason == "on hold: prepayment"


def test_files_for_spreadsheets(book: Workbook) -> None:
    files = weeks_files(CALENDAR, book)
    rows = list(csv.DictReader(io.StringIO(files["weeks.csv"].removeprefix("\ufeff"))))
    assert [(row["order"], row["date"], row["stop"], row["told"]) for row in rows] == [
        ("1", WED, "1", "no"),
        ("2", WED, "2", "yes"),
        ("3", MON, "1", THU),
        ("4", "", "0", WED),
        ("5", "", "0", "no"),
    ]
    assert rows[0]["next_day_cost"] == "9.6"
    calls = list(csv.DictReader(io.StringIO(files["call-list.csv"].removeprefix("\ufeff"))))
    assert [row["what"] for row in calls] == ["move", "no day", "tell"]
    assert len(weeks_rows(CALENDAR, book)) == 5


def test_the_calendar_for_other_programs(book: Workbook) -> None:
    """RFC 5545: lines of at most 75 octets that end in CRLF (3.1); an event of whole days ends on
    the day after its last (3.6.1); the same event keeps its UID (3.8.4.7)."""
    text = weeks_calendar(CALENDAR, book)
    assert text.endswith("\r\n")
    for line in text.split("\r\n"):
        assert len(line.encode()) <= 75
        assert "\n" not in line
    read = icalendar.Calendar.from_ical(text)
    assert read["VERSION"] == "2.0"
    assert "PRODID" in read
    events = read.walk("VEVENT")
    assert [str(event["SUMMARY"]) for event in events] == [
        "T1: 2 orders, 18 gal",
        "T1: 1 order, 18 gal",
        "Taken as lost to rain",
    ]
    for event, day in zip(events, (WED, MON, THU), strict=True):
        assert not event.errors
        assert event.decoded("DTSTART") == date.fromisoformat(day)
        assert event.decoded("DTEND") - event.decoded("DTSTART") == timedelta(days=1)
        assert event.decoded("DTSTAMP").tzinfo is not None
    assert 'A <b>"&, feed (order 1)' in str(events[0]["DESCRIPTION"])
    later = replace(CALENDAR, days=(THU, MON), shares=CALENDAR.shares[1:])
    again = icalendar.Calendar.from_ical(weeks_calendar(later, book)).walk("VEVENT")
    assert again[0]["UID"] == events[1]["UID"]
    assert len({str(event["UID"]) for event in events}) == 3


class Words(HTMLParser):
    """The page's words, and the addresses that it would ask for."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.asked = "", []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.asked += [value for name, value in attrs if name in ("src", "href", "data") and value]

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture(scope="module")
def page(book: Workbook) -> str:
    return weeks_page(CALENDAR, book)


def test_the_page_says_what_an_office_asks(page: str) -> None:
    words = Words()
    words.feed(page)
    text = re.sub(r"\s+", " ", words.text)
    for said in (
        "3 working days from Wednesday, April 14, 2027",
        "1 overdue",
        "1 on the last day in time, 1 with one day to spare",
        "Thu Apr 15 taken as lost to rain",
        "T2 does not go out Mon Apr 19",
        "to call: 1 to move, 1 without a day now, 1 to tell",
        "Fri Apr 16: closed (settings holidays)",
        "2 must, 0 may move",
        "2 orders, 1 told",
        "4:15 of 8:30 h, 12 mi",
        "8:40 of 8:30 h, 12 mi over 0:10",
        "by Mon Apr 12, 2 days late",
        "Mon Apr 19: $10 more",
        "told Thu Apr 15",
        "The office or the customer keeps it out of each of its days: on hold: prepayment",
        "It can be done after the calendar's last day, for less",
        'A <b>"&',
    ):
        assert said in text, said
    assert all(one.startswith("#") for one in words.asked), "nothing is asked of the network"
    assert "other tables" not in text
    assert "</script" not in page


def test_what_is_late_heads_the_list_of_a_later_day_too(book: Workbook) -> None:
    """On paper and in the terminal only the first rows are shown."""
    first, second = CALENDAR.shares
    late = replace(second, orders=(replace(second.orders[0], overdue_days=3),))
    shares = (replace(first, orders=first.orders[:1]), late)
    calendar = replace(CALENDAR, shares=shares)
    words = Words()
    words.feed(weeks_page(calendar, book))
    rows = words.text[words.text.index("At risk") :]
    assert rows.index("overdue") < rows.index("last day")
    lines = list(calendar_lines(calendar, book))
    at = next(row for row, line in enumerate(lines) if line.startswith("At risk"))
    assert "3 days overdue" in lines[at + 1]
    assert "its last day in time" in lines[at + 2]


def test_hours_fill_the_vessel(page: str) -> None:
    # Wednesday: 255 of two shifts of 510 min (T1 8.5 h after lunch; T2's is the same), all must.
    heights = re.findall(r'class="(may|must)"[^>]*height="([\d.]+)"', page)
    assert heights[:2] == [("may", "0.0"), ("must", "25.0")]
    # Monday: 520 of T1's 510 min, as T2 stays: full, and it may move.
    assert heights[2:] == [("may", "100.0"), ("must", "0.0")]


def test_maps_lie_in_their_frame_and_point_north(book: Workbook) -> None:
    drawings = day_drawings(CALENDAR, book)
    assert [day.date for day in drawings] == [WED, MON]
    points = [tuple(map(float, pair.split(","))) for pair in drawings[0].trucks[0].line.split()]
    assert len(points) == 4, "yard, A, B, yard"
    assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in points)
    (yard_x, yard_y), (a_x, a_y), (b_x, b_y), _ = points
    # A lies at 40.51, -83.51, B at 40.52, -83.49, the yard at 40.50, -83.50.
    assert b_y < a_y < yard_y
    assert a_x < yard_x < b_x
    assert day_drawings(replace(CALENDAR, shares=()), book) == ()


def test_notes_stand_in_sentences(book: Workbook) -> None:
    """Some end with a period and some do not: on paper they stand in one line."""
    notes = (
        "85 orders due on Wed 2027-04-14 are recorded as done",
        "1 order was due by Fri and in no plan.",
    )
    text = Words()
    text.feed(weeks_page(replace(CALENDAR, notes=notes), book))
    assert "recorded as done. 1 order was due by Fri and in no plan." in text.text
    assert "no plan.." not in text.text


def test_an_empty_calendar_has_a_page(book: Workbook) -> None:
    empty = replace(CALENDAR, shares=(), waiting=(), told={})
    page = weeks_page(empty, book, stale="made from other tables")
    assert "Every open order has its day." in page
    assert "store: the tables do not say what is there" in page, "nothing said is not enough"


def large(days: int, trucks: int, orders: int) -> Calendar:
    dates = [
        date(2027, 4, 12) + timedelta(days=7 * week + day) for week in range(4) for day in range(5)
    ]
    names = tuple(f"T{number}" for number in range(1, trucks + 1))
    shares = tuple(
        share(
            day.isoformat(),
            name,
            *(
                laid(f"{day:%d}{name}-{n}", "AB"[n % 2], 30.0, str(day), n % 3)
                for n in range(orders)
            ),
        )
        for day in dates[:days]
        for name in names
    )
    waiting = tuple(
        WaitingOrder(f"w{n}", "A", "weeds", "FULL", "no room", "2027-04-16", "") for n in range(40)
    )
    return replace(
        CALENDAR, days=tuple(map(str, dates[:days])), trucks=names, shares=shares,
        waiting=waiting, wet=(), out=(),
    )  # fmt: skip


def without_risk(calendar: Calendar) -> Calendar:
    shares = tuple(
        replace(one, orders=tuple(replace(row, spare_days=9) for row in one.orders))
        for one in calendar.shares
    )
    return replace(calendar, shares=shares)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments], catch_exceptions=False)


def test_the_command_writes_the_page(tmp_path: Path) -> None:
    office, out = tmp_path / "office", tmp_path / "page"
    office.mkdir()
    for name, text in starter_files(date(2027, 5, 3)).items():
        if name != "weather.csv":
            (office / name).write_text(text, encoding="utf-8")
    assert (
        "run `planner weeks` without --show first"
        in run("weeks", office, "--show", "--out", out).stderr
    )
    made = ("weeks", office, "--from", "2027-05-03", "--days", "2", "--engine", "nearest-fit")
    assert f"Page: {out / 'weeks.html'}" in run(*made, "--effort", "1", "--out", out).stderr
    files = {file.name: file.read_text(encoding="utf-8") for file in out.iterdir()}
    assert {"weeks.html", "weeks.csv", "call-list.csv", "weeks.ics"} <= set(files)
    assert "2 working days from Monday, May 3, 2027" in files["weeks.html"]
    assert "have changed since" not in files["weeks.html"]
    calendar = (office / "calendar.json").read_bytes()
    assert run("weeks", office, "--show", "--out", out).exit_code == 0
    assert (out / "weeks.html").read_text(encoding="utf-8") == files["weeks.html"]
    with (office / "orders.csv").open("a") as orders:
        orders.write("2001,P-5,weeds,2027-05-04,,,,,2,,,\n")
    assert run("weeks", office, "--show", "--out", out).exit_code == 0
    assert "have changed since" in (out / "weeks.html").read_text(encoding="utf-8")
    assert (office / "calendar.json").read_bytes() == calendar
    assert run("weeks", office, "--show").exit_code == 2
    assert run("weeks", office, "--show", "--out", out, "--wet", "2027-05-03").exit_code == 2
    assert run(*made, "--out", office).exit_code == 2, "a workbook is no folder for pages"


@needs_browser
def test_it_prints_on_two_sheets(book: Workbook, tmp_path: Path) -> None:
    file = tmp_path / "weeks.html"
    with chromium() as browser:
        for days, trucks in ((10, 5), (20, 2)):
            file.write_text(weeks_page(large(days, trucks, 12), book), encoding="utf-8")
            page, heard = visit(browser, file, keeps=True)
            assert printed(page, "Letter")[0] == 2, (days, trucks)
            assert heard.nothing, heard
        # With no order at risk there, it holds more of who waits and whom to call, two lines each.
        quiet = without_risk(large(10, 4, 3))
        waits = tuple(
            replace(one, code="LATER", reason="until Fri 2027-05-07") for one in quiet.waiting[:15]
        )
        # Of eight days the first truck's customers, each at two lawns.
        moved = tuple(
            one
            if at % 4 or at > 31
            else replace(
                one, orders=tuple(replace(row, told_other="2027-04-30") for row in one.orders)
            )
            for at, one in enumerate(quiet.shares)
        )
        calm = {
            (15, 0): replace(quiet, waiting=waits),
            (0, 16): replace(quiet, waiting=(), shares=moved),
        }
        for (waiting, calls), calendar in calm.items():
            text = weeks_page(calendar, book)
            assert text.count('<tr class="more">') == 0, (waiting, calls)
            assert text.count('<td class="what">move') == calls
            file.write_text(text, encoding="utf-8")
            page, heard = visit(browser, file)
            assert printed(page, "Letter")[0] == 2, (waiting, calls)
        # With little else on the second sheet the list of orders at risk goes on there.
        few = [
            (days, trucks, replace(large(days, trucks, 3), waiting=()))
            for days, trucks in ((10, 4), (10, 5), (5, 3), (8, 2))
        ]
        for days, trucks, calendar in few:
            text = weeks_page(calendar, book)
            shown = text.count("</tr>", text.index('id="risk"'), text.index('id="waiting"')) - 1
            shown -= text.count(
                '<tr class="more">', text.index('id="risk"'), text.index('id="waiting"')
            )
            assert shown >= 24, (days, trucks, shown)
            file.write_text(text, encoding="utf-8")
            page, heard = visit(browser, file)
            assert printed(page, "Letter")[0] == 2, (days, trucks)
