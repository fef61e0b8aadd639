"""The [locate] table of planner.toml: the service that is asked for addresses."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

from planner.tables.text import did_you_mean

KEYS = ("service", "user_agent", "email", "country")
EXAMPLE = 'write service = "https://…" and user_agent = "your company, your e-mail" below [locate]'


@dataclass(frozen=True)
class LocateSettings:
    """A Nominatim-compatible service. service: its address, https://host/path. user_agent: who
    asks. email: for the service's operator, '' = none. country: two letters."""

    service: str
    user_agent: str
    email: str = ""
    country: str = "us"


Wrong = tuple[str, object, str]
"""What is wrong in planner.toml: key, what was found, cure."""


def read_locate(content: object) -> tuple[LocateSettings | None, list[Wrong]]:
    """The service that [locate] names, None when there is none or it cannot be used as written,
    and everything that is wrong."""
    if content is None:
        return None, []
    if not isinstance(content, dict):
        return None, [("locate", content, EXAMPLE)]
    wrong: list[Wrong] = []
    for key, value in content.items():
        if key not in KEYS:
            wrong.append((f"locate.{key}", key, did_you_mean(key, KEYS, "remove it")))
        elif not isinstance(value, str) or not value.strip() or not value.isprintable():
            wrong.append((f"locate.{key}", value, f"{EXAMPLE}: text in quotes"))
    if wrong:
        return None, wrong
    settings = LocateSettings(**{"service": "", "user_agent": "", **content})
    if not _is_web_address(settings.service):
        wrong.append(("locate.service", settings.service, EXAMPLE))
    for key, text in (("user_agent", settings.user_agent), ("email", settings.email)):
        # It becomes a header of the request.
        if not text.isascii() or (key == "user_agent" and not text):
            cure = "say who asks, in plain letters: the service's rules want it"
            wrong.append((f"locate.{key}", text, cure))
    return (None if wrong else settings), wrong


def _is_web_address(text: str) -> bool:
    try:
        parts = urlsplit(text)
        port_is_good = parts.port is None or parts.port > 0
    except ValueError:
        return False
    bare = not (parts.query or parts.fragment or parts.username)
    return parts.scheme in ("http", "https") and bool(parts.hostname) and port_is_good and bare
