"""Places: yards, water points and customers' properties; numbers and addresses as links that a
phone understands."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Final
from urllib.parse import quote

from planner.day.clock import DateSpan

COMPASS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
"""Points of the compass, clockwise."""


class SiteKind(StrEnum):
    """What a site is for."""

    YARD = "yard"
    WATER_POINT = "water point"


@dataclass(frozen=True)
class Site:
    """A place where a truck can refill. mixes: what may be made there, None = every mix.
    trucks_at_once: how many can fill at one time, None = any number. phone: as Property. state:
    where it lies, '' = not written down. unlicensed: mixes that the table allows there and a
    license does not (rule 35)."""

    site_id: str
    kind: SiteKind
    name: str
    address: str
    lat: float
    lon: float
    fill_gal_per_min: float
    setup_min: float
    open_min: float | None
    close_min: float | None
    mixes: frozenset[str] | None
    note: str
    trucks_at_once: int | None = None
    phone: str = ""
    state: str = ""
    unlicensed: frozenset[str] = frozenset()

    def makes(self, mix_id: str) -> bool:
        """Whether the table has the mix made there."""
        return self.mixes is None or mix_id in self.mixes or mix_id in self.unlicensed


@dataclass(frozen=True)
class Edge:
    """A border of a lawn along which a strip stays unsprayed. name: 'well'; length_ft: of the
    border; keep_ft: from it; away_ft: from it to the lawn."""

    name: str
    length_ft: float
    keep_ft: float
    away_ft: float


@dataclass(frozen=True)
class Property:
    """A customer's property. water_distance_ft: None = no water near. shore_ft: of the lawn's
    border along that water, None = not known. edges: others along which a strip stays
    unsprayed. grass_since: the day the lawn was sown or sodded, None = long ago.
    phosphorus_test: the day of a soil test that calls for phosphorus, None = none. usual_truck:
    whose crew knows the place, None = any; it may be out of service. serve_on: weekdays (0 =
    Monday) on which the customer may be served, None = any. skip_dates: days on which nobody
    may come. hold_until, hold_reason: nothing is done there before that day; a reason without a
    day holds until it is cleared. phone, phone_2: as people read them, '(614) 555-0123 ext. 4
    (cell)', '' = none. contact_by: 'call', 'text', 'email', 'none' (not at all) or '' (any
    way). language: '' = English. bloom: days on which
    something blooms on the lawn or beside it. hives_ft: to the nearest beehives, None = none near.
    sensitive_side: a point of COMPASS."""

    property_id: str
    customer: str
    address: str
    town: str
    state: str
    zip_code: str
    lat: float
    lon: float
    lawn_ft2: float
    grass: str
    hose_run_ft: float
    water_distance_ft: float | None
    weather_area: str
    gate_note: str
    dog_note: str
    sign: bool
    notice: str
    county: str = ""
    grass_since: date | None = None
    phosphorus_test: date | None = None
    usual_truck: str | None = None
    serve_on: tuple[int, ...] | None = None
    skip_dates: tuple[DateSpan, ...] = ()
    hold_until: date | None = None
    hold_reason: str = ""
    phone: str = ""
    phone_2: str = ""
    email: str = ""
    contact_by: str = ""
    language: str = ""
    shore_ft: float | None = None
    edges: tuple[Edge, ...] = ()
    bloom: tuple[DateSpan, ...] = ()
    hives_ft: float | None = None
    sensitive_side: str | None = None


_NUMBER = re.compile(
    r"(\+[2-9]\d?[\d\s-]+\d|(?:\+?1[\s.-]*)?\(?\d{3}\)?[\s./-]*\d{3}[\s.-]*\d{4})"
    r"(?:\s*(?:ext\.?|x)\s*(\d+))?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class ContactWay:
    """One way to reach someone. how: 'call', 'text' or 'email'; text: number or address; label: to
    read, the verb alone where the text stands before it; href: link that starts it, '' where no
    device could."""

    how: str
    text: str
    href: str
    label: str = ""


def tel(number: str) -> str:
    """The link that calls a number as read in a table or setting, 'tel:+16145550142;ext=4'
    (RFC 3966); '' where the area code is missing."""
    found = _NUMBER.search(number)
    if not found:
        return ""
    digits = re.sub(r"\D", "", found[1])
    return f"tel:+{'1' * (len(digits) == 10)}{digits}" + (f";ext={found[2]}" if found[2] else "")


def ways(at: Property) -> tuple[ContactWay, ...]:
    """Every way to reach a customer, the one that the customer wants first; none where the customer
    wants none."""
    found = [] if at.contact_by == "none" else list(_ways(at))
    found.sort(key=lambda way: way.how != at.contact_by)
    labeled: list[ContactWay] = []
    for way in found:
        again = any(way.text == other.text for other in labeled)
        verb = f"{way.how} " if at.contact_by == way.how and not labeled else ""
        labeled.append(replace(way, label=way.how if again else verb + way.text))
    return tuple(labeled)


def _ways(at: Property) -> Iterator[ContactWay]:
    numbers = [number for number in (at.phone, at.phone_2) if number]
    yield from (ContactWay("call", number, tel(number)) for number in numbers)
    for number in numbers:
        link = tel(number)
        if link and ";" not in link:
            # RFC 5724; a text reaches no extension.
            yield ContactWay("text", number, link.replace("tel:", "sms:"))
            break
    if at.email:
        yield ContactWay("email", at.email, f"mailto:{quote(at.email, safe='@+')}")


def reach_text(at: Property) -> str:
    """All of it on one line for lists: 'text (614) 555-0142; pat@example.com; speaks Spanish'. ''
    where nothing is known."""
    parts = [way.label for way in ways(at) if way.label != way.how]
    if at.contact_by == "none":
        parts = ["wants no calls or messages"]
    return "; ".join([*parts, *([f"speaks {at.language}"] if at.language else [])])
