"""Make the guide's pictures of the page: four questions of a first-time user, as answered there,
and the pages beside the day.

Run after `planner demo`: python demo_data/make_page_pictures.py out/demo [PICTURE...]

It opens the demo day by `planner serve` in a browser (playwright and Debian's chromium). Pictures
go to demo_data/pictures.
"""

from __future__ import annotations

import base64
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from make_pictures import PICTURES, REPOSITORY, chunk
from playwright.sync_api import Page, sync_playwright

SIZE = {"width": 1180, "height": 664}
STEPS = 6
"""Shades of each of red, green and blue: 216 colors are enough for flat areas and letters."""

PIXELS = """async (source) => {
  const picture = new Image();
  picture.src = source;
  await picture.decode();
  const canvas = document.createElement("canvas");
  canvas.width = picture.width;
  canvas.height = picture.height;
  const on = canvas.getContext("2d");
  on.drawImage(picture, 0, 0);
  const all = on.getImageData(0, 0, picture.width, picture.height).data;
  let text = "";
  for (let at = 0; at < all.length; at += 8192) {
    text += String.fromCharCode(...all.subarray(at, at + 8192));
  }
  return btoa(text);
}"""


def latest(page: Page) -> None:
    """Which truck is latest: nothing to press."""


def out(page: Page) -> None:
    """Why an order is out: the link in the line."""
    page.click("#open-outs")


def move(page: Page) -> None:
    """How to move a stop: choose it, press Move; the trucks answer."""
    page.locator("#sheet-1 tr.visit").last.click()
    page.click("#do-lift")
    page.wait_for_selector(".answer.can")


def printing(page: Page) -> None:
    """How to print: the black button."""
    page.click("#open-print")


def records(page: Page) -> None:
    """What was really done: once the day is printed."""
    page.click("#open-print")
    page.click("#print-record")
    page.wait_for_selector("#print-record", state="detached")
    page.goto(page.url.replace("/day", "/records"))


def weeks(page: Page) -> None:
    """Every open order on a day of this week."""
    page.goto(page.url.replace("/day", "/weeks"))
    page.fill("[name=days]", "5")
    page.click("#w-go")
    page.wait_for_selector("#w-ask", timeout=1_200_000)


def importing(page: Page) -> None:
    """What is to be decided of another program's export."""
    page.goto(page.url.replace("/day", "/import"))
    page.set_input_files(
        "[name=file]", {"name": "export.csv", "mimeType": "text/csv", "buffer": EXPORT.encode()}
    )
    page.click("#i-take")
    page.wait_for_selector("#i-open")
    page.locator("#r-main").evaluate("one => { one.scrollTop = 0; one.blur(); }")


def tables(page: Page) -> None:
    """What is wrong in a cell, and its cure."""
    orders = BOOK / "orders.csv"
    orders.write_text(orders.read_text().replace(",BROAD,", ",BROAT,", 1))
    page.goto(page.url.replace("/day", "/tables"))
    page.wait_for_selector("#t-problems li")
    page.keyboard.press("n")


EXPORT = """Client,Street,City,Turf Sq Ft,Service,Due
"Newman, Greta",12 Vista Trail,Alder Mills,6100,Weed control,5/4/27
"Oakes, Rosa",732 Vista Trail,Alder Mills,about 18000,Spring feed,5/6/27
"""
BOOK = Path(tempfile.mkdtemp()) / "demo_data" / "spring_day"
"""A copy of the demo's tables, which the pages may write into."""

SCENES: dict[str, Callable[[Page], None]] = {
    "page-latest": latest,
    "page-out": out,
    "page-move": move,
    "page-print": printing,
    "page-records": records,
    "page-weeks": weeks,
    "page-import": importing,
    "page-tables": tables,
}


def main() -> None:
    """All pictures, or those that are named."""
    if len(sys.argv) < 2 or set(sys.argv[2:]) - set(SCENES):
        sys.exit(f"usage: python demo_data/make_page_pictures.py FOLDER {[*SCENES]}")
    shutil.copytree(REPOSITORY / "demo_data" / "spring_day", BOOK)
    (BOOK.parents[1] / "maps").symlink_to(REPOSITORY / "maps")
    plan = Path(sys.argv[1]).resolve() / "plan.json"
    with tempfile.TemporaryDirectory() as aside, sync_playwright() as playwright:
        server = subprocess.Popen(
            [
                *(sys.executable, "-u", "-m", "planner", "serve", "--port", "0"),
                *(BOOK, "--plan", plan, "--out", Path(aside) / "printed"),
            ],
            stdout=subprocess.PIPE,
            text=True,
            env={"PLANNER_STATE_DIR": aside, "PATH": ""},
        )
        assert server.stdout is not None
        link = next(
            found[0] for line in server.stdout if (found := re.search(r"http\S+/open/\S+", line))
        )
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page(viewport=SIZE)
        page.goto(link)
        blank = browser.new_page()
        for name in sys.argv[2:] or SCENES:
            act = SCENES[name]
            page.goto(re.sub(r"/open/.*", "/day", link))
            page.wait_for_selector('body[data-ready="1"]')
            act(page)
            # The map draws its streets after the rest.
            page.wait_for_timeout(800)
            shot = base64.b64encode(page.screenshot()).decode("ascii")
            pixels = blank.evaluate(PIXELS, f"data:image/png;base64,{shot}")
            content = few_colors(base64.b64decode(pixels))
            (PICTURES / f"{name}.png").write_bytes(content)
            sys.stdout.write(f"{name}: {len(content) / 1000:.0f} kB\n")
        browser.close()
        server.terminate()
        server.wait()


def few_colors(rgba: bytes) -> bytes:
    """A PNG of 216 colors, one byte to a dot (https://www.w3.org/TR/png-3/)."""
    high, wide = SIZE["height"], SIZE["width"]
    dots = np.frombuffer(rgba, np.uint8).reshape(high, wide, 4)[:, :, :3].astype(int)
    shades = (dots * (STEPS - 1) + 127) // 255
    rows = (shades @ np.array([STEPS * STEPS, STEPS, 1])).astype(np.uint8)
    palette = bytes(
        255 * shade // (STEPS - 1)
        for number in range(STEPS**3)
        for shade in (number // STEPS**2, number // STEPS % STEPS, number % STEPS)
    )
    lines = b"".join(b"\0" + row.tobytes() for row in rows)
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 3, 0, 0, 0)),
            chunk(b"PLTE", palette),
            chunk(b"IDAT", zlib.compress(lines, 9)),
            chunk(b"IEND", b""),
        ]
    )


if __name__ == "__main__":
    main()
