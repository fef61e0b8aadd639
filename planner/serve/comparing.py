"""The owner's routes.

* `GET /compare`: the page; `GET /compare/result?name=`: a finished comparison's own page.
* `POST /compare/start`, body `{"name", "fleets": [names], "sweeps": ["trucks=3..5"], "from", "to"}`
  and `POST /compare/stop`, body `{}`: planner.office.runs.Run as JSON; 422 `{"say"}`.
* `GET /compare/events`: `compare`, the same JSON, as it goes on.
"""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route

from planner import pages
from planner.office.comparisons import Comparisons
from planner.serve.bodies import NOT_KEPT, Bad, body_of
from planner.serve.events import Hub
from planner.serve.papers import HEADERS
from planner.serve.runs import run_routes, started


class CompareDesk:
    """What the owner's requests are answered with."""

    def __init__(self, comparisons: Comparisons, hub: Hub) -> None:
        self.comparisons, self.hub = comparisons, hub

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/compare", self.page),
            Route("/compare/result", self.result),
            Route("/compare/start", self.start, methods=["POST"]),
            *run_routes("compare", self.comparisons.run, self.hub),
        ]

    async def page(self, request: Request) -> Response:
        """What was compared, and a form for more."""
        text = await run_in_threadpool(pages.comparisons_page, self.comparisons)
        return HTMLResponse(text, headers=NOT_KEPT)

    async def result(self, request: Request) -> Response:
        """A finished comparison."""
        name = request.query_params.get("name", "")
        text = await run_in_threadpool(self.comparisons.page, name)
        if text is None:
            return PlainTextResponse("There is no such comparison.", 404)
        return HTMLResponse(text, headers=HEADERS)

    async def start(self, request: Request) -> Response:
        """Begin one."""
        body = await body_of(request)
        fleets: Any = body.get("fleets")
        sweeps: Any = body.get("sweeps")
        days = {name: body.get(name) or "" for name in ("from", "to")}
        lists = [fleets, sweeps, list(days.values()), [body.get("name")]]
        if not all(isinstance(one, list) and all(isinstance(x, str) for x in one) for one in lists):
            raise Bad("a comparison has a name, fleets, sweeps and days")
        return await started(lambda: self.comparisons.start(body["name"], fleets, sweeps, days))
