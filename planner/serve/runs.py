"""Routes of pages that start, watch and stop a run.

The owner's:

* `GET /compare`: the page; `GET /compare/result/NAME/`: a finished comparison's own page, and
  `GET /compare/result/NAME/FILE`: the files of its figures, which it links.
* `POST /compare/start`, body `{"name", "fleets": [names], "sweeps": ["trucks=3..5"], "from", "to"}`
  or, to go on with one that was stopped, `{"name", "unfinished": true}`; `POST /compare/stop`, body
  `{}`: planner.office.runs.Run as JSON; 422 `{"say"}`.
* `GET /compare/events`: `compare`, the same JSON, as it goes on.

The calendar's:

* `GET /weeks`: the page; `GET /weeks/panel`: its element w-panel as JSON `{"html"}`.
* `GET /weeks/sheet`: the page of `planner weeks`; `GET /weeks/files/NAME`: weeks.csv,
  call-list.csv, weeks.ics.
* `POST /weeks/lay`, body `{"from", "days", "fresh"}`; `POST /weeks/ask`, body `{"wet", "without",
  "write"}`; `POST /weeks/rounds`, body `{"date", "write"}`: planner.office.runs.Run as JSON; 422
  `{"say"}`. `GET /weeks/events`, `POST /weeks/stop`: as of comparisons.
* `POST /weeks/called`, body `{"first", "calls": [rows], "outcome", "note"}`, and
  `POST /weeks/uncalled`, body `{}`, which takes the last of these back: `{"html", "say"}`.
"""

import json
from typing import Any

from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
)
from starlette.routing import Route

from planner.office.runs import CommandRun, Comparisons, Run
from planner.office.weeks import Weeks
from planner.pages.records_page import comparisons_page
from planner.pages.weeks_page import weeks_office_page, weeks_panel
from planner.problems import PlannerError
from planner.serve.answers import HEADERS, NOT_KEPT, Bad, Hub, event_stream, with_body
from planner.serve.later import Desk


def run_routes(name: str, run: CommandRun, hub: Hub) -> list[Route]:
    """`GET /NAME/events`: event NAME, a Run as JSON, as it goes on. `POST /NAME/stop`."""
    run.listeners.append(lambda state: hub.tell(name, **vars(state)))

    async def events(request: Request) -> Response:
        return event_stream(hub, name, json.dumps(vars(run.state)))

    def stop(request: Request) -> Response:
        return JSONResponse(vars(run.stop()))

    return [Route(f"/{name}/events", events), Route(f"/{name}/stop", stop, methods=["POST"])]


def started(state: Run) -> Response:
    """The run that begins, as JSON."""
    return JSONResponse(vars(state), headers=NOT_KEPT)


class CompareDesk(Desk):
    """What the owner's requests are answered with."""

    def __init__(self, comparisons: Comparisons, hub: Hub) -> None:
        self.comparisons, self.hub = comparisons, hub

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/compare", self.page),
            Route("/compare/result/{name}/", self.result),
            Route("/compare/result/{name}/{file}", self.file),
            Route("/compare/start", self.start, methods=["POST"]),
            *run_routes("compare", self.comparisons.run, self.hub),
        ]

    def close(self) -> None:
        """End the comparison that runs."""
        self.comparisons.run.close()

    def page(self, request: Request) -> Response:
        """What was compared, and a form for more."""
        return HTMLResponse(comparisons_page(self.comparisons), headers=NOT_KEPT)

    def result(self, request: Request) -> Response:
        """A finished comparison."""
        text = self.comparisons.page(request.path_params["name"])
        if text is None:
            return PlainTextResponse("There is no such comparison.", 404)
        policy = f"{HEADERS['content-security-policy']} allow-downloads"
        return HTMLResponse(text, headers=HEADERS | {"content-security-policy": policy})

    def file(self, request: Request) -> Response:
        """Its figures for other programs."""
        file = self.comparisons.file(request.path_params["name"], request.path_params["file"])
        if file is None:
            return PlainTextResponse("There is no such comparison or file.", 404)
        return FileResponse(file, filename=file.name, headers=NOT_KEPT)

    @with_body
    def start(self, body: dict[str, Any]) -> Response:
        """Begin one, or go on with one."""
        if body.get("unfinished") is True:
            return started(self.comparisons.go_on(str(body.get("name"))))
        fleets: Any = body.get("fleets")
        sweeps: Any = body.get("sweeps")
        days = {name: body.get(name) or "" for name in ("from", "to")}
        lists = [fleets, sweeps, list(days.values()), [body.get("name")]]
        if not all(isinstance(one, list) and all(isinstance(x, str) for x in one) for one in lists):
            raise Bad("a comparison has a name, fleets, sweeps and days")
        return started(self.comparisons.start(body["name"], fleets, sweeps, days))


class WeeksDesk(Desk):
    """What the calendar's requests are answered with."""

    def __init__(self, weeks: Weeks, hub: Hub) -> None:
        self.weeks, self.hub = weeks, hub

    def routes(self) -> list[Route]:
        """All of them."""
        posts = ("lay", "ask", "rounds", "called", "uncalled")
        return [
            Route("/weeks", self.page),
            Route("/weeks/panel", self.panel),
            Route("/weeks/sheet", self.sheet),
            Route("/weeks/files/{name}", self.file),
            *(Route(f"/weeks/{name}", getattr(self, name), methods=["POST"]) for name in posts),
            *run_routes("weeks", self.weeks.run, self.hub),
        ]

    def close(self) -> None:
        """End the calendar that is laid."""
        self.weeks.run.close()

    def page(self, request: Request) -> Response:
        """The page."""
        return HTMLResponse(weeks_office_page(self.weeks), headers=NOT_KEPT)

    def panel(self, request: Request) -> Response:
        """What of the page changes."""
        return JSONResponse({"html": weeks_panel(self.weeks)}, headers=NOT_KEPT)

    def sheet(self, request: Request) -> Response:
        """The calendar as it prints."""
        return self._text(self.weeks.sheet, HEADERS)

    def file(self, request: Request) -> Response:
        """The calendar for other programs."""
        name = request.path_params["name"]
        headers = {"content-disposition": f'attachment; filename="{name}"', **NOT_KEPT}
        return self._text(lambda: self.weeks.file(name), headers, "text/csv; charset=utf-8")

    @with_body
    def lay(self, body: dict[str, Any]) -> Response:
        """Lay the days."""
        first, days = _texts(body, "from", "days")
        return started(self.weeks.lay(first, days, body.get("fresh") is True))

    @with_body
    def ask(self, body: dict[str, Any]) -> Response:
        """What a lost day or truck would do."""
        wet, without = _texts(body, "wet", "without")
        return started(self.weeks.ask(wet, without, body.get("write") is True))

    @with_body
    def rounds(self, body: dict[str, Any]) -> Response:
        """Where the programs stand."""
        (date,) = _texts(body, "date")
        return started(self.weeks.look_at_rounds(date, body.get("write") is True))

    @with_body
    def called(self, body: dict[str, Any]) -> Response:
        """What came of calls."""
        first, outcome, note = _texts(body, "first", "outcome", "note")
        calls: Any = body.get("calls")
        if not isinstance(calls, list) or not all(type(one) is int for one in calls):
            raise Bad("calls are rows of the list")
        self.weeks.called(calls, outcome, note, first)
        return self._panel(f"recorded: {outcome}")

    @with_body
    def uncalled(self, body: dict[str, Any]) -> Response:
        """Take the last of them back."""
        return self._panel(f"taken back: {self.weeks.take_back()}")

    def _panel(self, say: str) -> Response:
        return JSONResponse({"html": weeks_panel(self.weeks), "say": say}, headers=NOT_KEPT)

    def _text(self, make: Any, headers: dict[str, str], kind: str = "text/html") -> Response:
        try:
            text = make()
        except PlannerError as error:
            return PlainTextResponse(f"The calendar cannot be shown: {error}", 409)
        if text is None:
            return PlainTextResponse("There is no calendar yet.", 404)
        return Response(text, media_type=kind, headers=headers)


def _texts(body: dict[str, Any], *names: str) -> list[str]:
    found = [body.get(name, "") for name in names]
    if not all(isinstance(text, str) for text in found):
        raise Bad(f"{', '.join(names)} are texts")
    return found
