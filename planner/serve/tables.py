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

import json
import threading
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from planner.importing.run import Wishes
from planner.office.changes import Refused
from planner.office.cures import Places
from planner.office.imports import Imports
from planner.office.journal import JournalError
from planner.office.tables import OfficeTables, TablesStale, TablesState
from planner.pages.import_page import import_main, import_page
from planner.pages.tables_page import (
    TablesView,
    located,
    named,
    row_form,
    tables_page,
    tables_parts,
)
from planner.serve.answers import NOT_KEPT, Bad, Hub, event_stream, with_body
from planner.serve.later import Desk


class TablesDesk(Desk):
    """What the tables' requests are answered with. company: for the page's title."""

    def __init__(self, tables: OfficeTables, places: Places, hub: Hub) -> None:
        self.tables, self.places, self.hub = tables, places, hub
        self._locating = threading.Lock()

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

    def page(self, request: Request) -> Response:
        """The page of the tables."""
        text = tables_page(self.tables.look(), _view(request.query_params))
        return HTMLResponse(text, headers=NOT_KEPT)

    def parts(self, request: Request) -> Response:
        """The pieces of a view."""
        return _answer(self.tables.look(), _view(request.query_params), "", 200)

    def form(self, request: Request) -> Response:
        """A form for a new row."""
        state, table = self.tables.state, request.query_params.get("table", "")
        if table not in state.sheets:
            raise Bad("there is no such table")
        return JSONResponse({"html": row_form(state, table)}, headers=NOT_KEPT)

    def names(self, request: Request) -> Response:
        """Rows of a table that hold some words."""
        table, text = (request.query_params.get(name, "") for name in ("table", "text"))
        found = named(self.tables.state, table, text)
        return JSONResponse({"found": found}, headers=NOT_KEPT)

    def ground(self, request: Request) -> Response:
        """Streets and places for the map."""
        return JSONResponse(self.places.ground(self.tables.state.book), headers=NOT_KEPT)

    async def events(self, request: Request) -> Response:
        """The event stream."""
        state = self.tables.state
        data = json.dumps({"revision": state.revision, "checking": state.checking, "said": ""})
        return event_stream(self.hub, "tables", data)

    @with_body
    def change(self, body: dict[str, Any]) -> Response:
        """One change."""
        change, reading, given = body.get("change"), body.get("reading"), body.get("view")
        if not isinstance(change, dict) or not isinstance(reading, int):
            raise Bad("a change says what to change, and of which reading")
        view = _view(given if isinstance(given, dict) else {})
        try:
            state = _change(self.tables, reading, change)
            return _answer(state, view, state.said, 200)
        except TablesStale as error:
            return _answer(self.tables.look(), view, str(error), 409)
        except JournalError as error:
            return JSONResponse({"say": f"Written, but cannot be undone: {error}"}, 507)

    def locate(self, request: Request) -> Response:
        """Look up the addresses of places without coordinates."""
        if not self._locating.acquire(blocking=False):
            raise Refused("Addresses are being looked up already.")
        try:
            state = self.tables.look()
            found = self.places.locate()
            html = located(state, found)
        finally:
            self._locating.release()
        return JSONResponse({"html": html, "say": f"{len(found)} looked up"}, headers=NOT_KEPT)


def _change(tables: OfficeTables, reading: int, change: dict[str, Any]) -> TablesState:
    """Make a change. Raises Bad."""
    kind, table = change.get("kind"), change.get("table")
    if kind in ("undo", "redo"):
        return tables.undo(redo=kind == "redo")
    if kind == "check":
        return tables.check_again()
    if not isinstance(table, str):
        raise Bad("a change names its table")
    if kind == "row":
        row = change.get("row")
        if not isinstance(row, dict) or not all(isinstance(one, str) for one in row.values()):
            raise Bad("a row is texts by column")
        return tables.add_row(reading, table, row)
    cells = change.get("cells")
    if kind != "cells" or not isinstance(cells, list) or not cells or not all(map(_is_cell, cells)):
        raise Bad("cells are lists of row, place, text that was seen, text")
    wanted = {(row, index): (was, text) for row, index, was, text in cells}
    return tables.write(reading, table, wanted)


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
        "parts": tables_parts(state, view),
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


class ImportDesk(Desk):
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

    def page(self, request: Request) -> Response:
        """The page."""
        return HTMLResponse(import_page(self.imports), headers=NOT_KEPT)

    async def file(self, request: Request) -> Response:
        """An export."""
        name, mapping, sheet = (
            request.query_params.get(one, "") for one in ("name", "mapping", "sheet")
        )
        try:
            content = await request.body()
        except ClientDisconnect:
            raise Bad("the file is too long, or was not sent to its end") from None
        await run_in_threadpool(self.imports.take, name, content, mapping, sheet)
        return await run_in_threadpool(self._done)

    @with_body
    def mapping(self, body: dict[str, Any]) -> Response:
        """What the columns are."""
        values: Any = body.get("values", {})
        text: Any = body.get("text")
        good = isinstance(values, dict) and all(isinstance(one, str) for one in values.values())
        if not good or not all(map(str.isdecimal, values)) or not isinstance(text, str | None):
            raise Bad("values are texts by line")
        lines = {int(number): value for number, value in values.items()}
        self.imports.decide(lines, text, body.get("lacking") is True)
        return self._done()

    @with_body
    def wish(self, body: dict[str, Any]) -> Response:
        """Look with other wishes."""
        self.imports.wish(_wishes(body))
        return self._done()

    @with_body
    def write(self, body: dict[str, Any]) -> Response:
        """Write the tables."""
        return self._done(self.imports.write(_wishes(body)))

    def undo(self, request: Request) -> Response:
        """Take the last import back."""
        return self._done(self.imports.take_back())

    def _done(self, say: str = "") -> Response:
        html = import_main(self.imports)
        return JSONResponse({"html": html, "say": say}, headers=NOT_KEPT)


def _wishes(body: dict[str, Any]) -> Wishes:
    return Wishes(**{one.name: body.get(one.name) is True for one in fields(Wishes)})
