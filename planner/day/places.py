"""Places: yards, water points and customers' properties."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

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
    trucks_at_once: how many can fill at one time, None = any number. phone: as Property."""

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
