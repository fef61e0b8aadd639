"""Water-soluble packets: how many gallons of mix one makes, so that they go in whole."""

from __future__ import annotations

from planner.day.day import Workbook
from planner.mixing.recipes import Recipe
from planner.units import KINDS


def packet_texts(workbook: Workbook, recipe: Recipe) -> tuple[str, ...]:
    """A sentence for each product of the mix that comes in packets: packets are not opened or cut,
    so a fill is made of so many gallons as whole packets make."""
    found = []
    for part in recipe.parts:
        product = workbook.products[part.product_id]
        packet = product.packet
        if packet is None or packet.kind != KINDS[part.unit] or part.amount_per_gal <= 0:
            continue
        gal = packet.base / part.amount_per_gal
        counts = ", ".join(f"{number} make {number * gal:.1f}" for number in (2, 3, 4))
        found.append(
            f"{product.name} comes in packets of {packet.value:g} {packet.unit} that go in whole: "
            f"one makes {gal:.1f} gal of this mix, {counts}. Add the gallons of the whole packets "
            "that come next under this sheet's, and tell the office."
        )
    return tuple(found)
