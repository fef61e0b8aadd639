"""What the routes share: bodies of requests, read with care; server-sent events to every page
that is open; sheets to look at and print, from the same functions as the commands'."""

import asyncio
import contextlib
import json
import re
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any, Final, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)

from planner.office.open_day import SharedDay
from planner.plain_files import read_json

NOT_KEPT: Final = {"cache-control": "no-store"}
"""Headers of an answer that no browser keeps."""


class Bad(Exception):
    """A request that is none of the page's, in words."""


async def body_of(request: Request) -> dict[str, Any]:
    """The JSON object that a request carries. Raises Bad."""
    try:
        body = read_json((await request.body()).decode("utf-8"), typed=True)
    except ClientDisconnect:
        raise Bad("the body is too long, or was not sent to its end") from None
    except (ValueError, UnicodeDecodeError) as error:
        raise Bad(f"not JSON: {error}") from error
    if not isinstance(body, dict):
        raise Bad("an object expected")
    return body


Desk = TypeVar("Desk")


def with_body(
    answer: Callable[[Desk, dict[str, Any]], Response],
) -> Callable[[Desk, Request], Awaitable[Response]]:
    """A route that reads the JSON object of its request and answers it in a thread, as Starlette
    does with routes that read nothing."""

    async def route(desk: Desk, request: Request) -> Response:
        return await run_in_threadpool(answer, desk, await body_of(request))

    return route


def refused(request: Request, error: Exception) -> Response:
    """What cannot be done, in words."""
    return JSONResponse({"say": str(error)}, 422)


STILL_HERE_S: Final = 15.0
LOOK_S: Final = 0.5
"""So long an open stream holds a server that is to end."""
MOST_WAITING: Final = 500


class Hub:
    """Tells events from any thread to all streams. ending: whether the server is to end."""

    def __init__(self) -> None:
        self.ending: Callable[[], bool] = lambda: False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._streams: set[asyncio.Queue[str]] = set()

    def tell(self, kind: str, **what: Any) -> None:
        """Send an event to every stream."""
        text = f"event: {kind}\ndata: {json.dumps(what)}\n\n"
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._put, text)

    async def stream(self, first: str = "") -> AsyncIterator[str]:
        """The events from now on, as text."""
        self._loop = asyncio.get_running_loop()
        queue: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        self._streams.add(queue)
        try:
            yield first or ": here\n\n"
            quiet = 0.0
            while not self.ending():
                with contextlib.suppress(TimeoutError):
                    yield await asyncio.wait_for(queue.get(), LOOK_S)
                    quiet = 0.0
                    continue
                quiet += LOOK_S
                if quiet >= STILL_HERE_S:
                    quiet = 0.0
                    yield ": still here\n\n"
        finally:
            self._streams.discard(queue)

    def _put(self, text: str) -> None:
        for queue in self._streams:
            # A page that reads no more learns everything from the next revision.
            with contextlib.suppress(asyncio.QueueFull):
                queue.put_nowait(text)


def event_stream(hub: Hub, kind: str, data: str) -> StreamingResponse:
    """An answer that begins with an event and goes on with all that follow. data: JSON."""
    first = f"event: {kind}\ndata: {data}\n\n"
    return StreamingResponse(hub.stream(first), media_type="text/event-stream", headers=NOT_KEPT)


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

    def paper(self, request: Request) -> Response:
        """One paper by its file name."""
        files = self._day.files()
        text = files.get(request.path_params["name"])
        if text is None or not request.path_params["name"].endswith(".html"):
            return PlainTextResponse("There is no such sheet.", 404)
        return HTMLResponse(text, headers=HEADERS)

    def packet(self, request: Request) -> Response:
        """The packets of some trucks as one page to print."""
        from planner.papers.packet import truck_files

        files = self._day.files()
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
