"""The office's sheet of the phones: a code per truck, and what is written and no record yet."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Final

from planner.papers.packet import date_text
from planner.papers.render import render
from planner.phone.codes import qr_svg
from planner.phone.page import inline_hash
from planner.phone_day import PhoneDay

STYLE: Final = (
    "body{font:17px/1.35 Arial,sans-serif;color:#111;background:#fff;margin:0 auto;padding:16px;"
    "max-width:960px;overflow-wrap:anywhere}h1,h2{line-height:1.15;margin:.2em 0}"
    "section{border-top:4px solid #111;padding:10px 0;break-inside:avoid;display:flex;gap:20px;"
    "flex-wrap:wrap}section>div{flex:1 1 300px}svg{flex:none;max-width:100%;height:auto}"
    "a{color:#0b3d6b}li{margin:.3em 0}@media print{.noprint{display:none}}"
)
SHEET_POLICY: Final = (
    f"default-src 'none'; style-src {inline_hash(STYLE)}; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'self'"
)
"""Content-Security-Policy of the sheet, which has no script."""


def phones_page(phone: PhoneDay, links: Mapping[str, str], note: str = "") -> str:
    """links: truck id -> address of its page; note: what the office must know before it hands the
    codes out. Raises as PhoneDay does."""
    return render(
        "phones.html",
        style=STYLE,
        when=date_text(date.fromisoformat(phone.date)),
        trucks=phone.waiting(),
        links=links,
        note=note,
        codes={name: qr_svg(link) for name, link in links.items()},
    )
