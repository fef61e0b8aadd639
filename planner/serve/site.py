"""The whole site: the day's pages once the day can be opened, the tables' pages from the start."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from planner.office.comparisons import Comparisons
from planner.office.day_records import DayRecords
from planner.office.imports import Imports
from planner.office.open_day import SharedDay
from planner.office.places import Places
from planner.office.tables import OfficeTables
from planner.office.weeks import Weeks
from planner.problems import PlannerError, WorkbookError
from planner.roads.travel import RoadError
from planner.serve.app import Office, application, guarded
from planner.serve.comparing import CompareDesk
from planner.serve.events import Hub
from planner.serve.guard import Keys, opening
from planner.serve.importing import ImportDesk
from planner.serve.records import RecordsDesk
from planner.serve.tables import TablesDesk
from planner.serve.weeks import WeeksDesk


class OfficeSite:
    """One ASGI application. open_day: the day, or the WorkbookError or RoadError that keeps it
    from being opened; hosts: names by which it may be asked; address: as a phone reaches it."""

    def __init__(
        self,
        open_day: Callable[[], SharedDay],
        tables: OfficeTables,
        places: Places,
        keys: Keys,
        cookie: str,
        hosts: Sequence[str],
        address: str = "",
        records: DayRecords | None = None,
        comparisons: Comparisons | None = None,
        weeks: Weeks | None = None,
        imports: Imports | None = None,
    ) -> None:
        self._open_day, self.tables = open_day, tables
        self.hub, self.keys, self._cookie = Hub(), keys, cookie
        self._hosts, self._address, self._lock = hosts, address, threading.Lock()
        self._more = TablesDesk(tables, places, self.hub).routes()
        self.comparisons, self.weeks = comparisons, weeks
        if records is not None:
            self._more += RecordsDesk(records).routes()
        if comparisons is not None:
            self._more += CompareDesk(comparisons, self.hub).routes()
        if weeks is not None:
            self._more += WeeksDesk(weeks, self.hub).routes()
        if imports is not None:
            self._more += ImportDesk(imports).routes()
        self._closed = [one.run for one in (comparisons, weeks) if one is not None]
        self.day: SharedDay | None = None
        self.trouble: Callable[[str], None] = lambda _text: None
        """Told what fails while nobody waits for an answer."""
        begin = [
            Route("/", self._to_day),
            Route("/open/{key}", opening(keys, cookie)),
            Route("/day", self._to_day),
        ]
        self._app: ASGIApp = guarded([*begin, *self._more], hosts, keys, cookie)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with what there is."""
        await self._app(scope, receive, send)

    def open(self) -> None:
        """Open the day and its pages. Raises WorkbookError and what else keeps it closed."""
        with self._lock:
            if self.day is not None:
                return
            day = self._open_day()
            day.trouble = lambda text: self.trouble(text)
            day.start_searcher()
            office = Office(day, self.keys, self.hub, self._cookie, self._address, self.tables)
            self._app = application(office, self._hosts, self._more)
            self.day = day

    async def _to_day(self, request: Request) -> Response:
        try:
            await run_in_threadpool(self.open)
        except (WorkbookError, RoadError):
            return RedirectResponse("/tables", 303)
        except PlannerError as error:
            return PlainTextResponse(f"{error}\nThe tables are at /tables.", 409)
        return RedirectResponse("/day", 303)

    def close(self) -> None:
        """Let everything go."""
        if self.day is not None:
            self.day.close()
        for run in self._closed:
            run.close()
        self.tables.close()
