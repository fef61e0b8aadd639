"""Customer text made safe for the map page.

A map page nests several languages: HTML inside a JavaScript string inside a script element, all
written by templates that are read a second time. One helper makes text harmless in all of them.
"""

from __future__ import annotations

import json
from html import escape

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
