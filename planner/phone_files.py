"""A planned day as the pages of its crews' phones and a sheet of links, as text."""

from __future__ import annotations

from planner.chain import PlannedDay, background_streets, legs_of
from planner.papers.packet import date_text, truck_files
from planner.papers.render import render
from planner.phone.codes import qr_svg
from planner.phone.page import phone_pages
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
