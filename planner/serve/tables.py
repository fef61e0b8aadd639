"""The tables' routes.

* `GET /tables?table=&text=&only=1&first=&row=`: the page.
* `POST /tables/change`, body `{"reading": n, "view": {...}, "change": {"kind": ...}}`: kinds cells
  (table, cells: [[row, cell index, text that was seen, text], ...]), row (table, row: {column:
  text}), undo, redo, check. 200 `{"reading", "revision", "parts": {id: HTML}, "say"}`; 409, the
  same: somebody else was quicker, nothing was written; 422 `{"say"}`: it cannot be written.
* `GET /tables/parts?...`: the pieces of a view. `GET /tables/form?table=`: a form for a new row.
* `GET /tables/names?table=&text=`: rows of a table by words. `GET /tables/ground`: what the map
  draws. `POST /tables/locate`: look addresses up; what is found is offered, not written.
* `GET /tables/events`: `tables` `{"revision", "checking", "said"}` after every change or check.

The import's routes:

* `GET /import`: the page. Every other route answers `{"html": the element r-main, "say"}`, or 422
  `{"say"}`.
* `POST /import/file?name=&mapping=&sheet=`, body: the export itself, up to 20 MB.
* `POST /import/mapping`, body `{"values": {line: value}, "text", "lacking"}`: the mapping decided.
* `POST /import/wish` and `POST /import/write`, body `{"take_export", "bring_back", "cancel_gone",
  "without_refused"}`: look with these wishes; write the tables. `POST /import/undo`, body `{}`.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import fields
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from planner import pages
from planner.importing.run import Wishes
from planner.office.changes import Refused
from planner.office.cures import Places
from planner.office.imports import Imports
from planner.office.journal import JournalError
from planner.office.tables import OfficeTables, TablesStale, TablesState
from planner.pages.tables_page import TablesView
from planner.serve.answers import NOT_KEPT, Bad, Hub, body_of, event_stream


class TablesDesk:
    """What the tables' requests are answered with. company: for the page's title."""

    def __init__(self, tables: OfficeTables, places: Places, hub: Hub) -> None:
        self.tables, self.places, self.hub = tables, places, hub
        self._locating = threading.Lock()
        tables.listeners.append(
            lambda state: hub.tell(
                "tables", revision=state.revision, checking=state.checking, said=state.said
            )
        )

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/tables", self.page),
            Route("/tables/parts", self.parts),
            Route("/tables/form", self.form),
            Route("/tables/names", self.names),
            Route("/tables/ground", self.ground),
            Route("/tables/events", self.events),
            Route("/tables/change", self.change, methods=["POST"]),
            Route("/tables/locate", self.locate, methods=["POST"]),
        ]

    async def page(self, request: Request) -> Response:
        """The page of the tables."""
        view = _view(request.query_params)

        def made() -> str:
            return pages.tables_page(self.tables.look(), view)

        return HTMLResponse(await run_in_threadpool(made), headers=NOT_KEPT)

    async def parts(self, request: Request) -> Response:
        """The pieces of a view."""
        view = _view(request.query_params)
        return await run_in_threadpool(lambda: _answer(self.tables.look(), view, "", 200))

    async def form(self, request: Request) -> Response:
        """A form for a new row."""
        state, table = self.tables.state, request.query_params.get("table", "")
        if table not in state.sheets:
            raise Bad("there is no such table")
        html = await run_in_threadpool(pages.row_form, state, table)
        return JSONResponse({"html": html}, headers=NOT_KEPT)

    async def names(self, request: Request) -> Response:
        """Rows of a table that hold some words."""
        table, text = (request.query_params.get(name, "") for name in ("table", "text"))
        found = await run_in_threadpool(pages.named, self.tables.state, table, text)
        return JSONResponse({"found": found}, headers=NOT_KEPT)

    async def ground(self, request: Request) -> Response:
        """Streets and places for the map."""
        ground = await run_in_threadpool(self.places.ground, self.tables.state.book)
        return JSONResponse(ground, headers=NOT_KEPT)

    async def events(self, request: Request) -> Response:
        """The event stream."""
        state = self.tables.state
        data = json.dumps({"revision": state.revision, "checking": state.checking, "said": ""})
        return event_stream(self.hub, "tables", data)

    async def change(self, request: Request) -> Response:
        """One change."""
        body = await body_of(request)
        change, reading, given = body.get("change"), body.get("reading"), body.get("view")
        if not isinstance(change, dict) or not isinstance(reading, int):
            raise Bad("a change says what to change, and of which reading")
        view = _view(given if isinstance(given, dict) else {})
        done = _change(self.tables, reading, change)

        def made() -> Response:
            try:
                state = done()
                return _answer(state, view, state.said, 200)
            except TablesStale as error:
                return _answer(self.tables.look(), view, str(error), 409)
            except JournalError as error:
                return JSONResponse({"say": f"Written, but cannot be undone: {error}"}, 507)
            except Refused as error:
                return JSONResponse({"say": str(error)}, 422)

        return await run_in_threadpool(made)

    async def locate(self, request: Request) -> Response:
        """Look up the addresses of places without coordinates."""

        def made() -> Response:
            if not self._locating.acquire(blocking=False):
                return JSONResponse({"say": "Addresses are being looked up already."}, 422)
            try:
                state = self.tables.look()
                found = self.places.locate()
                html = pages.located(state, found)
            except Refused as error:
                return JSONResponse({"say": str(error)}, 422)
            finally:
                self._locating.release()
            return JSONResponse({"html": html, "say": f"{len(found)} looked up"}, headers=NOT_KEPT)

        return await run_in_threadpool(made)


def _change(
    tables: OfficeTables, reading: int, change: dict[str, Any]
) -> Callable[[], TablesState]:
    """What a change does. Raises Bad."""
    kind, table = change.get("kind"), change.get("table")
    if kind in ("undo", "redo"):
        return lambda: tables.undo(redo=kind == "redo")
    if kind == "check":
        return tables.check_again
    if not isinstance(table, str):
        raise Bad("a change names its table")
    if kind == "row":
        row = change.get("row")
        if not isinstance(row, dict) or not all(isinstance(one, str) for one in row.values()):
            raise Bad("a row is texts by column")
        return lambda: tables.add_row(reading, table, row)
    cells = change.get("cells")
    if kind != "cells" or not isinstance(cells, list) or not cells or not all(map(_is_cell, cells)):
        raise Bad("cells are lists of row, place, text that was seen, text")
    wanted = {(row, index): (was, text) for row, index, was, text in cells}
    return lambda: tables.write(reading, table, wanted)


def _is_cell(cell: object) -> bool:
    return (
        isinstance(cell, list)
        and [type(one) for one in cell] == [int, int, str, str]
        and 0 < cell[0] <= 1_100_000
        and 0 <= cell[1] < 16_000
    )


def _answer(state: TablesState, view: TablesView, say: str, status: int) -> Response:
    answer = {
        "revision": state.revision,
        "reading": state.reading,
        "checking": state.checking,
        "parts": pages.tables_parts(state, view),
        "say": say,
    }
    return JSONResponse(answer, status, headers=NOT_KEPT)


def _view(given: Mapping[str, Any]) -> TablesView:
    def number(name: str) -> int:
        text = str(given.get(name, ""))
        return int(text) if text.isdecimal() and len(text) < 9 else 0

    return TablesView(
        str(given.get("table", "")),
        str(given.get("text", ""))[:200],
        str(given.get("only", "")) in ("1", "True", "true"),
        number("first"),
        number("row"),
    )


class ImportDesk:
    """What the import's requests are answered with."""

    def __init__(self, imports: Imports) -> None:
        self.imports = imports

    def routes(self) -> list[Route]:
        """All of them."""
        posts = ("file", "mapping", "wish", "write", "undo")
        return [
            Route("/import", self.page),
            *(Route(f"/import/{name}", getattr(self, name), methods=["POST"]) for name in posts),
        ]

    async def page(self, request: Request) -> Response:
        """The page."""
        text = await run_in_threadpool(pages.import_page, self.imports)
        return HTMLResponse(text, headers=NOT_KEPT)

    async def file(self, request: Request) -> Response:
        """An export."""
        name, mapping, sheet = (
            request.query_params.get(one, "") for one in ("name", "mapping", "sheet")
        )
        try:
            content = await request.body()
        except ClientDisconnect:
            raise Bad("the file is too long, or was not sent to its end") from None
        return await self._done(lambda: self.imports.take(name, content, mapping, sheet))

    async def mapping(self, request: Request) -> Response:
        """What the columns are."""
        body = await body_of(request)
        values: Any = body.get("values", {})
        text: Any = body.get("text")
        good = isinstance(values, dict) and all(isinstance(one, str) for one in values.values())
        if not good or not all(map(str.isdecimal, values)) or not isinstance(text, str | None):
            raise Bad("values are texts by line")
        lines = {int(number): value for number, value in values.items()}
        lacking = body.get("lacking") is True
        return await self._done(lambda: self.imports.decide(lines, text, lacking))

    async def wish(self, request: Request) -> Response:
        """Look with other wishes."""
        wishes = await _wishes(request)
        return await self._done(lambda: self.imports.wish(wishes))

    async def write(self, request: Request) -> Response:
        """Write the tables."""
        wishes = await _wishes(request)
        return await self._done(lambda: self.imports.write(wishes))

    async def undo(self, request: Request) -> Response:
        """Take the last import back."""
        return await self._done(self.imports.take_back)

    async def _done(self, do: Callable[[], str | None]) -> Response:
        def made() -> Response:
            try:
                say = do() or ""
            except Refused as error:
                return JSONResponse({"say": str(error)}, 422)
            html = pages.import_main(self.imports)
            return JSONResponse({"html": html, "say": say}, headers=NOT_KEPT)

        return await run_in_threadpool(made)


async def _wishes(request: Request) -> Wishes:
    body = await body_of(request)
    return Wishes(**{one.name: body.get(one.name) is True for one in fields(Wishes)})
