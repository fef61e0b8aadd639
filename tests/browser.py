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


def serious(page: Page) -> list[tuple[str, str, list[str]]]:
    """What axe calls serious or critical."""
    return [row for row in violations(page) if row[1] in {"serious", "critical"}]
