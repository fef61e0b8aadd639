"""Routes whose modules are imported when one is asked for first: the start waits for none."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute, Match, Route, Router
from starlette.types import Receive, Scope, Send

from planner.office.tables import OfficeTables
from planner.serve.answers import Hub


class Desk:
    """What some requests are answered with."""

    def routes(self) -> list[Route]:
        """All of them."""
        raise NotImplementedError

    def close(self) -> None:
        """End what runs."""


Desks = Mapping[str, Callable[[Hub], Desk]]
"""First part of their paths -> what makes a desk."""


class Later(BaseRoute):
    """All routes at these paths and below. made: the desk that answers there."""

    def __init__(self, made: Callable[[Hub], Desk], hub: Hub, *paths: str) -> None:
        self._made, self._hub = made, hub
        self._paths = tuple(f"/{path}/" for path in paths)
        self._desk: Desk | None = None
        self._router = Router()
        self._lock = threading.Lock()

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Whether a request is for one of them."""
        ours = scope["type"] == "http" and f"{scope['path']}/".startswith(self._paths)
        return (Match.FULL if ours else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer by the route that is asked for."""
        if self._desk is None:
            await run_in_threadpool(self._open)
        await self._router(scope, receive, send)

    def _open(self) -> None:
        with self._lock:
            if self._desk is None:
                desk = self._made(self._hub)
                self._router = Router(desk.routes())
                self._desk = desk

    def close(self) -> None:
        """Let the desk go."""
        if self._desk is not None:
            self._desk.close()


def desks_of(
    tables: OfficeTables,
    workbook: Path,
    extract: Path | None = None,
    when: date | None = None,
) -> dict[str, Callable[[Hub], Desk]]:
    """All there are. extract: roads that go before those of planner.toml; when: the day that is
    open."""

    def tables_desk(hub: Hub) -> Desk:
        from planner.office.cures import Places
        from planner.serve.tables import TablesDesk

        return TablesDesk(tables, Places(workbook, extract), hub)

    def records_desk(_hub: Hub) -> Desk:
        from planner.office.day_records import DayRecords
        from planner.serve.records import RecordsDesk

        return RecordsDesk(DayRecords(workbook, extract))

    def compare_desk(hub: Hub) -> Desk:
        from planner.office.runs import Comparisons
        from planner.serve.runs import CompareDesk

        return CompareDesk(Comparisons(workbook, workbook.resolve().parent, extract), hub)

    def weeks_desk(hub: Hub) -> Desk:
        from planner.office.weeks import Weeks
        from planner.serve.runs import WeeksDesk

        return WeeksDesk(Weeks(workbook, extract, when), hub)

    def import_desk(_hub: Hub) -> Desk:
        from planner.office.imports import Imports
        from planner.serve.tables import ImportDesk

        return ImportDesk(Imports(workbook))

    return {
        "tables": tables_desk,
        "records": records_desk,
        "compare": compare_desk,
        "weeks": weeks_desk,
        "import": import_desk,
    }
