"""Water-soluble packets: how many gallons of mix one makes, so that they go in whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.day.day import Workbook
from planner.mixing.recipes import Recipe
from planner.units import KINDS

NEARLY = 1e-6
"""A fill this little over whole packets is float noise."""


@dataclass(frozen=True)
class Room:
    """A fill of gal, and the most gallons that may go in instead: what the compartment and the
    truck's weight rating leave."""

    gal: float
    most_gal: float


def packet_texts(workbook: Workbook, recipe: Recipe, fills: Sequence[Room]) -> tuple[str, ...]:
    """A sentence for each product of the mix that comes in packets, and how many whole ones make
    each fill: packets are not opened or cut. Where one more does not fit, one less is told."""
    found = []
    for part in recipe.parts:
        product = workbook.products[part.product_id]
        packet = product.packet
        if packet is None or packet.kind != KINDS[part.unit] or part.amount_per_gal <= 0:
            continue
        gal = packet.base / part.amount_per_gal
        told = [_fill_text(number, room, gal) for number, room in enumerate(fills, 1)]
        found.append(
            f"{product.name} comes in packets of {packet.value:g} {packet.unit} that go in whole; "
            f"one makes {gal:.1f} gal of this mix. {' '.join(told)}".rstrip()
        )
    return tuple(found)


def _fill_text(number: int, room: Room, packet_gal: float) -> str:
    exact = room.gal / packet_gal
    more = math.ceil(exact - NEARLY)
    count = more if more * packet_gal <= room.most_gal + NEARLY else math.floor(exact + NEARLY)
    made = count * packet_gal
    text = f"Fill {number}: {count} {'packet' if count == 1 else 'packets'}"
    if abs(made - room.gal) <= NEARLY * packet_gal:
        return f"{text}."
    text += (
        f" make {made:.1f} gal in place of {room.gal:g}; take {made / room.gal:.2f} times the "
        "water and every other product"
    )
    if made > room.gal:
        return f"{text}."
    return f"{text}. One more does not fit: {room.gal - made:.1f} gal are missing, ask the office."
