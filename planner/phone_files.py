"""A planned day as the pages of its crews' phones and a sheet of links, as text; the office's
sheet: a code per truck, and what is written and no record yet."""

from collections.abc import Mapping
from contextlib import suppress
from datetime import date, datetime
from typing import Final

from planner.chain import PlannedDay, background_streets, legs_of
from planner.day.clock import clock_text
from planner.papers.packet import date_text, truck_files
from planner.papers.render import render
from planner.phone.page import inline_hash, phone_pages, qr_svg
from planner.phone_day import PhoneDay
from planner.plan.document import to_json
from planner.records.sealed import plan_checksum

LINKS = "links.html"


def phone_files(planned: PlannedDay, address: str = "") -> dict[str, str]:
    """File name -> text. address: where the folder is put on the web, '' = nowhere."""
    plan, day = planned.plan, planned.day
    legs = legs_of(plan, planned.roads)
    checksum = plan_checksum(to_json(plan))
    pages = phone_pages(
        plan,
        day,
        legs,
        background_streets(planned, legs),
        checksum,
        credit=planned.roads.roads.credit,
        broken=[str(violation) for violation in planned.violations],
    )
    names = {key: f"phone-{name}" for key, name in truck_files(pages).items()}
    links = [
        {
            "file": name,
            "title": day.workbook.trucks[key].title,
            "applicator": day.workbook.trucks[key].applicator,
            "code": qr_svg(f"{address.rstrip('/')}/{name}") if address else "",
        }
        for key, name in names.items()
    ]
    sheet = render(
        "phone_links.html",
        when=date_text(day.date),
        checksum=checksum,
        settings=day.workbook.settings,
        links=links,
        address=address,
    )
    return {LINKS: sheet} | {names[key]: page for key, page in pages.items()}


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
    trucks = phone.waiting()
    return render(
        "phones.html",
        style=STYLE,
        when=date_text(date.fromisoformat(phone.date)),
        trucks=trucks,
        heard={row.truck_id: _clock_here(row.heard) for row in trucks},
        links=links,
        note=note,
        codes={name: qr_svg(link) for name, link in links.items()},
    )


def _clock_here(at: str) -> str:
    """A phone's ISO time on the office's clock, as 7:05 AM; as it is where it is none."""
    with suppress(ValueError):
        when = datetime.fromisoformat(at).astimezone()
        return clock_text(60 * when.hour + when.minute)
    return at
