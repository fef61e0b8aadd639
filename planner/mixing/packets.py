"""Water-soluble packets: how many gallons of mix one makes, so that they go in whole."""

from __future__ import annotations

import math

from planner.day.day import Workbook
from planner.mixing.measures import label_most_per_gal
from planner.mixing.recipes import Recipe
from planner.units import KINDS


def gal_of_a_packet(workbook: Workbook, recipe: Recipe) -> float | None:
    """Gallons of the mix that one packet makes, to the next tenth: as many as keep it within the
    label when the meter shows too much. None without packets. Of two such products the one whose
    packet makes more counts: the other is then no stronger."""
    sure = 1 - workbook.settings.meter_error_percent / 100
    found = []
    for part in recipe.parts:
        product = workbook.products[part.product_id]
        packet = product.packet
        if packet is None or packet.kind != KINDS[part.unit] or part.amount_per_gal <= 0:
            continue
        most = label_most_per_gal(product, recipe.carrier_gal_per_1000_ft2)
        at_most = part.amount_per_gal if most is None else min(part.amount_per_gal, most * sure)
        found.append(math.ceil(packet.base / at_most * 10 - 1e-6) / 10)
    return max(found, default=None)


def packet_texts(workbook: Workbook, recipe: Recipe) -> tuple[str, ...]:
    """A sentence for each product of the mix that comes in packets."""
    gal = gal_of_a_packet(workbook, recipe)
    products = [workbook.products[part.product_id] for part in recipe.parts]
    return tuple(
        f"{one.name} comes in packets of {one.packet.value:g} {one.packet.unit} that go in whole, "
        f"one to {gal:.1f} gal of this mix. At another level of the gauge leave out packets, each "
        "with its gallons, or ask the office."
        for one in products
        if gal is not None and one.packet is not None
    )
