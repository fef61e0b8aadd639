"""Debian's chromium driven by Playwright: what a page asks for, says, shows and prints."""

from __future__ import annotations

import atexit
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.chromium import CHROMIUM

try:
    from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
except ImportError:  # pragma: no cover - the test extra brings it
    sync_playwright = None  # type: ignore[assignment]

needs_browser = pytest.mark.skipif(
    CHROMIUM is None or sync_playwright is None,
    reason="no chromium or no playwright on this machine",
)

DESK, PHONE = (1280, 900), (390, 844)

PAPER_PX = {"Letter": (816, 1056), "A4": (794, 1123)}
"""Sheets at 96 pixels to the inch."""


_running: list[tuple[ExitStack, Browser]] = []
_shared: list[BrowserContext] = []


@contextmanager
def chromium() -> Iterator[Browser]:
    """A headless browser for some tests; what they opened in it is closed after them. It goes on
    running for the tests after: to start one takes seconds of processor."""
    if not (_running and _running[0][1].is_connected()):
        end_chromium()
        with ExitStack() as stack:
            playwright = stack.enter_context(sync_playwright())
            started = playwright.chromium.launch(
                executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
            )
            stack.callback(started.close)
            _running.append((stack.pop_all(), started))
    browser = _running[0][1]
    before = {id(context) for context in browser.contexts}
    try:
        yield browser
    finally:
        for context in browser.contexts:
            if id(context) not in before:
                context.close()


@atexit.register
def end_chromium() -> None:
    """End the browser, if one runs."""
    while _running:
        _running.pop()[0].close()


def _lasting(browser: Browser) -> BrowserContext:
    """A context with an empty page: pages opened beside it take over its process, and to start one
    takes longer than to show a page."""
    if not (_shared and _shared[0] in browser.contexts):
        _shared[:] = [browser.new_context()]
        _shared[0].new_page().goto("file:///")
    return _shared[0]


@dataclass
class Heard:
    """What a page did that no page of ours may do."""

    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    @property
    def nothing(self) -> bool:
        """No address asked, no message on the console, no dialog."""
        return not (self.requests or self.complaints or self.dialogs)


def visit(
    browser: Browser, file: Path, size: tuple[int, int] = DESK, *, keeps: bool = False
) -> tuple[Page, Heard]:
    """Open a file as a person would. keeps: the page keeps something in the browser, and must find
    nothing that another kept."""
    heard = Heard()
    context = browser.new_context() if keeps else _lasting(browser)
    page = context.new_page()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.set_default_timeout(8000)
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith(("file:", "data:", "blob:"))
            else heard.requests.append(request.url)
        ),
    )
    page.on("console", lambda message: heard.complaints.append(message.text))
    page.on("pageerror", lambda error: heard.complaints.append(str(error)))

    def dialog_opened(dialog: object) -> None:
        heard.dialogs.append(str(dialog))
        dialog.dismiss()  # type: ignore[attr-defined]

    page.on("dialog", dialog_opened)
    page.goto(file.as_uri())
    return page, heard


MAP = "Object.values(window).find(one => one instanceof L.Map)"
"""The page's map, in its own words."""

SETTLED = """async (state) => {
    const moves = () => document.querySelector(".leaflet-zoom-anim, .leaflet-pan-anim")
        || document.getAnimations().some(one => one.playState === "running");
    for (let frames = 0, still = 0; still < 2; frames++) {
        if (frames > 3000) { throw new Error(`never settled: ${state}`); }
        await new Promise(requestAnimationFrame);
        still = (STATE) && !moves() ? still + 1 : 0;
    }
    await new Promise((done) => setTimeout(done));
}"""


def settled(page: Page, state: str = "true") -> None:
    """Wait until what JavaScript says of the page is true, nothing is animated, two frames have
    passed so and what the last of them put off is done."""
    page.evaluate(SETTLED.replace("STATE", state), state)


def zoom_in(page: Page) -> None:
    """Press the map's +, and wait until it stands still one zoom nearer."""
    nearer = page.evaluate(f"{MAP}.getZoom()") + 1
    page.locator(".leaflet-control-zoom-in").click()
    settled(page, f"{MAP}.getZoom() === {nearer}")


def until(page: Page, met: Callable[[], bool]) -> None:
    """Wait until something outside the page has come about; the page goes on meanwhile."""
    for _ in range(1500):
        if met():
            return
        page.wait_for_timeout(20)
    raise AssertionError("it did not come about in half a minute")


def printed(page: Page, paper: str) -> tuple[int, bytes]:
    """How many sheets the page prints on, and the PDF."""
    content = page.pdf(format=paper, prefer_css_page_size=True)
    counts = re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", content)
    assert counts, "the PDF names no page count"
    return max(int(count) for count in counts), content


def beyond_paper(page: Page, paper: str, margins_px: float) -> list[str]:
    """Texts that reach over the right edge of the printable width."""
    width, height = PAPER_PX[paper]
    page.emulate_media(media="print")
    page.set_viewport_size({"width": int(width - margins_px), "height": height})
    return page.evaluate(
        """() => [...document.querySelectorAll('main *')].filter(one => {
            const box = one.getBoundingClientRect();
            return box.width > 0 && box.right > document.documentElement.clientWidth + 1;
        }).map(one => one.tagName + ' ' + one.textContent.trim().slice(0, 60))"""
    )


def violations(page: Page) -> list[tuple[str, str, list[str]]]:
    """What axe-core 4 finds (https://dequeuniversity.com/rules/axe/): rule, impact, places."""
    from axe_playwright_python.sync_playwright import Axe

    # Its other answers, and selectors of what it finds, take as long as looking.
    options = {"resultTypes": ["violations"], "selectors": False, "preload": False}
    return [
        (rule["id"], rule["impact"], [node["html"][:120] for node in rule["nodes"]][:3])
        for rule in Axe().run(page, options=options).response["violations"]
    ]


CONTROLS = """() => [...document.querySelectorAll(
    "a[href], button, input, select, textarea, summary, [tabindex]"
)].filter((one) => one.getClientRects().length && one.tabIndex >= 0 && !one.disabled
    && getComputedStyle(one).visibility === "visible" && !one.closest("[hidden], [inert]")
    && (one.type !== "radio" || one.checked
        || ![...document.getElementsByName(one.name)].some((other) => other.checked))
    && !window.tabbed.includes(one)).map((one) => `not reached: ${one.outerHTML.slice(0, 90)}`)"""

FOCUSED = """() => {
    const one = document.activeElement;
    if (!one || one === document.body) { return null; }
    if (window.tabbed.includes(one)) { return []; }
    window.tabbed.push(one);
    const box = one.getBoundingClientRect(), faults = [];
    const edges = (from, to) => [from + Math.min(5, (to - from) / 2), (from + to) / 2,
                                 to - Math.min(5, (to - from) / 2)];
    const there = edges(box.left, box.right).some((x) => edges(box.top, box.bottom).some((y) => {
        const at = document.elementFromPoint(x, y);
        return at && (one.contains(at) || at.contains(one));
    }));
    const ringed = [one, one.parentElement, ...one.querySelectorAll("*")].some((part) => {
        const style = getComputedStyle(part);
        return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1.5;
    });
    const name = one.outerHTML.slice(0, 90);
    if (!there) { faults.push(`under something: ${name}`); }
    // Within a frame its own document draws the ring.
    if (!ringed && one.tagName !== "IFRAME") { faults.push(`no ring: ${name}`); }
    if (one.tabIndex > 0) { faults.push(`out of the page's order: ${name}`); }
    return faults;
}"""


def by_tab(page: Page, most: int = 500) -> list[str]:
    """Faults of a walk through the page by Tab alone: controls that it does not reach, or not in
    the order of the page, focus that is not to be seen or lies under something (WCAG 2.2: 2.1.1,
    2.4.3, 2.4.7, 2.4.11)."""
    page.evaluate("() => { window.tabbed = []; document.activeElement?.blur(); }")
    faults: list[str] = []
    left = 0
    for _ in range(most):
        page.keyboard.press("Tab")
        found = page.evaluate(FOCUSED)
        left += found is None
        faults += found or []
        if left > 1 or page.evaluate("tabbed.length > 1 && tabbed[0] === document.activeElement"):
            return faults + page.evaluate(CONTROLS)
    raise AssertionError(f"Tab does not come round in {most} presses")


def sideways(page: Page, but: str = "") -> list[str]:
    """What is wider than its place and scrolls sideways, the page among it. but: selector of what
    may."""
    return page.evaluate(
        """(but) => [document.documentElement, ...document.querySelectorAll("body *")].filter(
            (one) => one.scrollWidth > one.clientWidth + 1 && one.clientWidth > 1
                && !/visible|hidden/.test(getComputedStyle(one).overflowX + (
                    one === document.documentElement ? "auto" : ""))
                && !(but && one.matches(but))
        ).map((one) => one.outerHTML.slice(0, 90))""",
        but,
    )


def serious(page: Page) -> list[tuple[str, str, list[str]]]:
    """What axe calls serious or critical."""
    return [row for row in violations(page) if row[1] in {"serious", "critical"}]
