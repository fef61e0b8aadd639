"""planner.toml beside a workbook: the office's own headers, its road extract, its forecast, and
the services of the network that it uses."""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from planner.plain_files import bytes_of
from planner.plain_files import why as reason
from planner.problems import Problem
from planner.tables.columns import EVERY_OTHER, IGNORE, columns_of, present_name, table_names
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


OFFICE_FILE = "planner.toml"

KNOWN_KEYS = ("columns", "roads", "forecast", "locate", "map")

FORECAST_KEYS = ("file", "address", "area", "contact")


@dataclass(frozen=True)
class ForecastSource:
    """Where `planner forecast` reads: a saved file (relative to the folder of planner.toml) or an
    address; area: weather area of its rows; contact: told to the service. '' = not given."""

    file: str = ""
    address: str = ""
    area: str = ""
    contact: str = ""


@dataclass(frozen=True)
class OfficeFile:
    """columns: table -> the office's header -> the planner's column, or 'ignore' (also of '*',
    every other header). roads: road extract or matrix file, relative to the folder of planner.toml;
    forecast: where `planner forecast` reads; locate: the service that `planner locate` asks; tiles:
    online street map for the map page; None = none named. problems: in the file."""

    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    roads: str | None = None
    forecast: ForecastSource | None = None
    problems: tuple[Problem, ...] = ()
    locate: LocateSettings | None = None
    tiles: MapTiles | None = None


def load_office_file(workbook: Path) -> OfficeFile:
    """The planner.toml in a workbook's folder, or beside an Excel workbook; an empty one if there
    is none. What cannot be used is left out and stands in problems (FILE-4, FILE-5)."""
    path = (workbook if workbook.is_dir() else workbook.parent) / OFFICE_FILE
    if not path.exists():
        return OfficeFile()
    try:
        content = tomllib.loads(bytes_of(path).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        # TOMLDecodeError and UnicodeDecodeError are ValueErrors; deep nesting is no office's file.
        why = reason(error) or "it is nested too deep"
        cure = 'a line looks like roads = "county.osm.pbf" or "Sq Ft" = "lawn_ft2"'
        if "\\" in why:
            cure = f"write / instead of \\ in paths; {cure}"
        return OfficeFile(
            problems=(
                Problem(OFFICE_FILE, None, None, "FILE-4", f"cannot be read: {why}", cure=cure),
            )
        )
    problems = [_unknown_key(key) for key in content if key not in KNOWN_KEYS]
    columns = _columns(content.get("columns", {}), problems)
    roads = content.get("roads")
    if roads is not None and not isinstance(roads, str):
        problems.append(_wrong("roads", roads, 'write roads = "county.osm.pbf"'))
        roads = None
    forecast = _forecast(content.get("forecast"), problems)
    locate, wrong = read_locate(content.get("locate"))
    tiles, wrong_map = read_map(content.get("map"))
    problems += [_wrong(*one) for one in (*wrong, *wrong_map)]
    return OfficeFile(columns, roads, forecast, tuple(problems), locate, tiles)


def _forecast(content: object, problems: list[Problem]) -> ForecastSource | None:
    if content is None:
        return None
    example = 'write [forecast] and below it file = "hourly.json", or address = "https://..."'
    if not isinstance(content, dict):
        problems.append(_wrong("forecast", content, example))
        return None
    good = {}
    for key, value in content.items():
        if key not in FORECAST_KEYS:
            cure = did_you_mean(key, FORECAST_KEYS, "remove it")
            message = "[forecast] has no such key"
            problems.append(Problem(OFFICE_FILE, None, None, "FILE-5", message, key, cure))
        elif not isinstance(value, str):
            problems.append(_wrong(f"forecast.{key}", value, example))
        else:
            good[key] = value
    return ForecastSource(**good)


def _unknown_key(key: str) -> Problem:
    cure = did_you_mean(key, KNOWN_KEYS, "remove it")
    return Problem(OFFICE_FILE, None, None, "FILE-5", "there is no such key", key, cure)


def _wrong(key: str, found: object, cure: str) -> Problem:
    message = f"the value of {key} is of the wrong kind"
    return Problem(OFFICE_FILE, None, None, "FILE-5", message, str(found), cure)


def _columns(content: object, problems: list[Problem]) -> dict[str, dict[str, str]]:
    example = 'write [columns.properties] and below it "Sq Ft" = "lawn_ft2"'
    if not isinstance(content, dict):
        problems.append(_wrong("columns", content, example))
        return {}
    good: dict[str, dict[str, str]] = {}
    for table, renamed in content.items():
        if table not in table_names():
            cure = did_you_mean(table, table_names(), "remove it")
            message = "[columns] names no table of the planner"
            problems.append(Problem(OFFICE_FILE, None, None, "FILE-5", message, table, cure))
        elif not isinstance(renamed, dict):
            problems.append(_wrong(f"columns.{table}", renamed, example))
        else:
            good[table] = _renamed(table, renamed, problems)
    return good


def _renamed(table: str, renamed: dict[str, object], problems: list[Problem]) -> dict[str, str]:
    known = columns_of(table)
    good: dict[str, str] = {}
    for header, column in renamed.items():
        allowed = (IGNORE,) if header == EVERY_OTHER else (*known, IGNORE)
        if isinstance(column, str) and present_name(column) in allowed:
            good[header] = present_name(column)
            continue
        cure = did_you_mean(str(column), allowed, f"`planner columns {table}` lists them")
        message = f"the table {table} has no such column to map '{header}' to"
        problems.append(Problem(OFFICE_FILE, None, None, "FILE-5", message, str(column), cure))
    return good
