"""The office's routes over an open day."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Sequence
from dataclasses import asdict
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from planner import pages
from planner.by_hand.codes import StopOrderError
from planner.office.changes import Refused
from planner.office.day import DayState
from planner.office.journal import JournalError
from planner.office.open_day import OpenDay, Stale
from planner.plain_json import read_json
from planner.serve.events import Hub
from planner.serve.guard import Guard, Keys
from planner.serve.parts import Pieces

AGAIN_EFFORT = 200
"""Of planning the rest again, where none is asked for: some seconds of one core."""
NOT_KEPT = {"cache-control": "no-store"}


class Bad(Exception):
    """A request that is none of the page's."""


class Office:
    """What the office's requests are answered with. cookie: name of its cookie; on_link: called
    when a one-time link was used."""

    def __init__(self, day: OpenDay, keys: Keys, hub: Hub, cookie: str) -> None:
        self.day, self.keys, self.hub, self.cookie = day, keys, hub, cookie
        self.pieces = Pieces()
        self.on_link: Callable[[], None] = lambda: None
        day.listeners.append(self._tell)
        day.on_search.append(self._tell_search)

    def _tell(self, state: DayState) -> None:
        self.hub.tell("revision", revision=state.revision, said=state.said)

    def _tell_search(self, state: DayState) -> None:
        self.hub.tell("again", **_search(state))

    async def opened(self, request: Request) -> Response:
        """The one-time link."""
        if not self.keys.use_link(request.path_params["key"]):
            return PlainTextResponse(
                "This link was used, or is none. The next one stands in the window where "
                "`planner serve` runs.",
                401,
            )
        self.on_link()
        answer = RedirectResponse("/day", 303, headers=NOT_KEPT)
        answer.set_cookie(
            self.cookie,
            self.keys.office,
            httponly=True,
            samesite="lax",
            secure=request.url.scheme == "https",
        )
        return answer

    async def start(self, request: Request) -> Response:
        """The bare address."""
        return RedirectResponse("/day", 303)

    async def page(self, request: Request) -> Response:
        """The page of the day."""

        def made() -> str:
            state = self.day.state
            self.pieces.note(state)
            return pages.day_page(state)

        return HTMLResponse(await run_in_threadpool(made), headers=NOT_KEPT)

    async def change(self, request: Request) -> Response:
        """One change."""
        body = await _body(request)
        revision, change, have = body.get("revision"), body.get("change"), body.get("have")
        if not isinstance(revision, int) or not isinstance(change, dict):
            raise Bad("a change names its revision and what to change")
        return await run_in_threadpool(self._changed, revision, change, have)

    def _changed(self, revision: int, change: dict[str, Any], have: Any) -> Response:
        shown = have if isinstance(have, list) else None
        try:
            state = self.day.change(revision, change)
        except Stale:
            now = self.day.state
            words = f"Not done: somebody else was quicker ({now.said}). Look, and do it again."
            return self._answer(now, revision, shown, words, 409)
        except StopOrderError as error:
            texts = [f"{row.message}; {row.cure}" for row in error.problems]
            return _refused(revision, texts)
        except Refused as error:
            return _refused(revision, [str(error)])
        except JournalError as error:
            return JSONResponse({"revision": revision, "say": f"Not kept: {error}"}, 507)
        return self._answer(state, revision, shown, _sentence(state), 200)

    async def ask(self, request: Request) -> Response:
        """What the trucks say to orders that are lifted."""
        body = await _body(request)
        revision, lifted = body.get("revision"), body.get("lift")
        if not isinstance(revision, int) or not isinstance(lifted, list) or not _all_text(lifted):
            raise Bad("a question names its revision and the orders that are lifted")
        return await run_in_threadpool(self._ask, revision, lifted)

    def _ask(self, revision: int, lifted: list[str]) -> Response:
        try:
            asked = self.day.ask(revision, lifted)
        except Stale:
            state = self.day.state
            return self._answer(state, revision, None, f"The plan has changed: {state.said}.", 409)
        except Refused as error:
            return _refused(revision, [str(error)])
        answer = asdict(asked) | {"parts": pages.asked_parts(asked, self.day.state)}
        return JSONResponse(answer, headers=NOT_KEPT)

    async def again(self, request: Request) -> Response:
        """Begin to plan the rest again."""
        body = await _body(request)
        revision, effort = body.get("revision"), body.get("effort", AGAIN_EFFORT)
        if not isinstance(revision, int) or not isinstance(effort, int) or not 1 <= effort <= 9999:
            raise Bad("planning again names its revision, and an effort from 1 to 9999")
        return await run_in_threadpool(self._again, revision, effort)

    def _again(self, revision: int, effort: int) -> Response:
        try:
            return JSONResponse(_search(self.day.plan_again(revision, effort)), 202)
        except Stale:
            state = self.day.state
            return self._answer(state, revision, None, f"The plan has changed: {state.said}.", 409)
        except Refused as error:
            return _refused(revision, [str(error)])

    async def stop(self, request: Request) -> Response:
        """End planning with the best so far."""
        return JSONResponse(_search(await run_in_threadpool(self.day.stop_again)), 202)

    async def parts(self, request: Request) -> Response:
        """What is other since a revision."""
        since, have = request.query_params.get("since"), request.query_params.get("have")
        number = int(since) if since is not None and since.isdigit() else None
        names = have.split(",") if have else None
        return await run_in_threadpool(
            self._answer, self.day.state, number, names, self.day.state.said, 200
        )

    async def customers(self, request: Request) -> Response:
        """Customers by a part of their name or street."""
        day = self.day.state.planned.day
        found = pages.customers(day, request.query_params.get("text", ""))
        return JSONResponse({"found": found}, headers=NOT_KEPT)

    async def events(self, request: Request) -> Response:
        """The event stream."""
        state = self.day.state
        data = json.dumps({"revision": state.revision, "said": state.said})
        return StreamingResponse(
            self.hub.stream(f"event: revision\ndata: {data}\n\n"),
            media_type="text/event-stream",
            headers=NOT_KEPT,
        )

    def _answer(
        self,
        state: DayState,
        since: int | None,
        have: Collection[str] | None,
        say: str,
        status: int,
    ) -> Response:
        answer = self.pieces.answer(state, since, have, say)
        return JSONResponse(answer, status, headers=NOT_KEPT)


def application(office: Office, hosts: Sequence[str]) -> Starlette:
    """The web application. hosts: names by which it may be asked."""
    routes = [
        Route("/", office.start),
        Route("/open/{key}", office.opened),
        Route("/day", office.page),
        Route("/day/change", office.change, methods=["POST"]),
        Route("/day/ask", office.ask, methods=["POST"]),
        Route("/day/again", office.again, methods=["POST"]),
        Route("/day/again/stop", office.stop, methods=["POST"]),
        Route("/day/parts", office.parts),
        Route("/day/customers", office.customers),
        Route("/day/events", office.events),
        Mount("/static", StaticFiles(directory=pages.STATIC, packages=list(pages.STATIC_PACKAGES))),
    ]
    return Starlette(
        routes=routes,
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False),
            Middleware(Guard, keys=office.keys, cookie=office.cookie),
        ],
        exception_handlers={Bad: _bad},
    )


async def _body(request: Request) -> dict[str, Any]:
    try:
        body = read_json((await request.body()).decode("utf-8"))
    except (ValueError, UnicodeDecodeError) as error:
        raise Bad(f"not JSON: {error}") from error
    if not isinstance(body, dict):
        raise Bad("an object expected")
    return body


def _all_text(values: list[Any]) -> bool:
    return all(isinstance(one, str) for one in values)


def _search(state: DayState) -> dict[str, Any]:
    now = state.searching
    return {
        "revision": state.revision,
        "running": now.running,
        "share": round(now.share, 3),
        "text": now.text,
        "offers": [
            {"number": one.number, "cost_change": round(one.cost_change, 2), "said": one.said}
            for one in now.offers
        ],
        "parts": pages.search_parts(state),
    }


def _bad(request: Request, error: Exception) -> Response:
    return JSONResponse({"say": str(error)}, 400)


def _refused(revision: int, texts: Sequence[str]) -> Response:
    return JSONResponse({"revision": revision, "say": texts[0], "problems": texts}, 422)


def _sentence(state: DayState) -> str:
    """For the live region: what was done, what it costs, what is broken."""
    words = f"{state.said[:1].upper()}{state.said[1:]}. Cost {state.cost:,.2f}"
    words += f", {state.cost_change:+,.2f}." if state.before is not None else "."
    broken = len(state.planned.violations)
    return words + (f" {broken} rules broken." if broken > 1 else " 1 rule broken." * broken)
