"""Customer text made safe for the map page.

A map page nests several languages: HTML inside a JavaScript string inside a script element, all
written by templates that are read a second time. One helper makes text harmless in all of them.
"""

from __future__ import annotations

import json
from html import escape

_TEMPLATE_SIGNS = {"`": "&#96;", "\\": "&#92;", "{": "&#123;", "}": "&#125;"}
"""Signs that mean something in a JavaScript template string (backtick, ${) or in folium's page
templates ({{, {%, {#), as HTML entities: harmless there, and still shown as the sign itself."""


def html_text(text: str) -> str:
    """Text for HTML that is carried inside JavaScript: shows exactly as written."""
    safe = escape(text, quote=True)
    for sign, entity in _TEMPLATE_SIGNS.items():
        safe = safe.replace(sign, entity)
    return safe


def script_json(value: object) -> str:
    """A value as JSON that may stand inside a script element: it cannot close the element or
    open a comment in it."""
    text = json.dumps(value, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
