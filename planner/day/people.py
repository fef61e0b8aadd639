"""People who spray and drive, and people who must be told before a spray."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Applicator:
    """A person of the crews. name: as trucks.applicator has it; license_until, training_until,
    medical_card_until: the last good days, None = not written down; cdl_class: 'A', 'B', 'C',
    'none' or None = not written down; supervisor: of a person without a license, by name."""

    name: str
    license: str = ""
    categories: tuple[str, ...] = ()
    license_until: date | None = None
    training_until: date | None = None
    medical_card_until: date | None = None
    cdl_class: str | None = None
    supervisor: str = ""


def names_in(cell: str) -> tuple[str, ...]:
    """The people that a cell names: 'Ann Lee; Bo Roe' are two."""
    parts = re.split(r"[;,/&+]|\band\b", cell)
    return tuple(" ".join(part.split()) for part in parts if part.strip())


def people_named(cell: str, people: Iterable[Applicator]) -> tuple[Applicator, ...]:
    """The rows of people whose name stands in the cell, whole or as one of several; capitals and
    spaces do not count."""
    wanted = {" ".join(name.split()).casefold() for name in (cell, *names_in(cell))}
    return tuple(one for one in people if " ".join(one.name.split()).casefold() in wanted)


@dataclass(frozen=True)
class Registered:
    """Someone who must be told before a spray nearby. lat, lon with radius_ft, and
    listed_addresses: what it is near to; state: '' = any; lead_least_h, lead_most_h: hours before
    the visit, None = as the state says, and any time before."""

    name: str
    phone: str = ""
    email: str = ""
    address: str = ""
    lat: float | None = None
    lon: float | None = None
    radius_ft: float | None = None
    listed_addresses: tuple[str, ...] = ()
    state: str = ""
    lead_least_h: float | None = None
    lead_most_h: float | None = None
