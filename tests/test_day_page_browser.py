"""The office's page in a real browser: a stop moved by drag, by keyboard, by tap and by finger,
focus kept, every state without accessibility violations (axe-core 4), nothing asked of others."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pytest

from planner.office.day import DayState, Searching
from planner.problems import PlannerError
from tests.browser import chromium, needs_browser, settled, violations
from tests.office_server import Served, served, straight_day
from tests.sample_plan import sample_day

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page

pytestmark = needs_browser

SIZES = ((1366, 768), (1024, 768), (1920, 1080), (683, 384))
"""Screens of offices; the last is the first at 200 % zoom."""


UNANSWERED = """() => {
    window.real = fetch;
    window.fetch = (path, sent) => new Promise((_, fail) => {
        sent.signal.addEventListener("abort", () => fail(sent.signal.reason));
    });
    AbortSignal.usual = AbortSignal.timeout;
    AbortSignal.timeout = () => AbortSignal.usual(1);
}"""
"""No question is answered, and its limit of time is cut to nothing. In the page: a busy machine
may send a request before its browser intercepts any."""
ANSWERED = "() => { window.fetch = window.real; AbortSignal.timeout = AbortSignal.usual; }"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(straight_day(sample_day(), tmp_path_factory.mktemp("office"))) as one:
        yield one


@dataclass
class Desk:
    """A person at the page. heard: addresses elsewhere, and complaints of the browser."""

    page: Page
    office: Served
    heard: list[str] = field(default_factory=list)

    @property
    def state(self) -> DayState:
        return self.office.day.state

    def shown(self, revision: int) -> None:
        """Wait until the page shows that revision."""
        self.page.wait_for_selector(f'body[data-revision="{revision}"]:not([data-busy])')

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def lift(self, order: str) -> None:
        """Choose an order's row and take it in hand; the trucks have answered then."""
        row = self.row(order)
        if not row.is_visible():
            self.press(row.evaluate("row => row.closest('.sheet').dataset.number"))
        row.click()
        self.press("m")
        self.answered()

    def answered(self) -> None:
        self.page.wait_for_selector(".answer.can, .answer.cannot")

    def row(self, order: str):  # type: ignore[no-untyped-def]
        name = f"order {order}"
        return self.page.locator(f"tr.row[data-key='{name}'], tr.row[data-items*='\"{name}\"']")

    def hears(self, message: ConsoleMessage) -> None:
        """409 is what a question gets that was asked before another's change: no complaint."""
        if "409 (Conflict)" not in message.text:
            self.heard.append(message.text)

    def focused(self) -> str:
        return self.page.evaluate("document.activeElement.dataset.key || document.activeElement.id")


@contextmanager
def at_desk(
    browser: Browser, office: Served, size: tuple[int, int] = SIZES[0], touch: bool = False
) -> Iterator[Desk]:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, has_touch=touch, service_workers="block"
    )
    context.set_default_timeout(30_000)
    page = context.new_page()
    desk = Desk(page, office)
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((office.address, "data:"))
            else desk.heard.append(request.url)
        ),
    )
    page.on("console", desk.hears)
    page.on("pageerror", lambda error: desk.heard.append(str(error)))
    page.goto(office.link)
    page.wait_for_selector('body[data-ready="1"]')
    yield desk
    context.close()
    assert desk.heard == []


def orders_of(state: DayState, truck: int) -> list[str]:
    return [item.what for item in state.trucks[truck].items if item.kind == "order"]


def movable(office: Served) -> tuple[str, int]:
    """An order of the first truck that the second can take, and how many stops it has."""
    day = office.day
    for order in orders_of(day.state, 0):
        asked = day.ask(day.state.revision, [order])
        if asked.trucks[1].best is not None:
            return order, len(day.state.trucks[1].items)
    raise AssertionError("the sample day has no order for both trucks")


def break_something(office: Served) -> dict[str, object]:
    """A move after which some rule is broken."""
    day = office.day
    for order in orders_of(day.state, 0):
        for gap in day.ask(day.state.revision, [order]).trucks[0].gaps:
            if gap.why_not:
                return {"kind": "move", "orders": [order], "truck": "T1", "gap": gap.gap}
    raise AssertionError("every move of the sample day keeps every rule")


def truck_of(office: Served, order: str) -> str:
    return office.day.state.truck_of.get(order, "")


def test_first_glance_at_every_size(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk:
        page, last = desk.page, max(desk.state.trucks, key=lambda one: one.home_min or 0)
        for size in SIZES:
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.reload()
            page.wait_for_selector('body[data-ready="1"]')
            stall = page.locator(f'.stall[data-truck="{last.truck_id}"]')
            assert "LAST" in stall.inner_text()
            assert "not in this day" in page.inner_text("#notright")
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
            for name in ("undo", "open-print", "open-outs", "do-keys"):
                box = page.locator(f"#{name}").bounding_box()
                assert box is not None
                assert box["x"] >= 0
                assert box["x"] + box["width"] <= size[0] + 1
            cut = page.evaluate(
                """[...document.querySelectorAll('#notright p, .sheet:not([hidden]) td.who, h2')]
                .filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.textContent)"""
            )
            assert cut == []


def test_no_accessibility_violation_in_any_state(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk:
        page = desk.page
        desk.press("ArrowDown", "ArrowDown")
        assert violations(page) == []
        for panel in ("w", "p", "/", "?", "r"):
            desk.press(panel)
            assert violations(page) == [], panel
            desk.press("Escape")
        for button in ("open-drafts", "open-search", "open-new", "load-1-1"):
            page.click(f"#{button}")
            assert violations(page) == [], button
            desk.press("Escape")
        order, _ = movable(office)
        desk.lift(order)
        assert violations(page) == [], "in hand"
        desk.press("Escape")
        revision = desk.state.revision
        for change in (break_something(office), {"kind": "truck_out", "truck": "T2"}):
            office.day.change(revision, change)
            desk.shown(revision + 1)
            assert violations(page) == [], change
            office.day.change(revision + 1, {"kind": "undo"})
            revision += 2
            desk.shown(revision)


def test_tab_on_a_trucks_answer_goes_to_the_next_truck(browser: Browser, office: Served) -> None:
    """An empty truck has no gap to stand in: focus is on its answer, and Tab then Enter must not
    take the truck out of the day."""
    with at_desk(browser, office) as desk:
        order, _ = movable(office)
        desk.lift(order)
        revision = desk.state.revision
        desk.page.locator(".answer.can").first.focus()
        desk.press("Tab")
        where = "document.activeElement.closest('tr.gap, tr.row, .answer') !== null"
        assert desk.page.evaluate(where), desk.focused()
        desk.press("Escape")
        assert desk.state.revision == revision


def test_a_stop_is_moved_by_keyboard_and_focus_goes_with_it(
    browser: Browser, office: Served
) -> None:
    with at_desk(browser, office) as desk:
        order, _ = movable(office)
        revision = desk.state.revision
        desk.lift(order)
        assert "gap" in desk.page.evaluate("document.activeElement.className")
        desk.press("2", "Enter")
        desk.shown(revision + 1)
        assert truck_of(office, order) == "T2"
        assert desk.focused() == f"order {order}"
        assert "truck T2" in desk.page.inner_text("#say")
        desk.press("z")
        desk.shown(revision + 2)
        assert truck_of(office, order) == "T1"
        assert desk.page.evaluate("document.activeElement !== document.body")
        desk.press("Shift+Z")
        desk.shown(revision + 3)
        desk.press("z")
        desk.shown(revision + 4)
        # Put down where it was, it is no change.
        desk.lift(order)
        desk.press("1")
        own = desk.page.get_attribute("tr.held", "data-gap")
        desk.page.click(f'.sheet:not([hidden]) tr.gap[data-gap="{own}"]')
        desk.page.wait_for_selector("#taken", state="hidden")
        assert "no change" in desk.page.inner_text("#say")
        assert desk.state.revision == revision + 4
        # Letters that are switched off do nothing; arrows and Esc still work.
        desk.press("?")
        desk.page.uncheck("#letters")
        desk.press("Escape", "m")
        assert not desk.page.locator("#taken").is_visible()
        desk.page.evaluate("localStorage.clear()")


ORDER = """() => {
    window.order = [];
    const note = (what) => { if (window.order.at(-1) !== what) { window.order.push(what); } };
    const real = fetch;
    window.fetch = (...sent) => {
        note(document.body.classList.contains("inhand") ? "asked" : "asked late");
        return real(...sent);
    };
    new MutationObserver(() => requestAnimationFrame(() => note("sheets")))
        .observe(document.body, { attributes: true, attributeFilter: ["data-revision"] });
    new MutationObserver(() => { if (window.order.length) { note("map"); } })
        .observe(document.getElementById("map"), { childList: true, subtree: true });
}"""
"""What a move does, in order: the question sent, the frame with the new sheets, the map drawn."""


def test_a_move_asks_before_it_draws_and_shows_the_sheets_before_the_map(
    browser: Browser, office: Served
) -> None:
    with at_desk(browser, office) as desk:
        order, _ = movable(office)
        revision = desk.state.revision
        desk.lift(order)
        desk.press("2")
        settled(desk.page)
        desk.page.evaluate(ORDER)
        desk.press("Enter")
        desk.shown(revision + 1)
        settled(desk.page, "window.order.at(-1) === 'map'")
        assert desk.page.evaluate("window.order.slice(-3)") == ["asked", "sheets", "map"]
        office.day.change(revision + 1, {"kind": "undo"})
        desk.shown(revision + 2)


def test_a_stop_is_moved_by_drag(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk:
        order, _ = movable(office)
        page, revision, row = desk.page, desk.state.revision, desk.row(order)
        row.scroll_into_view_if_needed()
        start = row.locator("td.who").bounding_box()
        stall = page.locator("#stall-2").bounding_box()
        assert start is not None
        assert stall is not None
        page.mouse.move(start["x"] + 20, start["y"] + 8)
        page.mouse.down()
        page.mouse.move(start["x"] + 60, start["y"] + 30, steps=3)
        desk.answered()
        page.mouse.move(stall["x"] + 60, stall["y"] + 60, steps=4)
        page.mouse.up()
        desk.shown(revision + 1)
        assert truck_of(office, order) == "T2"
        office.day.change(revision + 1, {"kind": "undo"})
        desk.shown(revision + 2)
        # Dropped on nothing it goes back.
        row.scroll_into_view_if_needed()
        start = row.locator("td.who").bounding_box()
        assert start is not None
        page.mouse.move(start["x"] + 20, start["y"] + 8)
        page.mouse.down()
        page.mouse.move(start["x"] + 60, start["y"] + 40, steps=3)
        desk.answered()
        page.mouse.move(700, 20, steps=3)
        page.mouse.up()
        page.wait_for_selector("#taken", state="hidden")
        assert desk.state.revision == revision + 2


def test_a_stop_is_moved_by_taps_and_by_a_held_finger(browser: Browser, office: Served) -> None:
    with at_desk(browser, office, touch=True) as desk:
        order, _ = movable(office)
        page, revision = desk.page, desk.state.revision
        desk.row(order).scroll_into_view_if_needed()
        desk.row(order).tap()
        page.tap("#do-lift")
        desk.answered()
        page.tap("#answer-2")
        desk.shown(revision + 1)
        assert truck_of(office, order) == "T2"
        office.day.change(revision + 1, {"kind": "undo"})
        desk.shown(revision + 2)
        page.tap("#open-1")
        row = desk.row(order)
        row.scroll_into_view_if_needed()
        box = row.locator("td.who").bounding_box()
        assert box is not None
        finger = [{"x": box["x"] + 20, "y": box["y"] + 8}]
        touch = page.context.new_cdp_session(page)
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": finger})
        page.wait_for_selector("#taken", state="visible")
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        desk.answered()
        page.locator("#sheet-2 tr.gap").or_(page.locator("#answer-2")).last.tap()
        desk.shown(revision + 3)
        assert truck_of(office, order) == "T2"
        office.day.change(revision + 3, {"kind": "undo"})


def test_refill_lunch_pin_out_and_draft(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk:
        page, revision = desk.page, desk.state.revision
        refills = sum(item.kind == "refill" for item in desk.state.trucks[0].items)
        first, second = orders_of(desk.state, 0)[:2]
        desk.row(second).click()
        desk.press("r")
        page.click("#refill button[type=submit]")
        desk.shown(revision + 1)
        assert sum(item.kind == "refill" for item in desk.state.trucks[0].items) == refills + 1
        assert desk.focused().startswith("refill")
        desk.press("m")
        held = page.locator("tr.row.held").get_attribute("data-gap")
        assert page.locator("tr.gap.chosen").get_attribute("data-gap") == held
        desk.press("Escape", "Delete")
        desk.shown(revision + 2)
        assert sum(item.kind == "refill" for item in desk.state.trucks[0].items) == refills
        desk.row(first).click()
        desk.press("k")
        desk.shown(revision + 3)
        assert first in desk.state.planned.plan.pinned
        assert desk.focused() == f"order {first}"
        desk.press("Delete")
        desk.shown(revision + 4)
        assert truck_of(office, first) == ""
        desk.press("w")
        page.click(f"#lift-{first}")
        desk.answered()
        desk.press("1", "Enter")
        desk.shown(revision + 5)
        assert truck_of(office, first) == "T1"
        page.click("#open-drafts")
        page.fill("#draft-name", "B")
        desk.press("Enter")
        desk.shown(revision + 6)
        assert desk.state.draft == "B"
        assert page.inner_text("#open-drafts") == "Draft: B"
        page.click("#draft-1")
        desk.shown(revision + 7)


def test_a_done_stop_is_not_taken_in_hand(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk:
        order, _ = movable(office)
        row = desk.row(order)
        if not row.is_visible():
            desk.press(row.evaluate("row => row.closest('.sheet').dataset.number"))
        # As a plan at noon draws a stop that is done.
        row.evaluate("row => row.classList.add('done')")
        row.click()
        desk.press("m")
        assert "done" in desk.page.inner_text("#say")
        assert desk.page.locator("#taken").is_hidden()
        row.evaluate("row => row.classList.remove('done')")


def test_a_name_that_fits_one_customer_needs_no_list(browser: Browser, office: Served) -> None:
    """Typed on the telephone and sent by Enter; this day's tables take no order, which is told."""
    homes = list(office.day.state.planned.day.workbook.properties.values())
    address = next(
        one.address for one in homes if sum(one.address in row.address for row in homes) == 1
    )
    with at_desk(browser, office) as desk:
        desk.page.click("#open-new")
        for text, told in (("nobody at all", "Nobody"), ("e", "Several"), (address, "Nothing can")):
            desk.page.fill("#new-who", text)
            desk.press("Enter")
            desk.page.wait_for_selector(f"#new .problem >> text={told}")
        desk.heard[:] = [text for text in desk.heard if "422" not in text and "400" not in text]


HIDE = (
    "hidden => { Object.defineProperty(document, 'hidden', { value: hidden, configurable: true"
    " }); document.dispatchEvent(new Event('visibilitychange')); }"
)


def test_the_panel_of_planning_is_as_it_stands_when_the_page_is_looked_at_again(
    browser: Browser, office: Served
) -> None:
    with at_desk(browser, office) as desk:
        desk.page.click("#open-search")
        desk.page.evaluate(HIDE, True)
        desk.office.day._search_is(Searching(text="nothing better was found"))
        desk.page.evaluate(HIDE, False)
        desk.page.wait_for_selector("#search >> text=nothing better was found")
        desk.office.day._search_is(Searching())


def test_two_people_and_a_planner_that_does_not_answer(browser: Browser, office: Served) -> None:
    with at_desk(browser, office) as desk, at_desk(browser, office) as other:
        revision, (first, second) = desk.state.revision, orders_of(desk.state, 0)[:2]
        desk.row(second).click()
        other.row(first).click()
        other.press("k")
        other.shown(revision + 1)
        desk.shown(revision + 1)
        assert desk.focused() == f"order {second}"
        assert "changed elsewhere" in desk.page.inner_text("#saved")
        desk.page.evaluate(
            "() => { window.real = fetch; window.fetch = async () => { throw new TypeError(); }; }"
        )
        desk.press("k")
        desk.page.wait_for_selector("#link", state="visible")
        assert "Not saved" in desk.page.inner_text("#link")
        desk.page.evaluate("() => { window.fetch = window.real; }")
        desk.press("z")
        desk.shown(revision + 2)
        desk.page.wait_for_selector("#link", state="hidden")


def test_a_change_that_is_never_answered_is_told_until_one_is(
    browser: Browser, office: Served
) -> None:
    """The limit of 20 s is cut to nothing here; a stream that opens again proves no change kept."""
    with at_desk(browser, office) as desk:
        revision = desk.state.revision
        desk.row(orders_of(desk.state, 0)[0]).click()
        desk.page.evaluate(UNANSWERED)
        desk.press("k")
        desk.page.wait_for_selector("#link >> text=has not answered for 20 seconds")
        desk.page.evaluate(ANSWERED)
        desk.page.evaluate(HIDE, True)
        desk.page.evaluate(HIDE, False)
        desk.page.wait_for_selector("#link >> text=It answers again")
        desk.press("k")
        desk.shown(revision + 1)
        desk.page.wait_for_selector("#link", state="hidden")
        office.day.change(revision + 1, {"kind": "undo"})
        desk.shown(revision + 2)


def test_rows_that_stay_keep_the_list_of_what_is_out_true(browser: Browser, office: Served) -> None:
    """After moves the page holds what a page that is opened anew holds, word for word."""
    words = """[...document.querySelectorAll('#outs, .sheet')].map(
        one => one.textContent.replace(/\\s*\\n\\s*/g, ''))"""
    with at_desk(browser, office) as desk:
        revision = desk.state.revision
        first, second, third = orders_of(desk.state, 0)[:3]
        desk.press("w")
        for number, order in enumerate((third, first, second), start=1):
            office.day.change(revision + number - 1, {"kind": "remove", "orders": [order]})
            desk.shown(revision + number)
        desk.page.focus(f"#lift-{third}")
        office.day.change(revision + 3, {"kind": "undo"})
        desk.shown(revision + 4)
        assert desk.focused() == f"lift-{third}"
        with at_desk(browser, office) as anew:
            assert desk.page.evaluate(words) == anew.page.evaluate(words)
        for number in range(4, 6):
            office.day.change(revision + number, {"kind": "undo"})
        desk.shown(revision + 6)


AS_MADE = """() => {
    const mine = ["hidden", "tabindex", "aria-selected", "aria-expanded", "aria-pressed"];
    const told = (node) => {
        if (node.nodeType !== Node.ELEMENT_NODE) { return node.data.trim(); }
        if (node.matches(".answer, .cure")) { return ""; }
        const chosen = ["chosen", "beside", "held", "seen"];
        const said = [...node.attributes].filter(
            ({ name, value }) => !mine.includes(name) && (name !== "style" || value)).map(
            ({ name, value }) => name === "class"
                ? [...node.classList].filter((one) => !chosen.includes(one)).sort().join(" ")
                : `${name}=${value}`).sort().join(" ");
        return [node.nodeName, said, ...[...node.childNodes].map(told).filter(Boolean)].join("|");
    };
    const parts = ".sheet, .stall, #facts, #acts, #notright, #outs, #drafts";
    return [...document.querySelectorAll(parts)].map(told);
}"""
"""Every piece of the page, without what is chosen on it."""


def test_pieces_put_over_the_old_ones_are_those_of_a_new_page(
    browser: Browser, office: Served
) -> None:
    rng = random.Random(16)
    with at_desk(browser, office) as desk, at_desk(browser, office) as fresh:
        for change in range(1, 41):
            with suppress(PlannerError):
                office.day.change(desk.state.revision, some_change(rng, desk.state))
            desk.shown(desk.state.revision)
            if change % 4:  # What is wrong stays on the page.
                continue
            fresh.page.reload()
            fresh.page.wait_for_selector('body[data-ready="1"]')
            put_over = desk.page.evaluate(AS_MADE)
            for put, made in zip(put_over, fresh.page.evaluate(AS_MADE), strict=True):
                assert put.split("|") == made.split("|"), desk.state.said


PATCHED = """async ([old, made]) => {
    const { patch } = await import("/static/patch.js");
    const [one, other] = [old, made].map((text) => {
        const holder = document.createElement("template");
        holder.innerHTML = text;
        return holder.content.firstElementChild;
    });
    const kept = one.querySelector(".scroll");
    patch(one, other);
    return [one.outerHTML, one.contains(kept)];
}"""


def test_what_comes_above_rows_that_stay_does_not_take_their_place(
    browser: Browser, office: Served
) -> None:
    rows = '<tr data-key="a"><td>1</td></tr><tr data-key="b"><td>2</td></tr>'
    same = '<tr data-same="a"></tr><tr data-key="b"><td>3</td></tr>'
    table = '<div class="scroll"><table><tbody>{}</tbody></table></div>'
    sheet = f'<section><div class="bar"></div>{{}}{table}{{}}</section>'
    cause, gone = '<p class="cause">no</p>', '<p class="gone">was</p>'
    with at_desk(browser, office) as desk:
        for above, below in ((gone, cause), ("", cause), (cause, cause), (cause * 3, "")):
            old = sheet.format("" if above == gone else above, rows, gone)
            made = sheet.format(below, same, gone)
            wanted = sheet.format(below, rows.replace("2", "3"), gone)
            assert desk.page.evaluate(PATCHED, [old, made]) == [wanted, True]


def some_change(rng: random.Random, state: DayState) -> dict[str, object]:
    """A random change that can be made."""
    trucks = [truck for truck in state.trucks if not truck.out]
    orders = [item.what for truck in trucks for item in truck.items if item.kind == "order"]
    kind = rng.choice(("move",) * 6 + ("pin", "remove", "undo", "refill_add", "lunch_move"))
    truck = rng.choice(trucks)
    gap = rng.randrange(len(truck.items) + 1)
    if kind == "undo" and not state.undo:
        kind = "move"
    site = next(iter(state.planned.day.workbook.sites))
    return {
        "move": {"orders": [rng.choice(orders)], "truck": truck.truck_id, "gap": gap},
        "pin": {"orders": [rng.choice(orders)]},
        "remove": {"orders": [rng.choice(orders)]},
        "undo": {},
        "refill_add": {"truck": truck.truck_id, "gap": gap, "site": site},
        "lunch_move": {"truck": truck.truck_id, "gap": gap},
    }[kind] | {"kind": kind}
