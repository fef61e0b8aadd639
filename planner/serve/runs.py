"""Routes of pages that start, watch and stop a run.

The owner's:

* `GET /compare`: the page; `GET /compare/result?name=`: a finished comparison's own page.
* `POST /compare/start`, body `{"name", "fleets": [names], "sweeps": ["trucks=3..5"], "from", "to"}`
  and `POST /compare/stop`, body `{}`: planner.office.runs.Run as JSON; 422 `{"say"}`.
* `GET /compare/events`: `compare`, the same JSON, as it goes on.

The calendar's:

* `GET /weeks`: the page; `GET /weeks/panel`: its element w-panel as JSON `{"html"}`.
* `GET /weeks/sheet`: the page of `planner weeks`; `GET /weeks/files/NAME`: weeks.csv,
  call-list.csv, weeks.ics.
* `POST /weeks/lay`, body `{"from", "days", "fresh"}`; `POST /weeks/ask`, body `{"wet", "without",
  "write"}`; `POST /weeks/rounds`, body `{"date", "write"}`: planner.office.runs.Run as JSON; 422
  `{"say"}`. `GET /weeks/events`, `POST /weeks/stop`: as of comparisons.
* `POST /weeks/called`, body `{"first", "calls": [rows], "outcome", "note"}`: `{"html", "say"}`.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from planner import pages
from planner.office.changes import Refused
from planner.office.runs import CommandRun, Comparisons, Run
from planner.office.weeks import Weeks
from planner.problems import PlannerError
from planner.serve.answers import HEADERS, NOT_KEPT, Bad, Hub, body_of, event_stream


def run_routes(name: str, run: CommandRun, hub: Hub) -> list[Route]:
    """`GET /NAME/events`: event NAME, a Run as JSON, as it goes on. `POST /NAME/stop`."""
    run.listeners.append(lambda state: hub.tell(name, **vars(state)))

    async def events(request: Request) -> Response:
        return event_stream(hub, name, json.dumps(vars(run.state)))

    async def stop(request: Request) -> Response:
        return JSONResponse(vars(await run_in_threadpool(run.stop)))

    return [Route(f"/{name}/events", events), Route(f"/{name}/stop", stop, methods=["POST"])]


async def started(start: Callable[[], Run]) -> Response:
    """The run that begins, as JSON, or 422 with why it does not."""
    try:
        state = await run_in_threadpool(start)
    except Refused as error:
        return JSONResponse({"say": str(error)}, 422)
    return JSONResponse(vars(state), headers=NOT_KEPT)


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


class WeeksDesk:
    """What the calendar's requests are answered with."""

    def __init__(self, weeks: Weeks, hub: Hub) -> None:
        self.weeks, self.hub = weeks, hub

    def routes(self) -> list[Route]:
        """All of them."""
        posts = ("lay", "ask", "rounds", "called")
        return [
            Route("/weeks", self.page),
            Route("/weeks/panel", self.panel),
            Route("/weeks/sheet", self.sheet),
            Route("/weeks/files/{name}", self.file),
            *(Route(f"/weeks/{name}", getattr(self, name), methods=["POST"]) for name in posts),
            *run_routes("weeks", self.weeks.run, self.hub),
        ]

    async def page(self, request: Request) -> Response:
        """The page."""
        text = await run_in_threadpool(pages.weeks_office_page, self.weeks)
        return HTMLResponse(text, headers=NOT_KEPT)

    async def panel(self, request: Request) -> Response:
        """What of the page changes."""
        html = await run_in_threadpool(pages.weeks_panel, self.weeks)
        return JSONResponse({"html": html}, headers=NOT_KEPT)

    async def sheet(self, request: Request) -> Response:
        """The calendar as it prints."""
        return await self._text(self.weeks.sheet, HEADERS)

    async def file(self, request: Request) -> Response:
        """The calendar for other programs."""
        name = request.path_params["name"]
        headers = {"content-disposition": f'attachment; filename="{name}"', **NOT_KEPT}
        return await self._text(lambda: self.weeks.file(name), headers, "text/csv; charset=utf-8")

    async def lay(self, request: Request) -> Response:
        """Lay the days."""
        body = await _texts(request, "from", "days")
        fresh = body.get("fresh") is True
        return await started(lambda: self.weeks.lay(body["from"], body["days"], fresh))

    async def ask(self, request: Request) -> Response:
        """What a lost day or truck would do."""
        body = await _texts(request, "wet", "without")
        write = body.get("write") is True
        return await started(lambda: self.weeks.ask(body["wet"], body["without"], write))

    async def rounds(self, request: Request) -> Response:
        """Where the programs stand."""
        body = await _texts(request, "date")
        write = body.get("write") is True
        return await started(lambda: self.weeks.look_at_rounds(body["date"], write))

    async def called(self, request: Request) -> Response:
        """What came of calls."""
        body = await _texts(request, "first", "outcome", "note")
        calls: Any = body.get("calls")
        if not isinstance(calls, list) or not all(type(one) is int for one in calls):
            raise Bad("calls are rows of the list")

        def made() -> Response:
            try:
                self.weeks.called(calls, body["outcome"], body["note"], body["first"])
            except Refused as error:
                return JSONResponse({"say": str(error)}, 422)
            html = pages.weeks_panel(self.weeks)
            say = f"recorded: {body['outcome']}"
            return JSONResponse({"html": html, "say": say}, headers=NOT_KEPT)

        return await run_in_threadpool(made)

    async def _text(self, make: Any, headers: dict[str, str], kind: str = "text/html") -> Response:
        try:
            text = await run_in_threadpool(make)
        except PlannerError as error:
            return PlainTextResponse(f"The calendar cannot be shown: {error}", 409)
        if text is None:
            return PlainTextResponse("There is no calendar yet.", 404)
        return Response(text, media_type=kind, headers=headers)


async def _texts(request: Request, *names: str) -> dict[str, Any]:
    body = await body_of(request)
    if not all(isinstance(body.setdefault(name, ""), str) for name in names):
        raise Bad(f"{', '.join(names)} are texts")
    return body
