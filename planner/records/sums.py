"""Sums by state and product over a period, for annual reports."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from planner.records.current import CORRECTED, SKIPPED, SPRAYED, current, kind_of, whole_of
from planner.records.store import Event

ASKED_OF_SUMS: Final = (
    "is",
    "state",
    "order_id",
    "part_of",
    "area_ft2",
    "products.product_id",
    "products.name",
    "products.registration_no",
    "products.label_amount",
    "products.label_unit",
    "products.amount",
    "products.unit",
)
"""What year_rows takes of a body."""

APPLIED_KINDS: Final = (SPRAYED, SKIPPED, CORRECTED)
"""Kinds of events that say what was applied: a correction may turn one into the other."""


@dataclass(frozen=True)
class YearRow:
    """One product over a period. applications: properties and days on which it was applied."""

    period: str
    state: str
    product: str
    registration_no: str
    applications: int
    area_ft2: float
    amount: float
    amount_unit: str
    amount_base: float
    amount_base_unit: str


def year_rows(events: Iterable[Event], period: str, state: str = "") -> tuple[YearRow, ...]:
    """Sums by state and product of what was applied, as it stands after all corrections. events:
    of the period, with at least ASKED_OF_SUMS; period: as it is to be named, '2027' or '2027-04';
    state: two letters, '' = all."""
    groups: dict[tuple[str, str, str, str], list[tuple[Event, dict[str, Any]]]] = {}
    for event in current(events).values():
        body = event.body
        if kind_of(event) != SPRAYED or (state and body["state"] != state):
            continue
        for one in body["products"]:
            product = one["name"] or one["product_id"]
            key = (body["state"], product, one["registration_no"], one["label_unit"])
            groups.setdefault(key, []).append((event, one))
    return tuple(
        YearRow(
            period=period,
            state=in_state,
            product=product,
            registration_no=number,
            applications=len({(event.day, whole_of(event.body)) for event, _ in group}),
            area_ft2=round(math.fsum(event.body["area_ft2"] for event, _ in group), 1),
            amount=round(math.fsum(one["label_amount"] for _, one in group), 4),
            amount_unit=unit,
            amount_base=round(math.fsum(one["amount"] for _, one in group), 6),
            amount_base_unit=group[0][1]["unit"],
        )
        for (in_state, product, number, unit), group in sorted(groups.items())
    )
