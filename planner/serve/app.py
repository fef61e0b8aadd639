"""The office's routes over an open day; which pieces of the page are other than in the revision
that a browser has."""

import json
import re
from collections import OrderedDict
from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import asdict
from typing import Any, Final

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from planner.office.changes import Refused
from planner.office.day import DayState
from planner.office.day_records import is_date
from planner.office.journal import JournalError
from planner.office.open_day import SharedDay, Stale
from planner.office.tables import OfficeTables
from planner.pages import STATIC, STATIC_PACKAGES
from planner.pages.asked import asked_parts, compared_part
from planner.pages.day_page import day_page, day_parts, search_parts
from planner.pages.words import Part
from planner.pages.yard import customers, day_map
from planner.problems import PlannerError, WorkbookError, counted
from planner.serve.answers import NOT_KEPT, Bad, Hub, Sheets, event_stream, refused, with_body
from planner.serve.guard import Guard, Keys, opening
from planner.serve.later import Desk, Later

REVISIONS_KEPT: Final = 500
"""Revisions of which is known what their pieces were; to an older page all are sent."""

ROW: Final = re.compile(r'<(article|tr)\b[^>]*? data-key="([^"]*)".*?</\1>', re.DOTALL)
HEAD: Final = re.compile(r"<thead>.*?</thead>", re.DOTALL)

PartKeys = dict[str, Hashable]


class Pieces:
    """The pieces of each revision, by their keys."""

    def __init__(self) -> None:
        self._known: OrderedDict[int, tuple[PartKeys, PartKeys]] = OrderedDict()

    def answer(
        self, state: DayState, since: int | None, have: Collection[str] | None, say: str
    ) -> dict[str, Any]:
        """The answer for a page that shows revision `since` (None = nothing) and has the elements
        `have` (None = all). since: the revision against which it is told, None = it is whole; what
        a row with data-same names stays as that page has it."""
        parts, drawn = day_parts(state), day_map(state)
        base = since if since in self._known else None
        old_parts, old_drawn = ({}, {}) if base is None else self._known[base]
        self._known[state.revision] = (_keys(parts), _keys(drawn))
        self._known.move_to_end(state.revision)
        while len(self._known) > REVISIONS_KEPT:
            self._known.popitem(last=False)
        asked = {name: part for name, part in parts.items() if have is None or name in have}
        gone = [name for name in old_parts if name not in parts]
        return {
            "revision": state.revision,
            "since": base,
            "parts": _other(asked, old_parts) | dict.fromkeys(gone, ""),
            "map": _other(drawn, old_drawn),
            "say": say,
        }

    def note(self, state: DayState) -> None:
        """A page was made whole in this revision."""
        self._known.setdefault(state.revision, (_keys(day_parts(state)), _keys(day_map(state))))


def _keys(parts: dict[str, Part]) -> PartKeys:
    return {name: part.key for name, part in parts.items()}


def _other(parts: dict[str, Part], old: PartKeys) -> dict[str, Any]:
    return {
        name: _without_same_rows(part.make(), old.get(name))
        for name, part in parts.items()
        if name not in old or old[name] != part.key
    }


def _without_same_rows(made: Any, old: Hashable) -> Any:
    """A piece whose rows that are as they were are named and not sent. The browser paints cells by
    the head of their table: under another head every row is another."""
    if not isinstance(made, str) or not isinstance(old, str):
        return made
    if HEAD.findall(made) != HEAD.findall(old):
        return made
    had = {row[0] for row in ROW.finditer(old)}
    return ROW.sub(
        lambda row: f'<{row[1]} data-same="{row[2]}"></{row[1]}>' if row[0] in had else row[0], made
    )


PHONES: Final = "/day/phones"
KEPT = {"cache-control": "max-age=86400"}
CUT_OFF = "it was cut off by a change of the day; nothing of it is offered"
AGAIN_EFFORT = 200
"""Of planning the rest again, where none is asked for: some seconds of one core."""
MOST_EFFORT = 10_000
PACKED_FROM, PACKED_HOW = 8_192, 4
"""Bytes of an answer from which on it is packed, and how tightly: a millisecond for 60 kB."""


class Office:
    """What the office's requests are answered with. cookie: name of its cookie."""

    def __init__(
        self,
        day: SharedDay,
        keys: Keys,
        hub: Hub,
        cookie: str,
        address: str = "",
        tables: OfficeTables | None = None,
        has_phones: bool = True,
    ) -> None:
        """address: of this server, as a phone reaches it; tables: of the day's workbook, None =
        they are not looked at again; has_phones: whether crews' phones are answered of this day."""
        self.day, self.keys, self.hub, self.cookie = day, keys, hub, cookie
        self.pieces, self._tables = Pieces(), tables
        self.sheets, self._address, self._has_phones = Sheets(day), address, has_phones
        day.listeners.append(self._tell)
        day.on_search.append(self._tell_search)

    def _tell(self, state: DayState) -> None:
        self.hub.tell("revision", revision=state.revision, said=state.said)

    def _tell_search(self, state: DayState) -> None:
        self.hub.tell("again", **_search(state))

    @property
    def base(self) -> str:
        """Path of the day's page by its date; all its routes lie below."""
        return f"/day/{self.day.state.planned.plan.date}"

    def routes(self, at: str = "") -> list[Route]:
        """The day's own, by its date, or below the path `at`."""
        gets = {
            "": self.page,
            "/parts": self.parts,
            "/customers": self.customers,
            "/compare": self.compare,
            "/events": self.events,
            "/packet": self.sheets.packet,
            "/papers/{name}": self.sheets.paper,
            "/phones": self.crews,
        }
        posts = {
            "/change": self.change,
            "/ask": self.ask,
            "/again": self.again,
            "/again/stop": self.stop,
            "/print": self.print,
        }
        at = at or self.base
        return [
            *(Route(at + path, answer) for path, answer in gets.items()),
            *(Route(at + path, answer, methods=["POST"]) for path, answer in posts.items()),
        ]

    def phones(self, hub: Hub) -> Desk:
        """The crews' phones."""
        from planner.serve.records import Phones

        return Phones(self.day, self.keys, self._address)

    def crews(self, request: Request) -> Response:
        """Where the codes for the crews' phones are."""
        if self._has_phones:
            return RedirectResponse(PHONES, 303)
        when = self.day.state.planned.plan.date
        return PlainTextResponse(
            "Phones are answered for the day that the planner was started for. For this one's "
            f"codes end it with Ctrl-C on the evening before, and start it with --date {when}."
        )

    def start(self, request: Request) -> Response:
        """The bare address."""
        return RedirectResponse("/day", 303)

    def page(self, request: Request) -> Response:
        """The page of the day."""
        if is_date(other := request.query_params.get("date", "")):
            return RedirectResponse(f"/day/{other}", 303)
        read = self._with_new_tables() or self._with_calendar()
        told = " ".join(filter(None, (self._printed_elsewhere(), read)))
        state = self.day.state
        self.pieces.note(state)
        return HTMLResponse(day_page(state, told), headers=NOT_KEPT)

    def _printed_elsewhere(self) -> str:
        """That the day has another plan of record by now than the one that was opened here."""
        try:
            mark = self.day.printed_elsewhere()
        except PlannerError as error:
            return f"Whether the day was planned elsewhere cannot be seen: {error}"
        if not mark:
            return ""
        return (
            f"This day was planned elsewhere since: its plan of record is {mark}, and this page "
            "shows another. End `planner serve` with Ctrl-C and start it again to open that one; "
            "what is on the table here stays in Undo."
        )

    def _with_new_tables(self) -> str:
        """Take in what was written into the tables; why not, in words."""
        if self._tables is None or self._tables.untouched:
            return ""
        now = self._tables.settled()
        if now.problems:
            count = counted(len(now.problems), "problem")
            return f"The tables have {count}; this is the day without what was written last."
        try:
            if now.sound and now.sound != self.day.tables_sha256:
                self.day.take_tables()
        except PlannerError as error:
            return f"This is the day with the tables as they were: {error}"
        return ""

    def _with_calendar(self) -> str:
        """Take in which trucks the calendar keeps at home by now, and what it has for later days;
        why not, in words."""
        try:
            if self.day.calendar_changed:
                self.day.take_tables()
        except PlannerError as error:
            return f"This is the day as it was before the calendar was laid anew: {error}"
        return ""

    @with_body
    def change(self, body: dict[str, Any]) -> Response:
        """One change."""
        change, have = body.get("change"), body.get("have")
        if not isinstance(change, dict):
            raise Bad("a change says what to change")
        shown = have if isinstance(have, list) else None

        def done(revision: int) -> Response:
            state = self.day.change(revision, change)
            return self._answer(state, revision, shown, _sentence(state), 200)

        return self._tried(body, shown, done)

    @with_body
    def ask(self, body: dict[str, Any]) -> Response:
        """What every truck says to the lifted orders."""
        lifted = body.get("lift")
        if not isinstance(lifted, list) or not all(isinstance(one, str) for one in lifted):
            raise Bad("a question names the orders that are lifted")

        def done(revision: int) -> Response:
            asked = self.day.ask(revision, lifted)
            answer = asdict(asked) | {"parts": asked_parts(asked, self.day.state)}
            return JSONResponse(answer, headers=NOT_KEPT)

        return self._tried(body, None, done)

    @with_body
    def again(self, body: dict[str, Any]) -> Response:
        """Begin to plan the rest again."""
        effort = body.get("effort", AGAIN_EFFORT)
        if not isinstance(effort, int) or not 1 <= effort <= MOST_EFFORT:
            raise Bad(f"the effort is a whole number from 1 to {MOST_EFFORT}")

        def done(revision: int) -> Response:
            return JSONResponse(_search(self.day.plan_again(revision, effort)), headers=NOT_KEPT)

        return self._tried(body, None, done)

    def stop(self, request: Request) -> Response:
        """End planning with the best so far."""
        return JSONResponse(_search(self.day.stop_again()), headers=NOT_KEPT)

    @with_body
    def print(self, body: dict[str, Any]) -> Response:
        """Make the plan its day's plan of record and write its papers."""

        def done(revision: int) -> Response:
            printed = self.day.publish(revision, body.get("with_violations") is True)
            words = [printed.said, f"The sheets are in {printed.folder}.", *printed.told]
            say = " ".join(word for word in words if word)
            return self._answer(self.day.state, revision, None, say, 200)

        return self._tried(body, None, done)

    def parts(self, request: Request) -> Response:
        """What is other since a revision."""
        since, have = request.query_params.get("since"), request.query_params.get("have")
        number = int(since) if since is not None and since.isdecimal() else None
        names = have.split(",") if have else None
        answer = self._answer(self.day.state, number, names, self.day.state.said, 200)
        # The first page is on the screen: time to check what the day does not need.
        if self._tables is not None and self._tables.untouched:
            self._tables.look()
        return answer

    def customers(self, request: Request) -> Response:
        """Customers by a part of their name or street."""
        day = self.day.state.planned.day
        found = customers(day, request.query_params.get("text", ""))
        return JSONResponse({"found": found}, headers=NOT_KEPT)

    def compare(self, request: Request) -> Response:
        """The draft on the table beside another."""
        name = request.query_params.get("draft", "")
        try:
            other = self.day.draft_plan(name)
        except Refused as error:
            return _refused(None, [str(error)])
        state = self.day.state
        part = compared_part(state, name, other.plan, len(other.violations))
        answer = {"revision": state.revision, "parts": {"compared": part}}
        return JSONResponse(answer, headers=NOT_KEPT)

    async def events(self, request: Request) -> Response:
        """The event stream."""
        state = self.day.state
        data = json.dumps({"revision": state.revision, "said": state.said})
        return event_stream(self.hub, "revision", data)

    def _tried(
        self,
        body: dict[str, Any],
        have: Collection[str] | None,
        done: Callable[[int], Response],
    ) -> Response:
        """What done answers for the revision of the body, or why it cannot be done."""
        revision = body.get("revision")
        if not isinstance(revision, int):
            raise Bad("it does not name its revision")
        try:
            return done(revision)
        except Stale:
            now = self.day.state
            words = f"Not done: somebody else was quicker ({now.said}). Look, and do it again."
            return self._answer(now, revision, have, words, 409)
        except WorkbookError as error:
            return _refused(revision, [f"{row.message}; {row.cure}" for row in error.problems])
        except JournalError as error:
            return JSONResponse({"revision": revision, "say": f"Not kept: {error}"}, 507)
        except PlannerError as error:
            return _refused(revision, [str(error)])

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


def application(office: Office, hosts: Sequence[str], more: Sequence[BaseRoute] = ()) -> Starlette:
    """The web application. hosts: names by which it may be asked; more: routes of further pages."""
    routes = [
        Route("/", office.start),
        Route("/open/{key}", opening(office.keys, office.cookie)),
        Later(office.phones, office.hub, PHONES[1:], "truck"),
        *office.routes("/day"),
        *office.routes(),
    ]
    return guarded([*routes, *more], hosts, office.keys, office.cookie)


def guarded(
    routes: Sequence[BaseRoute], hosts: Sequence[str], keys: Keys, cookie: str
) -> Starlette:
    """An application of these routes and the static files, behind all that guards them."""
    # Sheets name no icon of their own; a browser asks for one all the same.
    icon = Route("/favicon.ico", lambda _request: Response(status_code=204, headers=KEPT))
    static = StaticFiles(directory=STATIC, packages=list(STATIC_PACKAGES))
    return Starlette(
        routes=[*routes, icon, Mount("/static", static)],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False),
            Middleware(Guard, keys=keys, cookie=cookie),
            Middleware(GZipMiddleware, minimum_size=PACKED_FROM, compresslevel=PACKED_HOW),
        ],
        exception_handlers={Bad: _bad, Refused: refused},
    )


def _search(state: DayState) -> dict[str, Any]:
    now = state.searching
    # What stands on another revision can no longer be taken.
    offers = [one for one in now.offers if one.revision == state.revision]
    cut_off = now.offers and not offers and not now.running
    return {
        "revision": state.revision,
        "running": now.running,
        "share": round(now.share, 3),
        "text": CUT_OFF if cut_off else now.text,
        "offers": [
            {"number": one.number, "cost_change": round(one.cost_change, 2), "said": one.said}
            for one in offers
        ],
        "parts": search_parts(state),
    }


def _bad(request: Request, error: Exception) -> Response:
    return JSONResponse({"say": str(error)}, 400)


def _refused(revision: int | None, texts: Sequence[str]) -> Response:
    return JSONResponse({"revision": revision, "say": texts[0], "problems": texts}, 422)


def _sentence(state: DayState) -> str:
    """For the live region: what was done, what it costs, what is broken."""
    words = f"{state.said[:1].upper()}{state.said[1:]}. Cost {state.cost:,.2f}"
    words += f", {state.cost_change:+,.2f}." if state.before is not None else "."
    broken = len(state.planned.violations)
    return words + (f" {broken} rules broken." if broken > 1 else " 1 rule broken." * broken)
