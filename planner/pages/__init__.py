"""The open day as HTML fragments for a browser, with its style sheet and its own scripts. No HTTP.

STATIC: folder of the files under /static; STATIC_PACKAGES: (package, folder in it) of files of
others that stand there too (Leaflet's), as starlette's StaticFiles takes them.
"""

from pathlib import Path
from typing import Final

STATIC: Final = Path(__file__).parent / "static"
STATIC_PACKAGES: Final = (("js_lib_leaflet", "static/js_lib_leaflet"),)
