"""The page of fleets: its figures are the comparison's, and it works in a browser and on paper.

Made-up figures (tests/sample_comparison.py); what the page has to show is checked against them, and
published tiers against their sections: 49 CFR 390.5, 383.91(a)(2), 383.5, 173.6(a)(1).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.compare.model import PRESENT, Comparison, Paired
from planner.compare.page import (
    MOST_CHARTED,
    SIGNS,
    charted_fleets,
    day_axis,
    fleets_page,
    left_out,
    left_out_rows,
    nice_ticks,
    paired_plot,
)
from planner.compare.page_trucks import fleet_trucks, tier_rows
from planner.compare.verdict import money, number, paired_text, signed, span_text
from planner.papers.direction import plain_direction
from tests.browser import (
    DESK,
    PAPER_PX,
    PHONE,
    beyond_paper,
    chromium,
    needs_browser,
    printed,
    serious,
    visit,
)
from tests.sample_comparison import sample_comparison, sample_dates
from tests.sample_plan import HOSTILE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

FILES = ("fleets.csv", "days.csv")
SIDE_MARGINS_PX = 0.9 * 96
"""Two times .45 in, as base.html sets them."""


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    return sample_comparison()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, comparison: Comparison) -> Path:
    folder = tmp_path_factory.mktemp("fleets")
    pages = {
        "plain": comparison,
        "hostile": sample_comparison(hostile=True),
        "many": sample_comparison(more_fleets=5, days=60),
        "empty": without_a_plan(comparison),
        "one day": sample_comparison(days=1),
        "alone": replace(comparison, fleets=comparison.fleets[:1], differences=()),
    }
    for name, one in pages.items():
        (folder / f"{name}.html").write_text(fleets_page(one, FILES), encoding="utf-8")
    return folder


def without_a_plan(comparison: Comparison) -> Comparison:
    """One fleet could plan no day, nothing is known of money, and no spread was measured."""
    last = comparison.fleets[-1]
    days = tuple(replace(day, fault="no road for truck C1", unserved=()) for day in last.days)
    nothing = {
        field: None
        for field in (
            "yearly_running", "yearly_ownership", "yearly", "to_buy", "yearly_saving",
            "payback_years", "payback_low_years", "payback_high_years", "break_even_purchase",
            "break_even_days", "gain", "life_years",
        )
    }  # fmt: skip
    own = replace(last.money, trucks=(), why_not="fleet.toml tells no price", **nothing)
    fleet = replace(
        last, days=days, stats={}, cost_per_order=None, cost_per_1000_ft2=None, rank=None,
        fault_dates=tuple(day.date for day in days), money=own,
    )  # fmt: skip
    differences = tuple(
        replace(row, dates=(), figures={}) if last.name in (row.fleet, row.base) else row
        for row in comparison.differences
    )
    return replace(
        comparison,
        fleets=(*comparison.fleets[:-1], fleet),
        differences=differences,
        spread=None,
    )


def cells(page: Page, caption: str) -> dict[str, list[str]]:
    """The table of that caption: name of the row -> its texts."""
    table = page.locator("table", has=page.locator("caption", has_text=re.compile(f"^{caption}")))
    found = {}
    for row in table.first.locator("tbody tr").all():
        found[row.locator("th").inner_text().strip()] = row.locator("td").all_inner_texts()
    return found


def test_break_even_days_that_no_year_has(comparison: Comparison) -> None:
    """The sample's other fleets break even at 412 days: two never do within a year; with a gain at
    their 250 days, every year pays. (A leap year has 366 days.)"""

    def shown(days: float, gain: float) -> str:
        fleets = tuple(
            replace(one, money=replace(one.money, break_even_days=days, gain=gain))
            for one in comparison.fleets
        )
        text = fleets_page(replace(comparison, fleets=fleets))
        rows = text[text.index("Break-even days a year") :]
        return re.sub(r"<[^>]+>", "  ", rows[: rows.index("</table>")])

    every, possible = len(comparison.fleets), shown(366.0, -9000.0)
    assert possible.count("  366  ") == every
    # A truck's "paid back in" may say never, too.
    assert shown(412.0, -9000.0).count("  never  ") == possible.count("  never  ") + every
    assert shown(412.0, 9000.0).count("  always  ") == every
    assert "412" not in shown(412.0, -9000.0)


def test_places_and_ties(comparison: Comparison) -> None:
    text = fleets_page(comparison)
    answers = re.findall(r"<li><span class=\"place\">.*?</li>", text, re.DOTALL)
    shown = [re.sub(r"<[^>]+>", " ", answer).split() for answer in answers]
    assert [(words[0], words[1], "tie" in words) for words in shown] == [
        ("1", "four-large", False),
        ("2", "present", True),
        ("2", "six-small", True),
    ]
    for fleet in comparison.fleets:
        assert f"${fleet.stats['cost'].mean:,.0f} a day" in text
        assert f"${fleet.money.yearly:,.0f} a year" in text


def test_the_first_line_can_be_acted_on(comparison: Comparison) -> None:
    text = fleets_page(comparison)
    first = re.search(r"<h1>(.*?)</h1>", text)
    assert first is not None
    assert first[1] == comparison.verdict[0].replace("'", "&#39;")
    assert comparison.verdict[0].startswith("Buy four-large: $210,000 come back in 9.3 years")
    assert any(line.startswith("Don't change to six-small") for line in comparison.verdict)
    license = [line for line in comparison.verdict if "license tier" in line]
    assert [line.split()[0] for line in license] == ["L1", "L1"]


def test_what_the_figures_rest_on_is_printed(comparison: Comparison) -> None:
    text = fleets_page(replace(comparison, notes=("3 places lie far from a road",)))
    listed = text.split("What the figures rest on")[1]
    assert all(row in listed for row in comparison.assumptions)
    assert "3 places lie far from a road" in listed
    assert "Engine ortools, count 20, seed 1" in listed


def test_paired_points_stand_where_their_figures_are(comparison: Comparison) -> None:
    """Read off the scale, each point gives its day's figure back to a hundredth of the scale."""
    axis = day_axis(comparison.dates)
    plot = paired_plot(comparison.fleets, axis, lambda day: day.totals.cost)
    (y0, low), (y1, high) = plot.ticks[0], plot.ticks[-1]
    bottom, top = float(low.replace(",", "")), float(high.replace(",", ""))
    shown = iter(plot.points)
    for fleet in comparison.fleets:
        for day in fleet.days:
            point = next(shown)
            read = bottom + (point.y - y0) / (y1 - y0) * (top - bottom)
            assert read == pytest.approx(day.totals.cost, abs=(top - bottom) / 100)
            assert abs(point.x - axis.x_of[day.date]) < axis.slot / 2
            assert point.left_out == bool(day.unserved)
    # Three fleets on a day are two lines.
    assert len(plot.joins) == 2 * len(comparison.dates)


def test_days_without_a_plan_have_no_point(comparison: Comparison) -> None:
    broken = without_a_plan(comparison)
    axis = day_axis(broken.dates)
    plot = paired_plot(broken.fleets, axis, lambda day: day.totals.cost)
    assert {point.fleet for point in plot.points} == {"present", "four-large"}
    strip = left_out_rows(broken.fleets, axis)
    assert {cell.text for cell in strip[-1].cells} == {"!"}


@given(
    low=st.floats(-1e6, 1e6), span=st.floats(0, 1e6), about=st.integers(3, 8)
)  # fmt: skip
def test_ticks_enclose_and_are_even(low: float, span: float, about: int) -> None:
    ticks = nice_ticks(low, low + span, about)
    assert ticks[0] <= low + 1e-6
    assert ticks[-1] >= low + span - 1e-6
    steps = {round(b - a, 6) for a, b in pairwise(ticks)}
    assert len(steps) == 1
    assert 2 <= len(ticks) <= about + 4


def test_a_weekend_is_a_gap_on_the_axis() -> None:
    axis = day_axis(sample_dates(10))
    xs = list(axis.x_of.values())
    steps = [b - a for a, b in pairwise(xs)]
    assert max(steps) > 1.5 * min(steps)
    assert len(axis.breaks) == 1
    assert [label.month for label in axis.labels if label.month] == ["Mar", "Apr"]
    assert len(day_axis(sample_dates(120)).labels) < 40


def test_weights_and_tanks_are_drawn_to_one_scale(comparison: Comparison) -> None:
    cards = [card for one in fleet_trucks(comparison.fleets) for card in one.cards]
    per_lb = {round(card.rating_x / card.truck.gvwr_lb, 4) for card in cards}
    assert max(per_lb) - min(per_lb) < 0.0002
    for card in cards:
        assert card.empty_x < card.heaviest_x <= card.rating_x
        for bar in card.tanks:
            share = bar.mean_x / bar.width
            assert share == pytest.approx(bar.tank.mean_fullest_share, abs=0.02)
    widths = {bar.tank.capacity_gal: bar.width for card in cards for bar in card.tanks}
    assert widths[600] == pytest.approx(2 * widths[300], abs=0.2)


def test_published_thresholds_name_trucks_and_sections(comparison: Comparison) -> None:
    rows = {row.section: row for row in tier_rows(comparison.fleets)}
    assert rows["49 CFR 390.5"].trucks == ("T1, T2, T3, T4", "L1, L2, L3, L4", "none")
    assert rows["49 CFR 383.91(a)(2)"].trucks == ("none", "L1", "none")
    assert rows["49 CFR 383.5 (76 FR 26854, 9 May 2011)"].trucks == ("none", "L1", "none")
    assert rows["49 CFR 173.6(a)(1)"].trucks == ("none", "L1, L2, L3", "none")
    text = fleets_page(comparison)
    assert all(section in text for section in rows)
    assert "a licensed adviser decides" in text


def test_days_that_a_fleet_could_not_serve_are_named(comparison: Comparison) -> None:
    (small,) = left_out(comparison)
    assert small.fleet == "six-small"
    assert [day.date for day in small.days] == [
        "Thu Mar 25",
        "Thu Apr 15",
        "Thu May 6",
        "Thu May 27",
    ]
    text = fleets_page(comparison)
    assert "needs 345 ft of hose" in text
    assert all(f"<b>{day.date}</b> 5112, 5140" in text for day in small.days)


def test_more_fleets_than_signs() -> None:
    many = sample_comparison(more_fleets=5)
    charted = charted_fleets(many)
    assert [fleet.name for fleet in charted] == ["present", "four-large", "six-small", "small-1"]
    assert len(SIGNS) == MOST_CHARTED
    text = fleets_page(many)
    assert "Not drawn, to keep the signs apart: small-2, small-3, small-4, small-5" in text


def test_figures_in_words() -> None:
    assert money(-96.7, "$") == "−$97"
    assert money(-0.4, "$") == "$0"
    assert number(-0.04, 1) == "0.0"
    assert signed(0.04, 1) == "0.0"
    assert signed(12.34, 1) == "+12.3"
    assert paired_text("cost", Paired(-97.2, 24.4, False), "$") == "−$97 ± 24"
    assert paired_text("cost", Paired(8.0, 24.4, True), "€") == "+€8 ± 24"
    assert paired_text("refills", Paired(-2.23, None, False), "$") == "−2.2 spread not measured"
    assert span_text(("2027-03-22",)) == "1 day, Mar 22, 2027"
    assert span_text(("2026-12-30", "2027-01-04")) == "2 days, Dec 30, 2026 to Jan 4, 2027"


@needs_browser
@pytest.mark.parametrize("name", ["plain", "hostile", "many", "empty", "one day", "alone"])
def test_quiet_and_no_wider_than_the_screen_and_the_paper(
    browser: Browser, folder: Path, name: str
) -> None:
    page, heard = visit(browser, folder / f"{name}.html")
    for size in (DESK, PHONE):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        # axe takes seconds: it looks at the usual page on a phone, at that of gaps on a desk.
        if (name, size) in {("plain", PHONE), ("empty", DESK)}:
            assert serious(page) == []
    for paper in PAPER_PX:
        assert name != "plain" or printed(page, paper)[0] == 2
        assert beyond_paper(page, paper, SIDE_MARGINS_PX) == []
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_tables_show_the_comparison(browser: Browser, folder: Path, comparison: Comparison) -> None:
    page, _ = visit(browser, folder / "plain.html")
    a_day = cells(page, "A day, on average")
    for fleet in comparison.fleets:
        hours = fmean(day.totals.paid_min for day in fleet.days) / 60
        cost = fmean(day.totals.cost for day in fleet.days)
        assert a_day[fleet.name][1:3] == [f"${cost:,.0f}", f"{hours:.1f}"]
    pairs = cells(page, "Differences a day")
    assert pairs["four-large less present"][0] == "20 of 20"
    assert pairs["six-small less present"][0] == "16 of 20"
    assert pairs["six-small less present"][1].endswith("tie")
    assert "tie" not in pairs["four-large less present"][1]
    year = cells(page, "A year of 250 working days")
    assert year["four-large"][6] == "9.3 years (7.4 to 12.6)"
    assert year["six-small"][6] == "never"
    assert year[PRESENT][6] == "–"
    assert cells(page, "All days together")["six-small"][0] == "8 on 4 days"
    page.close()


@needs_browser
def test_hostile_text_shows_as_text(browser: Browser, folder: Path) -> None:
    page, heard = visit(browser, folder / "hostile.html")
    shown = re.sub(r"\s+", " ", page.inner_text("main"))
    assert shown.count(re.sub(r"\s+", " ", plain_direction(HOSTILE)).strip()) >= 4
    assert page.locator("main script").count() == 0
    assert heard.nothing, heard
    page.locator("table.sortable thead button").first.click()
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_sorting_by_keyboard(browser: Browser, folder: Path) -> None:
    """Enter and space sort, up and then down; what has no figure stays last both ways."""
    page, heard = visit(browser, folder / "empty.html")
    table = page.locator("table.sortable").first
    head = table.locator("thead th", has_text="Cost")

    def names() -> list[str]:
        return [name.strip() for name in table.locator("tbody th").all_inner_texts()]

    assert names() == ["present", "four-large", "six-small"]
    assert head.get_attribute("aria-sort") is None
    page.locator("a.skip").focus()
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Cost":
            break
    page.keyboard.press("Enter")
    assert head.get_attribute("aria-sort") == "ascending"
    assert names() == ["four-large", "present", "six-small"]
    page.keyboard.press("Space")
    assert head.get_attribute("aria-sort") == "descending"
    assert names() == ["present", "four-large", "six-small"]
    assert table.locator("th[aria-sort]").count() == 1
    assert page.inner_text("[role=status]").strip().endswith("Cost, highest first")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    assert table.locator("th[aria-sort]").inner_text().startswith("Fleet")
    assert names() == ["four-large", "present", "six-small"]
    assert heard.nothing, heard
    page.close()


@needs_browser
def test_days_sort_by_the_calendar(browser: Browser, folder: Path) -> None:
    page, _ = visit(browser, folder / "many.html")
    page.get_by_text("Every day's figures").click()
    table = page.locator("table.days")
    first = table.locator("tbody th").first
    assert first.inner_text() == "Mon Mar 22"
    button = table.locator("thead button").first
    button.click()
    assert first.inner_text() == "Mon Mar 22"
    button.click()
    assert first.inner_text() == "Fri Nov 12"
    page.close()


def test_page_names_no_address_of_the_network(comparison: Comparison) -> None:
    text = fleets_page(comparison, FILES)
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", text)
    assert "url(http" not in text
    assert 'href="days.csv"' in text
