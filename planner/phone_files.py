"""A planned day as the pages of its crews' phones and a sheet of links, as text."""

from __future__ import annotations

from collections.abc import Mapping

from planner.chain import PlannedDay, background_streets, legs_of
from planner.day.day import Day
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
    links = [_link(day, key, name, address) for key, name in names.items()]
    sheet = _sheet(day, checksum, links, address)
    return {LINKS: sheet} | {names[key]: page for key, page in pages.items()}


def links_sheet(day: Day, checksum: str, paths: Mapping[str, str], address: str) -> str:
    """The sheet of links to pages that a server has. paths: truck id -> path of its page; address:
    of the server."""
    links = [_link(day, key, path.lstrip("/"), address) for key, path in paths.items()]
    return _sheet(day, checksum, links, address, served=True)


def _link(day: Day, truck_id: str, file: str, address: str) -> dict[str, str]:
    truck = day.workbook.trucks[truck_id]
    return {
        "file": file,
        "title": truck.title,
        "applicator": truck.applicator,
        "code": qr_svg(f"{address.rstrip('/')}/{file}") if address else "",
    }


def _sheet(
    day: Day, checksum: str, links: list[dict[str, str]], address: str, *, served: bool = False
) -> str:
    return render(
        "phone_links.html",
        when=date_text(day.date),
        checksum=checksum,
        settings=day.workbook.settings,
        links=links,
        address=address,
        served=served,
    )
