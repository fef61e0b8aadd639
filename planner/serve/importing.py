"""The import's routes.

* `GET /import`: the page. Every other route answers `{"html": the element r-main, "say"}`, or 422
  `{"say"}`.
* `POST /import/file?name=&mapping=&sheet=`, body: the export itself, up to 20 MB.
* `POST /import/mapping`, body `{"values": {line: value}, "text", "lacking"}`: the mapping decided.
* `POST /import/wish` and `POST /import/write`, body `{"take_export", "bring_back", "cancel_gone",
  "without_refused"}`: look with these wishes; write the tables. `POST /import/undo`, body `{}`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from planner import pages
from planner.importing.run import Wishes
from planner.office.changes import Refused
from planner.office.imports import Imports
from planner.serve.bodies import NOT_KEPT, Bad, body_of


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
