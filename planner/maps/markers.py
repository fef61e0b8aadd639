"""Markers of the map as plain values that page.js draws.

A marker: lat, lon, html (its sign), kind (style class), alt (its name for screen readers and
hover), popup, mixes (numbers of its mixes; it hides when all of them are switched off), size
(widths in pixels of the whole sign and of its short form). A sign has three forms: whole, short and
a dot with the truck's letter; page.js takes the largest that hides no other sign.
"""

from collections.abc import Mapping

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.places import Property, Site, tel, ways
from planner.maps.look import Arrow, Look, arrows, html_text
from planner.papers.lookup import mix_name
from planner.plan.model import NotDone, Plan, Stop, TruckPlan
from planner.roads.travel import Leg


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


Marker = dict[str, object]

ARROW_EVERY_MILES = 0.7
"""Close enough to follow a way street by street, far enough not to hide it."""

UNDER_SIGNS = -5000
"""Lift of the arrows: Leaflet draws what stands farther south on top, by its pixels."""

SIGN_PX, LETTER_PX = 14, 8
"""Widths of a sign's edges and of one letter in it (page.css: 12 px, bold)."""


def mix_numbers(plan: Plan) -> dict[str, int]:
    """A number for each mix that the plan sprays, in the order of trucks and stops."""
    numbers: dict[str, int] = {}
    for truck_plan in plan.trucks:
        for stop in truck_plan.stops:
            for work in stop.orders:
                numbers.setdefault(work.mix_id, len(numbers))
    return numbers


def truck_markers(
    truck_plan: TruckPlan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    look: Look,
    title: str,
    mixes: Mapping[str, int],
) -> list[Marker]:
    """Direction arrows, numbered stops and refill stops of one truck."""
    markers: list[Marker] = []
    for stop in truck_plan.stops:
        leg = legs.get((truck_plan.truck_id, stop.seq))
        streets = " › ".join(leg.streets) if leg is not None else ""
        if leg is not None:
            markers += [_arrow(row, look) for row in arrows(leg.points, ARROW_EVERY_MILES)]
        if stop.kind == "visit":
            markers.append(_visit(stop, day, look, title, streets, mixes))
        elif stop.kind == "refill":
            markers.append(_refill(stop, day, look, title, streets))
    return markers


def _arrow(arrow: Arrow, look: Look) -> Marker:
    html = (
        '<div><svg width="16" height="16" viewBox="-8 -8 16 16" aria-hidden="true">'
        f'<path d="M0-7L5.5 6 0 3-5.5 6Z" fill="{look.color}" stroke="#fff" '
        f'transform="rotate({arrow.bearing_deg:.0f})"/></svg></div>'
    )
    return {
        "lat": round(arrow.lat, 5),
        "lon": round(arrow.lon, 5),
        "html": html,
        "kind": f"arrow way-{look.lane}",
        "lift": UNDER_SIGNS,
    }


def _visit(
    stop: Stop, day: Day, look: Look, title: str, streets: str, mixes: Mapping[str, int]
) -> Marker:
    at = day.workbook.properties.get(stop.place_id)
    names = " and ".join(mix_name(day, work.mix_id) for work in stop.orders)
    where = address_text(at) if at is not None else stop.place_id
    return {
        **_sign(stop.lat, stop.lon, "stop", f"{look.letter}{stop.seq}", look.letter, look.color),
        "alt": f"{title}, stop {stop.seq}: {where}, {names}",
        "popup": visit_popup(day, title, stop, streets),
        "mixes": sorted({mixes[work.mix_id] for work in stop.orders}),
        "lift": 100,
    }


def _refill(stop: Stop, day: Day, look: Look, title: str, streets: str) -> Marker:
    gal = sum(fill.gal for fill in stop.fills)
    return {
        **_sign(
            stop.lat,
            stop.lon,
            "refill",
            f"{look.letter}{stop.seq} +{gal:.0f} gal",
            look.letter,
            short=f"{look.letter}{stop.seq}",
        ),
        "alt": f"{title}, stop {stop.seq}: refill {gal:.0f} gallons, "
        f"{site_name(day, stop.place_id)}",
        "popup": refill_popup(day, title, stop, streets),
        "lift": 20,
    }


def site_markers(day: Day) -> list[Marker]:
    """Yards and water points."""
    return [
        {
            **_sign(
                site.lat,
                site.lon,
                "site",
                site.kind.value.split()[0].upper(),
                site.kind.value[0].upper(),
            ),
            "alt": f"{site.kind.value}: {site.name}",
            "popup": site_popup(site),
            "lift": 50,
        }
        for site in day.workbook.sites.values()
    ]


def not_done_markers(entries: tuple[NotDone, ...], day: Day, word: str) -> list[Marker]:
    """Held or unserved orders. word: 'Held' or 'Unserved'."""
    markers: list[Marker] = []
    for entry in entries:
        order = day.workbook.orders.get(entry.order_id)
        at = day.workbook.properties.get(order.property_id) if order is not None else None
        if at is None:
            continue
        markers.append(
            {
                **_sign(at.lat, at.lon, "off", word[0], word[0]),
                "alt": f"{word}: {address_text(at)}: {entry.reason}",
                "popup": not_done_popup(day, entry, at, word),
                "lift": 300,
            }
        )
    return markers


def _sign(
    lat: float, lon: float, kind: str, text: str, letter: str, color: str = "", short: str = ""
) -> Marker:
    """letter: shown where there is room for a dot only; short: where the text does not fit."""
    style = f' style="background:{color}"' if color else ""
    html = (
        f'<div class="{kind}" data-letter="{html_text(letter)}" '
        f'data-short="{html_text(short or text)}"{style}>{html_text(text)}</div>'
    )
    widths = [SIGN_PX + LETTER_PX * len(part) for part in (text, short or text)]
    return {
        "lat": round(lat, 5),
        "lon": round(lon, 5),
        "html": html,
        "kind": "sign",
        "size": widths,
    }
