"""The [locate] and [map] tables of planner.toml: services of the network that an office uses."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from urllib.parse import urlsplit

from planner.tables.text import did_you_mean

LOCATE_KEYS = ("service", "user_agent", "email", "country")
LOCATE_EXAMPLE = (
    'write service = "https://…" and user_agent = "your company, your e-mail" below [locate]'
)
MAP_KEYS = ("tiles", "credit")
MAP_EXAMPLE = 'write tiles = "https://…/{z}/{x}/{y}.png" and credit = "…" below [map]'


@dataclass(frozen=True)
class LocateSettings:
    """A Nominatim-compatible service. service: its address, https://host/path. user_agent: who
    asks. email: for the service's operator, '' = none. country: two letters."""

    service: str
    user_agent: str
    email: str = ""
    country: str = "us"


@dataclass(frozen=True)
class MapTiles:
    """Pictures of an online map, which may be switched on. address: of one picture, with {z}, {x}
    and {y}; credit: shown while it is on, as its owner asks."""

    address: str
    credit: str


Wrong = tuple[str, object, str]
"""What is wrong in planner.toml: key, what was found, cure."""


def read_locate(content: object) -> tuple[LocateSettings | None, list[Wrong]]:
    """The service that [locate] names, None when there is none or it cannot be used as written,
    and everything that is wrong."""
    texts, wrong = _texts("locate", content, LOCATE_KEYS, LOCATE_EXAMPLE)
    if texts is None:
        return None, wrong
    settings = LocateSettings(**{"service": "", "user_agent": "", **texts})
    if not _is_web_address(settings.service):
        wrong.append(("locate.service", settings.service, LOCATE_EXAMPLE))
    for key, text in (("user_agent", settings.user_agent), ("email", settings.email)):
        # It becomes a header of the request.
        if not text.isascii() or (key == "user_agent" and not text):
            cure = "say who asks, in plain letters: the service's rules want it"
            wrong.append((f"locate.{key}", text, cure))
    return (None if wrong else settings), wrong


def read_map(content: object) -> tuple[MapTiles | None, list[Wrong]]:
    """The online map that [map] names, as read_locate."""
    texts, wrong = _texts("map", content, MAP_KEYS, MAP_EXAMPLE)
    if texts is None:
        return None, wrong
    address, credit = texts.get("tiles", ""), texts.get("credit", "")
    places = all(place in address for place in ("{z}", "{x}", "{y}"))
    if not address.startswith(("https://", "http://")) or not places:
        wrong.append(("map.tiles", address, MAP_EXAMPLE))
    if not credit:
        wrong.append(("map.credit", credit, f"{MAP_EXAMPLE}: every map has an owner to name"))
    return (None if wrong else MapTiles(address, credit)), wrong


def _texts(
    table: str, content: object, keys: Collection[str], example: str
) -> tuple[dict[str, str] | None, list[Wrong]]:
    if content is None:
        return None, []
    if not isinstance(content, dict):
        return None, [(table, content, example)]
    wrong: list[Wrong] = []
    for key, value in content.items():
        if key not in keys:
            wrong.append((f"{table}.{key}", key, did_you_mean(key, keys, "remove it")))
        elif not isinstance(value, str) or not value.strip() or not value.isprintable():
            wrong.append((f"{table}.{key}", value, f"{example}: text in quotes"))
    return (None if wrong else content), wrong


def _is_web_address(text: str) -> bool:
    try:
        parts = urlsplit(text)
        port_is_good = parts.port is None or parts.port > 0
    except ValueError:
        return False
    bare = not (parts.query or parts.fragment or parts.username)
    return parts.scheme in ("http", "https") and bool(parts.hostname) and port_is_good and bare
