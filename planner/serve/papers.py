"""Sheets to look at and print, from the same functions as the commands'."""

from __future__ import annotations

import re
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from planner.office.open_day import SharedDay
from planner.papers.packet import truck_files

POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src 'self' "
    "data: blob:; font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'; "
    "sandbox allow-scripts allow-modals allow-popups allow-top-navigation-by-user-activation"
)
"""Sheets and map carry their styles and scripts in themselves. In the sandbox these are of no
origin: they can neither read the office's cookie nor ask its routes."""

HEADERS: Final = {"content-security-policy": POLICY, "cache-control": "no-store"}
_BODY: Final = re.compile(r"<body[^>]*>(.*)</body>", re.DOTALL)


class Sheets:
    """The papers' routes."""

    def __init__(self, day: SharedDay) -> None:
        self._day = day

    async def paper(self, request: Request) -> Response:
        """One paper by its file name."""
        files = await run_in_threadpool(self._day.files)
        text = files.get(request.path_params["name"])
        if text is None or not request.path_params["name"].endswith(".html"):
            return PlainTextResponse("There is no such sheet.", 404)
        return HTMLResponse(text, headers=HEADERS)

    async def packet(self, request: Request) -> Response:
        """The packets of some trucks as one page to print."""
        files = await run_in_threadpool(self._day.files)
        trucks = self._day.state.planned.plan.trucks
        names = truck_files(truck.truck_id for truck in trucks)
        wanted = [names.get(truck_id, "") for truck_id in request.query_params.getlist("truck")]
        wanted = [name for name in wanted if name in files]
        if not wanted:
            return PlainTextResponse("There is no packet of such a truck.", 404)
        return HTMLResponse(joined([files[name] for name in wanted]), headers=HEADERS)


def joined(pages: list[str]) -> str:
    """Pages of the same style as one, each beginning on a new sheet."""
    first, *others = pages
    bodies = [match[1] for page in others if (match := _BODY.search(page))]
    breaks = "".join(f'<div style="break-before:page">{body}</div>' for body in bodies)
    return first.replace("</body>", f"{breaks}</body>")
