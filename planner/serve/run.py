"""The whole site (the day's pages once the day can be opened, the tables' pages from the start)
and the server's life: its socket, its link, its end."""

import asyncio
import contextlib
import errno
import signal
import socket
import ssl
import threading
from collections.abc import Callable, Sequence
from datetime import date
from ipaddress import ip_address
from pathlib import Path

import uvicorn
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from planner.office.open_day import SharedDay
from planner.office.tables import OfficeTables
from planner.problems import PlannerError, WorkbookError
from planner.roads.travel import RoadError
from planner.serve.answers import Hub
from planner.serve.app import Office, application, guarded
from planner.serve.days import OtherDays
from planner.serve.guard import Keys, opening
from planner.serve.later import Desks, Later
from planner.serve.quiet import CollectsWhenQuiet


class OfficeSite:
    """One ASGI application. open_day: a day, None = the one that it is started for, or the
    WorkbookError or RoadError that keeps it from being opened; hosts: names by which it may be
    asked; address: as a phone reaches it; desks: of the further pages."""

    def __init__(
        self,
        open_day: Callable[[date | None], SharedDay],
        tables: OfficeTables,
        desks: Desks,
        keys: Keys,
        cookie: str,
        hosts: Sequence[str],
        address: str = "",
    ) -> None:
        self._open_day, self.tables = open_day, tables
        self.hub, self.keys, self._cookie = Hub(), keys, cookie
        self._hosts, self._address, self._lock = hosts, address, threading.Lock()
        tables.listeners.append(
            lambda state: self.hub.tell(
                "tables", revision=state.revision, checking=state.checking, said=state.said
            )
        )
        self._more = [Later(made, self.hub, name) for name, made in desks.items()]
        self._others = OtherDays(self._office_of, lambda: self.hub.ending())
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
            office = self._office_of(None, self.hub)
            self._app = application(office, self._hosts, [*self._more, self._others])
            self.day = office.day

    def _office_of(self, when: date | None, hub: Hub) -> Office:
        day = self._open_day(when)
        day.offers.trouble = lambda text: self.trouble(text)
        day.start_searcher()
        here = (self.keys, hub, self._cookie, self._address, self.tables)
        return Office(day, *here, has_phones=when is None)

    def _to_day(self, request: Request) -> Response:
        try:
            self.open()
        except (WorkbookError, RoadError):
            return RedirectResponse("/tables", 303)
        except PlannerError as error:
            return PlainTextResponse(f"{error}\nThe tables are at /tables.", 409)
        return RedirectResponse("/day", 303)

    def close(self) -> None:
        """Let everything go."""
        if self.day is not None:
            self.day.close()
        self._others.close()
        for later in self._more:
            later.close()
        self.tables.close()


HERE = ("127.0.0.1", "localhost", "[::1]")
LAST_ANSWERS_S = 3
"""So long answers that are being made may take after the end was asked for."""


class ServeError(PlannerError):
    """A server that cannot begin, in words with the cure."""


def bound(port: int, lan: bool) -> socket.socket:
    """The socket that is listened at. lan: for the whole local network. Raises ServeError."""
    place = "0.0.0.0" if lan else "127.0.0.1"
    # Said to be TCP, or asyncio does not switch off waiting for more to send (40 ms an answer).
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((place, port))
        made.listen(128)
    except OSError as error:
        made.close()
        if error.errno == errno.EADDRINUSE:
            raise ServeError(
                f"port {port} is in use, maybe by another `planner serve`; end that one, or name "
                f"another port: --port {port + 1}"
            ) from None
        if error.errno == errno.EACCES:
            raise ServeError(f"port {port} needs rights that you do not have; try 8765") from None
        raise ServeError(f"port {port} cannot be opened: {error.strerror}") from error
    return made


def checked_certificate(certificate: Path, key: Path | None) -> tuple[Path, Path | None]:
    """A certificate (PEM) and its key, None = in the same file, that https can be served with.
    Raises ServeError."""
    try:
        # Without a password, or OpenSSL would ask for one on the terminal.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password="")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise ServeError(
            f"{certificate} and its key cannot be used for https ({why}); give a certificate and "
            "its key as PEM files, the key without a password"
        ) from error
    return certificate, key


def why_not_trusted(certificate: Path, key: Path | None, host: str) -> str:
    """Why a phone that trusts the certificate would still be warned of a page at this name or
    address, '' = it would not: OpenSSL's own words, from a greeting of a server and a client within
    this process."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(certificate, key, password="")
    asking = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    asking.load_verify_locations(certificate)
    # Whoever signed it is the phone's question; name and dates are asked here.
    asking.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    sides = [asking.wrap_bio(down, up, server_hostname=host), serving.wrap_bio(up, down, True)]
    for side in sides * 2:
        try:
            side.do_handshake()
        except ssl.SSLWantReadError:
            continue
        except ssl.SSLCertVerificationError as error:
            return str(error.verify_message)
    return ""


def lan_addresses() -> tuple[str, ...]:
    """This machine's addresses on its local networks, best first."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        # No packet is sent: the system only says from which address it would go out.
        asked.connect(("192.0.2.1", 9))
        found.append(asked.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None)]
    return tuple(
        dict.fromkeys(
            name for name in found if ":" not in name and not ip_address(name).is_loopback
        )
    )


def serve(
    made: Callable[[Keys, str, Sequence[str], str], OfficeSite],
    secret: bytes,
    listening: socket.socket,
    hosts: Sequence[str],
    say: Callable[[str], None],
    https: tuple[Path, Path | None] | None = None,
) -> None:
    """Serve until Ctrl-C. made: the site, from keys, the name of its cookie, names by which it may
    be asked, its address; secret: that keys are derived from; hosts: further names; say: prints a
    line for people; https: certificate and key, None = plain http."""
    port = listening.getsockname()[1]
    address = f"http{'s' if https else ''}://{hosts[0] if hosts else '127.0.0.1'}:{port}"
    keys = Keys(secret)
    site = made(keys, f"planner-{port}", (*HERE, *hosts), address)
    keys.on_link = lambda: say(f"The next link: {address}/open/{keys.new_link()}")
    config = uvicorn.Config(
        CollectsWhenQuiet(site),
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_graceful_shutdown=LAST_ANSWERS_S,
        ws="none",
        ssl_certfile=https[0] if https else None,
        ssl_keyfile=https[1] if https else None,
    )
    server = uvicorn.Server(config)
    site.trouble = say
    site.hub.ending = lambda: server.should_exit

    def end(_number: int, _frame: object) -> None:
        server.should_exit = True

    # From here on Ctrl-C is no error, wherever it comes; uvicorn's own takes over meanwhile.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)
    say(f"Open {address}/open/{keys.new_link()}")
    say("The link opens once. Ctrl-C ends the page; every change is kept.")
    try:
        asyncio.run(server.serve([listening]))
    finally:
        site.close()
