"""Who may ask what: one-time links, the office's cookie, keys of trucks, origins, sizes."""

import hashlib
import hmac
import secrets
from collections.abc import Awaitable, Callable
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY: Final = 256 * 1024
"""Bytes of a body; a change has some hundred, a day of ticks some ten thousand."""
MOST_FILE: Final = 20 * 1024 * 1024
FILE_PATH: Final = "/import/file"
"""The one path that takes a file."""

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; frame-src 'self'; manifest-src 'self'; "
    "worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'self'"
)
HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
OPEN_PATHS: Final = ("/open/", "/truck/", "/favicon.ico")
"""Paths that carry their own key, and one that shows nothing."""


class Keys:
    """Everything that is derived from one secret of the day. secret: kept with the day, so that
    cookies and trucks' links outlive a restart."""

    def __init__(self, secret: bytes) -> None:
        self._secret = secret
        self._links: set[str] = set()
        self.on_link: Callable[[], None] = lambda: None
        """Called when a one-time link was used."""

    @property
    def office(self) -> str:
        """What the office's cookie holds."""
        return self._made("office")

    def is_office(self, value: str) -> bool:
        """Whether a cookie's value is the office's."""
        return hmac.compare_digest(self.office.encode(), value.encode())

    def truck(self, truck_id: str) -> str:
        """The key of one truck's page; it opens nothing else."""
        return self._made(f"truck {truck_id}")[:22]

    def is_truck(self, truck_id: str, key: str) -> bool:
        """Whether the key is that of the truck."""
        return hmac.compare_digest(self.truck(truck_id).encode(), key.encode())

    def new_link(self) -> str:
        """A key that opens the office once."""
        key = secrets.token_urlsafe(18)
        self._links.add(key)
        return key

    def use_link(self, key: str) -> bool:
        """Whether the key opens the office; it does so no more."""
        found = key in self._links
        self._links.discard(key)
        return found

    def _made(self, what: str) -> str:
        return hmac.new(self._secret, what.encode(), hashlib.sha256).hexdigest()


def opening(keys: Keys, cookie: str) -> Callable[[Request], Awaitable[Response]]:
    """What answers a one-time link. cookie: name of the office's."""

    async def opened(request: Request) -> Response:
        no_store = {"cache-control": "no-store"}
        if not keys.use_link(request.path_params["key"]):
            if keys.is_office(request.cookies.get(cookie, "")):
                return RedirectResponse("/day", 303, headers=no_store)
            return PlainTextResponse(
                "This link was used already, or it is not complete. The next one stands in the "
                "window where `planner serve` runs.",
                401,
            )
        keys.on_link()
        answer = RedirectResponse("/day", 303, headers=no_store)
        answer.set_cookie(
            cookie, keys.office, httponly=True, samesite="lax", secure=request.url.scheme == "https"
        )
        return answer

    return opened


class Guard:
    """In front of everything: origins of writes, the office's cookie, sizes, headers. cookie: its
    name."""

    def __init__(self, app: ASGIApp, keys: Keys, cookie: str) -> None:
        self._app, self._keys, self._cookie = app, keys, cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or let through."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                have = {name.lower() for name, _ in message["headers"]}
                more = [row for row in HEADERS if row[0] not in have]
                message["headers"] = [*message["headers"], *more]
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, with_headers)
            return
        await self._app(scope, _limited(receive, _most(scope)), with_headers)

    def _refused(self, scope: Scope) -> Response | None:
        headers = {
            name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]
        }
        if scope["method"] not in ("GET", "HEAD"):
            own = f"{scope['scheme']}://{headers.get('host', '')}"
            if headers.get("origin") != own:
                return PlainTextResponse("This was not sent by the planner's own page.", 403)
            length = headers.get("content-length", "0")
            if not length.isdigit() or int(length) > _most(scope):
                return PlainTextResponse("That is too long.", 413)
        if scope["path"].startswith(OPEN_PATHS) or self._is_office(headers.get("cookie", "")):
            return None
        return PlainTextResponse(
            "This page opens by the link that `planner serve` prints. A link opens it once; the "
            "next one stands in the window where the command runs.",
            401,
        )

    def _is_office(self, cookies: str) -> bool:
        try:
            found = SimpleCookie(cookies).get(self._cookie)
        except CookieError:
            return False
        return found is not None and self._keys.is_office(found.value)


def _most(scope: Scope) -> int:
    return MOST_FILE if scope["path"] == FILE_PATH else MOST_BODY


def _limited(receive: Receive, most: int) -> Receive:
    """receive, ended where a body without a length goes on and on."""
    seen = 0

    async def limited() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        return {"type": "http.disconnect"} if seen > most else message

    return limited
