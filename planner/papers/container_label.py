"""What stands on a service container that takes mix out of a hose.

EPA, Secondary Containers and Service Containers for Pesticides, www.epa.gov/pesticide-labels
(archived page, opening read 2026-11-26): it recommends a label and requires none; states may.
The fields here (identity, registration number, signal word, firm) are from memory: verify.
"""

from __future__ import annotations

from planner.day.day import Day
from planner.papers.lookup import mix_name
from planner.papers.render import gal_text


def container_label(day: Day, mix_id: str, gal: float) -> str:
    """Identity, registration numbers, signal words, firm and date of a mix in a container. Raises
    KeyError for a mix that the day does not have."""
    book = day.workbook
    parts = []
    for part in book.mixes[mix_id].parts:
        product = book.products[part.product_id]
        number = f", EPA reg. no. {product.registration_no}" if product.registration_no else ""
        actives = f" ({product.active_ingredient})" if product.active_ingredient else ""
        word = f", {product.signal_word}" if product.signal_word != "none" else ""
        parts.append(f"{product.name}{actives}{number}{word}, {part.rate.text}")
    firm = ", ".join(text for text in (book.settings.company, book.settings.phone) if text)
    return (
        f"SPRAY MIX, READY TO USE: {mix_name(day, mix_id)}, about {gal_text(gal)} gal, mixed "
        f"{day.date:%Y-%m-%d}. {'; '.join(parts)}. {firm}. Keep out of reach of children."
    )
