"""Customers found by a part of their name, street or id, while a person types."""

from __future__ import annotations

from planner.day.day import Day

MOST_FOUND = 12


def customers(day: Day, text: str) -> list[tuple[str, str]]:
    """(property, its customer and address) of those that hold every word of the text, in the order
    of the tables; the first MOST_FOUND."""
    words = text.casefold().split()
    found = []
    for home in day.workbook.properties.values():
        shown = f"{home.customer}, {home.address}{f', {home.town}' if home.town else ''}"
        if words and all(word in f"{shown} {home.property_id}".casefold() for word in words):
            found.append((home.property_id, f"{shown} ({home.property_id})"))
            if len(found) == MOST_FOUND:
                break
    return found
