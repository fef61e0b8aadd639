"""How a customer or a crew is reached: numbers and addresses as links that a phone understands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from urllib.parse import quote

from planner.day.places import Property

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
