"""What a click or a hover on the map says, as HTML made of escaped text."""

from __future__ import annotations

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.places import Property, Site
from planner.day.reach import tel, ways
from planner.maps.escape import html_text
from planner.papers.lookup import mix_name
from planner.plan.model import NotDone, Stop


def address_text(at: Property) -> str:
    """Street and town."""
    return ", ".join(part for part in (at.address, at.town) if part)


def visit_popup(day: Day, truck: str, stop: Stop, streets: str) -> str:
    """A visit: customer, clock, orders, what the crew must know."""
    at = day.workbook.properties.get(stop.place_id)
    rows = [f"<b>{html_text(truck)}, stop {stop.seq}</b>"]
    if at is not None:
        rows += [f"<b>{html_text(address_text(at))}</b>", html_text(at.customer), _reach(at)]
    rows.append(
        f"{clock_text(stop.arrive_min)}: work {clock_text(stop.begin_min)} to "
        f"{clock_text(stop.leave_min)}{', done' if stop.done else ''}"
    )
    for work in stop.orders:
        name = html_text(mix_name(day, work.mix_id))
        rows.append(f"{name}: <b>{work.gal:.1f} gal</b> on {work.area_ft2:,.0f} ft²")
        if work.displaced_mix_id:
            rows.append(f"change of mix: {work.hose_gal:.1f} gal out of the hose first")
    if at is not None:
        for title, note in (("Gate", at.gate_note), ("Dog", at.dog_note), ("Notice", at.notice)):
            if note:
                rows.append(f"{title}: {html_text(note)}")
        if at.sign:
            rows.append("Place a sign")
    return _lines([*rows, *_way(stop, streets)])


def refill_popup(day: Day, truck: str, stop: Stop, streets: str) -> str:
    """A refill stop: what goes into which compartment."""
    rows = [
        f"<b>{html_text(truck)}, refill at stop {stop.seq}</b>",
        html_text(site_name(day, stop.place_id)),
        f"{clock_text(stop.begin_min)} to {clock_text(stop.leave_min)}"
        f"{', done' if stop.done else ''}",
    ]
    for fill in stop.fills:
        rows.append(
            f"Compartment {html_text(fill.compartment_id)}, "
            f"{html_text(mix_name(day, fill.mix_id))}: add <b>{fill.gal:g} gal</b>"
        )
    return _lines([*rows, *_way(stop, streets)])


def site_name(day: Day, place_id: str) -> str:
    """The site as the crew says it."""
    site = day.workbook.sites.get(place_id)
    return site.name if site is not None else place_id


def site_popup(site: Site) -> str:
    """A yard or water point."""
    rows = [f"<b>{html_text(site.name)}</b>", html_text(site.address), html_text(site.kind.value)]
    rows.append(f"fills {site.fill_gal_per_min:g} gal/min")
    if site.open_min is not None and site.close_min is not None:
        rows.append(f"open {clock_text(site.open_min)} to {clock_text(site.close_min)}")
    return _lines([*rows, _link(tel(site.phone), site.phone), html_text(site.note)])


def not_done_popup(day: Day, entry: NotDone, at: Property, word: str) -> str:
    """A held or unserved order with its reason."""
    order = day.workbook.orders[entry.order_id]
    return _lines(
        [
            f"<b>{word}: order {html_text(entry.order_id)}</b>",
            html_text(address_text(at)),
            html_text(at.customer),
            _reach(at),
            html_text(mix_name(day, order.mix_id)),
            html_text(entry.reason),
        ]
    )


def _link(href: str, text: str) -> str:
    return f'<a href="{html_text(href)}">{html_text(text)}</a>' if href else html_text(text)


def _reach(at: Property) -> str:
    """How the customer is reached, the wanted way first."""
    links = [_link(way.href, way.label) for way in ways(at)]
    if at.contact_by == "none":
        links = ["wants no calls or messages"]
    return " · ".join([*links, *([html_text(f"speaks {at.language}")] if at.language else [])])


def _way(stop: Stop, streets: str) -> list[str]:
    rows = [f"drive there: {stop.drive_min:.0f} min, {stop.drive_miles:.1f} mi"]
    if streets:
        rows.append("via " + html_text(streets))
    return rows


def _lines(rows: list[str]) -> str:
    return "<br>".join(row for row in rows if row)
