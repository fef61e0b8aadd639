"""Golden texts of the papers: what a reader sees, line by line, of the sample day.

When a change of wording is meant: python -m tests.golden_papers, then look at the difference.
"""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

from planner.papers.packet import packet_pages
from tests.sample_plan import sample_day, sample_legs, sample_plan

FOLDER = Path(__file__).parent / "data" / "papers"

_LINE_ENDS = re.compile(r"</(?:p|h\d|tr|li|div|header|article|figure|figcaption|text|nav)>|<br>")


def plain(page: str) -> str:
    """The words of a page, a line per row or paragraph."""
    body = page[page.index("<body") :]
    text = _LINE_ENDS.sub("\n", re.sub(r"\s+", " ", body))
    text = unescape(re.sub(r"</t[dh]>", " | ", text))
    lines = (
        re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", line)).strip(" |") for line in text.split("\n")
    )
    return "\n".join(line for line in lines if line) + "\n"


def golden() -> dict[str, str]:
    """File name -> text."""
    day = sample_day()
    plan = sample_plan(day)
    pages = packet_pages(plan, day, sample_legs(plan), "map.html", "0123456789")
    return {name.removesuffix(".html") + ".txt": plain(page) for name, page in pages.items()}


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in golden().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
