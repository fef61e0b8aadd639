"""Make the README's pictures and the map to look at from the demo day's folder, and the picture of
the page of fleets from the demo season's.

Run after `planner demo`: python demo_data/make_pictures.py out/demo
Run after `planner demo --season`: python demo_data/make_pictures.py out/season

It needs Debian's chromium and poppler-utils (pdftoppm). Pictures go to demo_data/pictures, the map
to maps/demo-day.html.
"""

from __future__ import annotations

import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[1]
PICTURES = REPOSITORY / "demo_data" / "pictures"
MAP = REPOSITORY / "maps" / "demo-day.html"

TRUCK = "T2"
"""Two reels, a shared line, refills and a cleaning: its packet shows most."""

SEASON_MARK = "comparison.json"
"""A folder with this file holds a comparison."""

SHEET_DOTS_PER_INCH = 130
MAP_SIZE = "1400,900"

FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars")


def main() -> None:
    """Pictures of a mix sheet, a route sheet and the map, or of the page of fleets."""
    if len(sys.argv) != 2:
        sys.exit("usage: python demo_data/make_pictures.py FOLDER (written by planner demo)")
    folder = Path(sys.argv[1]).resolve()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None or shutil.which("pdftoppm") is None:
        sys.exit("chromium and pdftoppm are needed: apt-get install chromium poppler-utils")
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        made = (
            season_pictures(chromium, folder, Path(name))
            if (folder / SEASON_MARK).exists()
            else day_pictures(chromium, folder, Path(name))
        )
    for file in made:
        size = file.stat().st_size / 1000
        sys.stdout.write(f"{file.relative_to(REPOSITORY)}: {size:.0f} kB\n")


def day_pictures(chromium: str, folder: Path, aside: Path) -> list[Path]:
    """A mix sheet, a route sheet and the map; the map itself is copied."""
    text = (folder / f"truck-{TRUCK}.html").read_text(encoding="utf-8")
    sheets = [PICTURES / f"{kind}-sheet.png" for kind in ("mix", "route")]
    for kind, picture in zip(("mix", "route"), sheets, strict=True):
        picture_of_sheet(chromium, only_sheet(text, kind), picture, aside)
    picture_of_map(chromium, folder / "map.html", PICTURES / "map.png", aside)
    shutil.copyfile(folder / "map.html", MAP)
    return [*sheets, PICTURES / "map.png", MAP]


def season_pictures(chromium: str, folder: Path, aside: Path) -> list[Path]:
    """The first sheet of the page of fleets."""
    picture = PICTURES / "fleets.png"
    text = (folder / "index.html").read_text(encoding="utf-8")
    picture_of_sheet(chromium, text, picture, aside)
    return [picture]


def only_sheet(packet: str, kind: str) -> str:
    """The packet with its first sheet of that kind alone."""
    sheets = re.findall(r'<section class="sheet .*?</section>', packet, flags=re.DOTALL)
    wanted = next(sheet for sheet in sheets if sheet.startswith(f'<section class="sheet {kind}-'))
    first, last = packet.index(sheets[0]), packet.index(sheets[-1]) + len(sheets[-1])
    return packet[:first] + wanted + packet[last:]


def picture_of_sheet(chromium: str, page: str, picture: Path, aside: Path) -> None:
    """The first printed page, in grays."""
    source, paper = aside / "sheet.html", aside / "sheet.pdf"
    source.write_text(page, encoding="utf-8")
    run(chromium, aside, "--no-pdf-header-footer", f"--print-to-pdf={paper}", source.as_uri())
    raw = aside / "sheet.pgm"
    dots = str(SHEET_DOTS_PER_INCH)
    subprocess.run(
        ["pdftoppm", "-r", dots, "-gray", "-singlefile", str(paper), str(raw.with_suffix(""))],
        check=True,
    )
    picture.write_bytes(sixteen_grays(raw.read_bytes()))


def sixteen_grays(pgm: bytes) -> bytes:
    """A binary gray map of 256 grays (PGM, P5) as a PNG of 16, a third of the size: enough for
    black print. PNG by https://www.w3.org/TR/png-3/, four bits to a dot."""
    kind, width, height, _, dots = pgm.split(maxsplit=4)
    assert kind == b"P5"
    wide, high = int(width), int(height)
    rows = []
    for at in range(0, wide * high, wide):
        # Print on white paper leaves hardly a tone between; the nearest of 16 is not seen.
        row = [min(15, (dot + 8) // 17) for dot in dots[at : at + wide]]
        pairs = zip(row[::2], [*row[1::2], 15], strict=False)
        rows.append(b"\0" + bytes(left << 4 | right for left, right in pairs))
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 4, 0, 0, 0, 0)),
            chunk(b"IDAT", zlib.compress(b"".join(rows), 9)),
            chunk(b"IEND", b""),
        ]
    )


def chunk(name: bytes, content: bytes) -> bytes:
    """One part of a PNG file."""
    sums = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + sums


def picture_of_map(chromium: str, page: Path, picture: Path, aside: Path) -> None:
    """The map as it opens on a desk."""
    size = f"--window-size={MAP_SIZE}"
    time = "--virtual-time-budget=4000"
    run(chromium, aside, size, time, f"--screenshot={picture}", page.as_uri())


def run(chromium: str, aside: Path, *arguments: str) -> None:
    """One headless run with a profile of its own."""
    subprocess.run(
        [chromium, *FLAGS, f"--user-data-dir={aside / 'profile'}", *arguments],
        check=True,
        capture_output=True,
    )


if __name__ == "__main__":
    main()
