"""The records' routes, and those of crews' phones, each behind the truck's own key.

* `GET /records?date=&truck=`: a day's rows, with fields for what is not recorded yet.
* `POST /records/save`, body `{"date", "rows": [{"key", "truck", "stop", "what", "order",
  "compartment", column: text}], "weather": {...}, "as_planned", "correct", "why"}`: 200 `{"say"}`;
  422 `{"say", "wrong": [{"key", "column", "words", "truck"}]}`: nothing was recorded.
* `GET /records/export?what=applications|sums|times&period=2027`: CSV, as of `planner export`.
"""

import re
from typing import Any
from urllib.parse import quote, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from planner.exports.rows import TimeRow
from planner.office.changes import Refused
from planner.office.day_records import DayRecords, NotRecorded, is_date
from planner.office.open_day import SharedDay
from planner.pages.records_page import records_page
from planner.phone.page import content_policy
from planner.phone_day import PhoneDay, SheetRow
from planner.phone_files import SHEET_POLICY, phones_page
from planner.problems import PlannerError
from planner.records.plans import DayOfRecord
from planner.records.store import StoreError
from planner.records.ticks import TickError
from planner.serve.answers import NOT_KEPT, Bad, body_of, with_body
from planner.serve.guard import Keys
from planner.serve.later import Desk


class RecordsDesk(Desk):
    """What the records' requests are answered with."""

    def __init__(self, records: DayRecords) -> None:
        self.records = records

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/records", self.page),
            Route("/records/save", self.save, methods=["POST"]),
            Route("/records/export", self.export),
        ]

    def page(self, request: Request) -> Response:
        """A day's records."""
        asked, truck = (request.query_params.get(name, "") for name in ("date", "truck"))
        days: list[DayOfRecord] = []
        rows: tuple[SheetRow, ...] = ()
        law: dict[str, str] = {}
        times: tuple[TimeRow, ...] = ()
        trouble = ""
        date = asked if is_date(asked) else ""
        try:
            days = self.records.days()
            date = date or (days[0].date if days else "")
            rows = self.records.rows(date) if date else ()
            law = self.records.asked_by_law(date) if date else {}
            times = self.records.times(date) if date else ()
        except PlannerError as error:
            trouble = f"The day cannot be shown: {error}"
        name = self.records.workbook.name
        text = records_page(name, days, date, truck, rows, law, times, trouble)
        return HTMLResponse(text, headers=NOT_KEPT)

    @with_body
    def save(self, body: dict[str, Any]) -> Response:
        """Record or correct."""
        rows: Any = body.get("rows")
        weather, date = body.get("weather", {}), body.get("date")
        given: list[Any] = rows if isinstance(rows, list) else [None]
        if not all(map(_is_texts, [*given, weather])) or not all("key" in row for row in given):
            raise Bad("rows are texts by column")
        if not isinstance(date, str) or not is_date(date):
            raise Bad("a day is written like 2027-04-14")
        try:
            done = self.records.record(
                date,
                given,
                as_planned=body.get("as_planned") is True,
                correct=body.get("correct") is True,
                why=str(body.get("why") or "")[:500],
                weather=weather,
            )
        except NotRecorded as error:
            say = f"Nothing was recorded: {len(error.wrong)} to look at."
            wrong = [vars(one) for one in error.wrong]
            return JSONResponse({"say": say, "wrong": wrong}, 422)
        except Refused as error:
            return JSONResponse({"say": str(error), "wrong": []}, 422)
        count = len([event for event in done.events if event.kind != "planned"])
        # How many rows are open, levels too, stands in the page's head.
        say = f"{count} recorded." if count else "That is recorded already."
        return JSONResponse({"say": " ".join([say, *done.notes])})

    def export(self, request: Request) -> Response:
        """Records as CSV."""
        what, period = (request.query_params.get(name, "") for name in ("what", "period"))
        known = what in ("applications", "sums", "times")
        if not known or not re.fullmatch(r"\d{4}(-\d\d)?", period):
            return PlainTextResponse("There is no such export.", 404)
        try:
            text = self.records.export(what, period)
        except StoreError as error:
            return PlainTextResponse(str(error), 404)
        name = f'attachment; filename="{what}-{period}.csv"'
        headers = {"content-disposition": name, **NOT_KEPT}
        return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


def _is_texts(row: Any) -> bool:
    return isinstance(row, dict) and all(
        isinstance(text, str) and len(text) <= 500 for text in row.values()
    )


SENT_TO = "say"
"""Where a page sends what the crew writes, seen from the page."""

KEPT_BY_THE_PHONE = "private, max-age=50400"
"""A working day: where there is no reach, the page opens all the same."""

HERE_ONLY = (
    "No phone can open these codes: the planner answers this machine only. End it with Ctrl-C and "
    "start it again with --lan; then the codes work where a phone is in the office's network."
)


class Phones(Desk):
    """The trucks' routes. address: of this server, as a phone reaches it."""

    def __init__(self, opened: SharedDay, keys: Keys, address: str) -> None:
        self._open, self._keys, self._address = opened, keys, address
        self._note = HERE_ONLY if urlsplit(address).hostname == "127.0.0.1" else ""
        self._day = PhoneDay(opened.workbook, opened.state.planned.plan.date)

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/day/phones", self.links),
            Route("/truck/{truck}/{key}/", self.page),
            Route("/truck/{truck}/{key}/say", self.say, methods=["POST"]),
        ]

    def path(self, truck_id: str) -> str:
        """Path of a truck's page."""
        return f"/truck/{quote(truck_id, safe='')}/{self._keys.truck(truck_id)}/"

    def page(self, request: Request) -> Response:
        """A truck's page."""
        truck_id = self._truck(request)
        if truck_id is None:
            return _nothing()
        try:
            text = self._day.page(truck_id, SENT_TO)
        except PlannerError as error:
            return PlainTextResponse(f"The office's tables cannot be read: {error}", 503)
        if text is None:
            return PlainTextResponse("Nothing is printed for this truck today.", 404)
        return HTMLResponse(
            text,
            headers={
                "content-security-policy": f"{content_policy()}; frame-ancestors 'none'",
                "cache-control": KEPT_BY_THE_PHONE,
            },
        )

    async def say(self, request: Request) -> Response:
        """What the crew wrote."""
        truck_id = self._truck(request)
        if truck_id is None:
            return _nothing()
        message = await body_of(request)
        try:
            answer = await run_in_threadpool(self._day.exchange, truck_id, message)
        except TickError as error:
            raise Bad(str(error)) from error
        except PlannerError as error:
            return JSONResponse({"say": str(error)}, 503)
        return JSONResponse(answer, headers={"cache-control": "no-store"})

    def links(self, request: Request) -> Response:
        """The office's sheet: a QR code a truck, and what crews wrote that is no record yet."""
        try:
            links = {name: self._address + self.path(name) for name in self._day.trucks()}
            text = phones_page(self._day, links, self._note)
        except PlannerError as error:
            return PlainTextResponse(f"The office's tables cannot be read: {error}", 503)
        headers = {"content-security-policy": SHEET_POLICY, "cache-control": "no-store"}
        return HTMLResponse(text, headers=headers)

    def _truck(self, request: Request) -> str | None:
        truck_id, key = request.path_params["truck"], request.path_params["key"]
        return truck_id if self._keys.is_truck(truck_id, key) else None


def _nothing() -> Response:
    return PlainTextResponse("There is no such page.", 404)
