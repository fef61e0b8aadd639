"""The open day as HTML fragments for a browser, with its style sheet and its own scripts. No HTTP.

STATIC: folder of the files under /static; STATIC_PACKAGES: (package, folder in it) of files of
others that stand there too (Leaflet's), as starlette's StaticFiles takes them.

The scripts ask for the routes of planner/serve, and expect besides:

* `GET /day/compare?draft=` -> `{"revision", "parts": {"compared": compared_part(...)}}`;
* `{"kind": "new_order", "property", "mix", "priority", "note", "area_ft2"?, "open"?, "close"?}`
  ("09:30") is a change, after which the order stands among those not in the day;
* pages to print, opened in a tab of their own: `GET /day/packet?truck=T1&truck=T3`, and
  `GET /day/papers/index.html`, `/day/papers/pick-list.html`, `/day/papers/map.html`.
"""

from pathlib import Path
from typing import Final

from planner.pages.asked import asked_parts
from planner.pages.compared import compared_part
from planner.pages.customers import customers
from planner.pages.day_page import day_page, day_parts, search_parts
from planner.pages.map_data import day_map
from planner.pages.part import Part

STATIC: Final = Path(__file__).parent / "static"
STATIC_PACKAGES: Final = (("js_lib_leaflet", "static/js_lib_leaflet"),)

__all__ = [
    "STATIC",
    "STATIC_PACKAGES",
    "Part",
    "asked_parts",
    "compared_part",
    "customers",
    "day_map",
    "day_page",
    "day_parts",
    "search_parts",
]
