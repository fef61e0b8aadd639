"""Other days of the workbook beside the one that the server was started for: opened when they are
asked for, each with its own journal."""

import threading
from collections.abc import Callable
from datetime import date
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Match, Router
from starlette.types import Receive, Scope, Send

from planner.office.opening import NothingDue
from planner.problems import PlannerError, WorkbookError, counted
from planner.serve.answers import Hub
from planner.serve.app import Office

MOST_OPEN: Final = 3
"""Other days that stay open; the one that nobody asked for longest is closed, and opened again
when somebody does. Each holds its roads and a process that plans."""


class OtherDays(BaseRoute):
    """All routes below /day/DATE. made: the office of a day, with the hub of its events; ending:
    whether the server is to end."""

    def __init__(self, made: Callable[[date, Hub], Office], ending: Callable[[], bool]) -> None:
        self._made, self._ending = made, ending
        self._open: dict[date, tuple[Office, Router]] = {}
        self._hubs: dict[date, Hub] = {}
        self._lock = threading.Lock()

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Whether a request is for one of them."""
        ours = scope["type"] == "http" and _date_of(scope["path"]) is not None
        return (Match.FULL if ours else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer by the day that is asked for."""
        when = _date_of(scope["path"])
        assert when is not None
        try:
            router = await run_in_threadpool(self._router, when)
        except NothingDue as error:
            await _nothing_due(when, error.next_day)(scope, receive, send)
        except WorkbookError as error:
            count = counted(len(error.problems), "problem")
            text = f"The tables have {count} on {when}: cure them on the page /tables first."
            await PlainTextResponse(text, 409)(scope, receive, send)
        except PlannerError as error:
            text = f"{when} cannot be opened: {error}"
            await PlainTextResponse(text, 409)(scope, receive, send)
        else:
            await router(scope, receive, send)

    def close(self) -> None:
        """Close all of them."""
        with self._lock:
            for office, _ in self._open.values():
                office.day.close()
            self._open.clear()

    def _router(self, when: date) -> Router:
        with self._lock:
            found = self._open.pop(when, None)
            if found is None:
                while len(self._open) >= MOST_OPEN:
                    self._open.pop(next(iter(self._open)))[0].day.close()
                # Pages of a day that was closed still listen here.
                hub = self._hubs.setdefault(when, Hub())
                hub.ending = self._ending
                office = self._made(when, hub)
                found = office, Router(office.routes())
            self._open[when] = found
            return found[1]


def _nothing_due(when: date, following: date | None) -> Response:
    there = "/day" if following is None else f"/day/{following}"
    words = (
        "The day that is open" if following is None else f"The next day with orders: {following}"
    )
    return HTMLResponse(
        f'<!doctype html><html lang="en"><title>{when}</title><main><h1>No order is due on {when}'
        f'</h1><p><a href="{there}">{words}</a> · <a href="/tables?table=orders">Orders</a></p>'
        "</main></html>",
        404,
    )


def _date_of(path: str) -> date | None:
    base, _, rest = path.partition("/day/")
    try:
        return None if base else date.fromisoformat(rest.partition("/")[0])
    except ValueError:
        return None
