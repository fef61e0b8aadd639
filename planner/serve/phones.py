"""Crews' phones: a truck's page and what the crew writes, each behind the truck's own key."""

from __future__ import annotations

from urllib.parse import quote, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response

from planner.office.open_day import SharedDay
from planner.phone.page import content_policy
from planner.phone_day import PhoneDay
from planner.phone_office import SHEET_POLICY, phones_page
from planner.problems import PlannerError
from planner.records.ticks import TickError
from planner.serve.bodies import Bad, body_of
from planner.serve.guard import Keys

SENT_TO = "say"
"""Where a page sends what the crew writes, seen from the page."""

KEPT_BY_THE_PHONE = "private, max-age=50400"
"""A working day: where there is no reach, the page opens all the same."""

HERE_ONLY = (
    "No phone can open these codes: the planner answers this machine only. End it with Ctrl-C and "
    "start it again with --lan; then the codes work where a phone is in the office's network."
)


class Phones:
    """The trucks' routes. address: of this server, as a phone reaches it."""

    def __init__(self, opened: SharedDay, keys: Keys, address: str) -> None:
        self._open, self._keys, self._address = opened, keys, address
        self._note = HERE_ONLY if urlsplit(address).hostname == "127.0.0.1" else ""
        self._day = PhoneDay(opened.workbook, opened.state.planned.plan.date)

    def path(self, truck_id: str) -> str:
        """Path of a truck's page."""
        return f"/truck/{quote(truck_id, safe='')}/{self._keys.truck(truck_id)}/"

    async def page(self, request: Request) -> Response:
        """A truck's page."""
        truck_id = self._truck(request)
        if truck_id is None:
            return _nothing()
        try:
            text = await run_in_threadpool(self._day.page, truck_id, SENT_TO)
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

    async def links(self, request: Request) -> Response:
        """The office's sheet: a QR code a truck, and what crews wrote that is no record yet."""

        def made() -> str:
            links = {name: self._address + self.path(name) for name in self._day.trucks()}
            return phones_page(self._day, links, self._note)

        try:
            text = await run_in_threadpool(made)
        except PlannerError as error:
            return PlainTextResponse(f"The office's tables cannot be read: {error}", 503)
        headers = {"content-security-policy": SHEET_POLICY, "cache-control": "no-store"}
        return HTMLResponse(text, headers=headers)

    def _truck(self, request: Request) -> str | None:
        truck_id, key = request.path_params["truck"], request.path_params["key"]
        return truck_id if self._keys.is_truck(truck_id, key) else None


def _nothing() -> Response:
    return PlainTextResponse("There is no such page.", 404)
