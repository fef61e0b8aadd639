"""Leaflet's own files from the installed package, ready to stand inside a page."""

from __future__ import annotations

import base64
import re
from functools import cache
from importlib.resources import files


@cache
def leaflet_css() -> str:
    """Leaflet's style sheet with its pictures inside."""
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"

    def inside(match: re.Match[str]) -> str:
        picture = base64.b64encode((folder / match.group(1)).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{picture})"

    text = (folder / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"url\((images/[\w.-]+\.png)\)", inside, text)


@cache
def leaflet_js() -> str:
    """Leaflet's program, without the pointer to its source map (a request in developer tools)."""
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"
    text = (folder / "leaflet.js").read_text(encoding="utf-8")
    return re.sub(r"//# sourceMappingURL=\S+\s*$", "", text)


def page_file(name: str) -> str:
    """A style sheet or script that lies beside this module."""
    return (files("planner.maps") / name).read_text(encoding="utf-8")
