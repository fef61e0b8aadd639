"""A label's most per application where it differs by grass or target (table product_rates)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner.compliance.applied import parts_of
from planner.compliance.label_checks import compared, slack
from planner.day.day import Workbook
from planner.day.orders import Order
from planner.rules.grasses import grasses_of

RATE_HOLD_CODES: Final = {"RATE": "The mix is over a label's most for the lawn's grass or target"}
"""Code of a hold by these rates -> title."""


def rate_reasons(workbook: Workbook, order: Order) -> Iterator[tuple[str, str]]:
    """(code, reason) for every product that is over its most on this grass or for this target."""
    mix, home = workbook.mixes[order.mix_id], workbook.properties[order.property_id]
    for part, product in parts_of(workbook, order):
        for row in workbook.product_rates:
            if row.product_id != product.product_id:
                continue
            if row.target and row.target.casefold() != part.target.casefold():
                continue
            if row.grass and not grasses_of(row.grass) & grasses_of(home.grass):
                continue
            limit = row.rate_most
            reached = compared(mix, product, part.rate, limit)
            if reached is None or reached > limit.most_base * slack(part.rate, limit):
                about = " ".join(
                    text
                    for text in (
                        f"on {row.grass}" if row.grass else "",
                        f"for {row.target}" if row.target else "",
                    )
                    if text
                )
                yield (
                    "RATE",
                    f"{product.name} is mixed at {part.rate.text}; its label allows {limit.text} "
                    f"{about or 'at most'}",
                )
