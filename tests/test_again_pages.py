"""Pages of a day that was planned again in a real browser: nothing wider than the screen, hostile
text as text, nothing serious for axe-core, nothing over the edge of the paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from planner.papers.packet import packet_pages
from planner.plan.model import Again, Before, Plan
from tests.browser import DESK, PHONE, beyond_paper, chromium, needs_browser, serious, visit
from tests.sample_plan import sample_day, sample_legs, sample_plan
from tests.test_browser import SIDE_MARGINS_PX

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = needs_browser

PAPERS = ("index.html", "pick-list.html", "truck-T1.html", "truck-T2.html")
LOOKED_AT = {
    ("index.html", False, DESK),
    ("truck-T1.html", True, PHONE),
    ("truck-T2.html", False, DESK),
}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


def planned_again(plan: Plan) -> Plan:
    """The sample plan as if made again: T1 has done its first three stops, T2 is down after its
    first; of each truck's orders the even ones were on the other, two hours earlier."""
    trucks = []
    before = []
    for number, truck in enumerate(plan.trucks):
        done = 3 if number == 0 else 1
        stops = tuple(replace(stop, done=row < done) for row, stop in enumerate(truck.stops))
        trucks.append(replace(truck, stops=stops))
        works = [(stop.begin_min, work) for stop in truck.stops for work in stop.orders]
        other = plan.trucks[1 - number].truck_id if number < 2 else truck.truck_id
        before += [
            Before(work.order_id, other if row % 2 else truck.truck_id, begin - 120.0)
            for row, (begin, work) in enumerate(works)
        ]
    again = Again(600.0, "0" * 64, (plan.trucks[1].truck_id,), {}, (), (), tuple(before))
    return replace(plan, trucks=tuple(trucks), again=again)


@pytest.fixture(scope="module", params=[False, True], ids=["plain", "hostile"])
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    day = sample_day(request.param)
    plan = planned_again(sample_plan(day))
    where = tmp_path_factory.mktemp("hostile" if request.param else "plain")
    for name, text in packet_pages(plan, day, sample_legs(plan), "", "0123456789").items():
        (where / name).write_text(text, encoding="utf-8")
    return where


def test_a_customer_with_an_initial_ends_a_sentence_with_one_period() -> None:
    """'Marsh, M..' stood on the sheet of a truck that was down after that lawn."""
    day = sample_day(False)
    homes = {
        name: replace(home, customer="Marsh, M.") for name, home in day.workbook.properties.items()
    }
    day = replace(day, workbook=replace(day.workbook, properties=homes))
    plan = planned_again(sample_plan(day))
    assert plan.again is not None
    plan = replace(plan, again=replace(plan.again, down=(plan.trucks[0].truck_id,)))
    pages = packet_pages(plan, day, sample_legs(plan), "", "0123456789")
    sheets = [text for text in pages.values() if "the way home from Marsh, M." in text]
    assert sheets
    assert not any("M.." in text for text in sheets)


@pytest.mark.parametrize("name", PAPERS)
def test_pages_of_a_day_planned_again(browser: Browser, folder: Path, name: str) -> None:
    for size in (PHONE, DESK):
        page, heard = visit(browser, folder / name, size)
        assert heard.nothing, heard
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        # axe takes seconds: it looks at what only these pages have, once at each.
        if (name, "hostile" in str(folder), size) in LOOKED_AT:
            assert serious(page) == []
        if size is PHONE:
            page.close()
    assert "Planned again at 10:00 AM" in page.inner_text("main")
    for paper in ("Letter", "A4"):
        assert beyond_paper(page, paper, SIDE_MARGINS_PX) == []
    page.close()


def test_a_crew_reads_what_is_on_board(browser: Browser, folder: Path) -> None:
    page, _ = visit(browser, folder / "truck-T1.html")
    text = page.inner_text("#again")
    assert "On board now" in text
    assert "New on this truck" in text
    assert "No longer on this truck" in text
    assert page.locator("#route tr.past").count() == 3
    assert "NEW TIME" in page.inner_text("#route")
    page.close()
