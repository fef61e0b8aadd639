"""The open day as HTML fragments for a browser, with its style sheet and its own scripts. No HTTP.

STATIC: folder of the files under /static; STATIC_PACKAGES: (package, folder in it) of files of
others that stand there too (Leaflet's), as starlette's StaticFiles takes them.
"""

from pathlib import Path
from typing import Final

from planner.pages.asked import asked_parts, compared_part
from planner.pages.day_page import day_page, day_parts, search_parts
from planner.pages.import_page import import_main, import_page
from planner.pages.records_page import comparisons_page, records_page
from planner.pages.tables_page import located, named, row_form, tables_page, tables_parts
from planner.pages.weeks_page import weeks_office_page, weeks_panel
from planner.pages.words import Part
from planner.pages.yard import customers, day_map

STATIC: Final = Path(__file__).parent / "static"
STATIC_PACKAGES: Final = (("js_lib_leaflet", "static/js_lib_leaflet"),)

__all__ = [
    "STATIC",
    "STATIC_PACKAGES",
    "Part",
    "asked_parts",
    "compared_part",
    "comparisons_page",
    "customers",
    "day_map",
    "day_page",
    "day_parts",
    "import_main",
    "import_page",
    "located",
    "named",
    "records_page",
    "row_form",
    "search_parts",
    "tables_page",
    "tables_parts",
    "weeks_office_page",
    "weeks_panel",
]
