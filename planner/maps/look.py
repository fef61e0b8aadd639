"""How trucks and stops look on the map: a color, a dash pattern and a letter per truck.

Color is never the only sign; the letter stands in each stop's marker and the dash pattern on the
road, so that a black-and-white print can still be read.

A map page nests several languages: HTML inside a JavaScript string inside a script element, all
written by templates that are read a second time. One helper makes text harmless in all of them.
"""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from planner.papers.direction import plain_direction

_TEMPLATE_SIGNS = {"`": "&#96;", "\\": "&#92;", "{": "&#123;", "}": "&#125;"}
"""Signs that mean something in a JavaScript template string (backtick, ${) or in folium's page
templates ({{, {%, {#), as HTML entities: harmless there, and still shown as the sign itself."""


def html_text(text: str) -> str:
    """Text for HTML that is carried inside JavaScript: shows as written, without signs that would
    turn around the figures after it."""
    safe = escape(plain_direction(text), quote=True)
    for sign, entity in _TEMPLATE_SIGNS.items():
        safe = safe.replace(sign, entity)
    return safe


def script_json(value: object) -> str:
    """A value as JSON that cannot close the script element it stands in, or open a comment."""
    text = plain_direction(json.dumps(value, ensure_ascii=False, separators=(",", ":")))
    # U+2028 and U+2029 end a line in older JavaScript.
    text = text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


COLORS = ("#0b5fa5", "#a63603", "#00694e", "#7a2a8c", "#5c4a00", "#b0003a", "#34495e", "#006d7a")
"""Dark enough for white text on them (contrast over 4.5 to 1) and apart in lightness or hue for
the common kinds of color blindness. Checked in test_map.py."""

DASHES = ("", "12 6", "2 7", "14 5 2 5", "7 5", "20 6", "2 4 10 4", "4 8")
"""SVG dash patterns, the first one solid."""

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O, which read as figures."""

LANES = 5
"""So many ways are drawn beside each other (classes way-0 to way-4 of page.css)."""

EARTH_MILES = 3958.8


@dataclass(frozen=True)
class Look:
    """How one truck is drawn. lane: which of the ways beside each other on one road (page.css)."""

    letter: str
    color: str
    dash: str
    lane: int


def look(number: int) -> Look:
    """The look of the truck at that place in the plan; colors and dashes repeat out of step, so
    that no two of the first 64 trucks share both, and letters go on as A2, B2, ..."""
    again, place = divmod(number, len(LETTERS))
    letter = LETTERS[place] + (str(again + 1) if again else "")
    turn = number // len(COLORS)
    return Look(
        letter, COLORS[number % len(COLORS)], DASHES[(number + turn) % len(DASHES)], number % LANES
    )


@dataclass(frozen=True)
class Arrow:
    """Where a way is marked with its direction. bearing_deg: clockwise from north."""

    lat: float
    lon: float
    bearing_deg: float


def arrows(points: Sequence[tuple[float, float]], every_miles: float) -> tuple[Arrow, ...]:
    """Arrows along a way, at its middle and then every so many miles to both sides of it."""
    lengths = [_miles(a, b) for a, b in pairwise(points)]
    total = sum(lengths)
    if total < every_miles / 6:
        return ()
    count = max(1, round(total / every_miles))
    marks = [(number + 0.5) * total / count for number in range(count)]
    found = []
    gone = 0.0
    for (a, b), length in zip(pairwise(points), lengths, strict=True):
        while marks and length > 0 and marks[0] <= gone + length:
            share = (marks.pop(0) - gone) / length
            lat = a[0] + share * (b[0] - a[0])
            lon = a[1] + share * (b[1] - a[1])
            found.append(Arrow(lat, lon, _bearing_deg(a, b)))
        gone += length
    return tuple(found)


def _miles(a: tuple[float, float], b: tuple[float, float]) -> float:
    north = math.radians(b[0] - a[0])
    east = math.radians(b[1] - a[1]) * math.cos(math.radians((a[0] + b[0]) / 2))
    return math.hypot(north, east) * EARTH_MILES


def _bearing_deg(a: tuple[float, float], b: tuple[float, float]) -> float:
    east = (b[1] - a[1]) * math.cos(math.radians((a[0] + b[0]) / 2))
    return math.degrees(math.atan2(east, b[0] - a[0])) % 360
