"""Addresses asked of a Nominatim-compatible service; the only import of geopy.

Only the address, town, state and ZIP code leave the office, never a customer's name. One request a
second at most, every answer is kept on disk, and a service that does not answer is left alone.
"""

import contextlib
import hashlib
import json
import math
import os
import tempfile
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from http.client import HTTPException
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from geopy.adapters import URLLibAdapter
from geopy.exc import GeocoderParseError, GeopyError
from geopy.geocoders import Nominatim

from planner.caches import own_folder
from planner.deadline import within
from planner.plain_files import read_json
from planner.roads.address_book import AddressBook, AddressMatch, House, Suggestion, Sureness
from planner.roads.addresses import Question, number_key, parse_address, place_key, zip_of

SECONDS_BETWEEN: Final = 1.0
"""At most one request a second, as the usage policy of the public Nominatim service asks
(https://operations.osmfoundation.org/policies/nominatim/, from memory)."""

TIMEOUT_S: Final = 10.0
LONGEST_ANSWER_S: Final = 30.0
MOST_BYTES: Final = 1_000_000
"""An answer about one address has a few thousand."""

FAILURES_UNTIL_GIVEN_UP: Final = 3
MISS_KEPT_DAYS: Final = 30.0
"""An address that the service did not know is asked again after this; houses get mapped."""

_ERRORS = (
    *(GeopyError, OSError, HTTPException),
    # geopy lets the errors of an answer of another shape through as they come.
    *(ValueError, TypeError, AttributeError, KeyError, IndexError, RecursionError),
)

MOST_SHOWN: Final = 160
_FORMAT: Final = 1
_TOWNS: Final = ("city", "town", "village", "hamlet", "municipality", "suburb")


@dataclass(frozen=True)
class ServiceConfig:
    """address: of the service, as https://host/path. user_agent: who asks, as the service's policy
    wants it. email: for the service's operator, '' = none. country: two letters."""

    address: str
    user_agent: str
    email: str = ""
    country: str = "us"


class _CappedAdapter(URLLibAdapter):  # type: ignore[misc]
    """Reads no more of an answer than an address can need."""

    def _decode_page(self, page: Any) -> str:
        body = page.read(MOST_BYTES + 1)
        if len(body) > MOST_BYTES:
            raise GeocoderParseError("the answer is too long")
        try:
            return str(body, "utf-8")
        except UnicodeDecodeError as error:
            raise GeocoderParseError("the answer is not UTF-8") from error


class AddressService:
    """Asks a service about addresses, one after the other. clock, sleep: seconds."""

    def __init__(
        self,
        config: ServiceConfig,
        *,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
        timeout_s: float = TIMEOUT_S,
    ) -> None:
        parts = urlsplit(config.address)
        self._config = config
        self._clock, self._sleep = clock, sleep
        self._last: float | None = None
        self._failures = 0
        self.requests = 0
        contact = f" ({config.email})" if config.email else ""
        self._geocoder = Nominatim(
            user_agent=config.user_agent + contact,
            scheme=parts.scheme,
            domain=parts.netloc + parts.path.rstrip("/"),
            timeout=timeout_s,
            adapter_factory=_CappedAdapter,
        )

    @property
    def gave_up(self) -> bool:
        """Whether the service failed so often in a row that it is not asked any more."""
        return self._failures >= FAILURES_UNTIL_GIVEN_UP

    def find(self, question: Question) -> AddressMatch:
        """What the service knows of an address. Its errors are told in the answer, not raised."""
        query = self._query(question)
        file = _cache_file(self._config.address, query)
        kept = _kept(file, query) if file is not None else None
        if kept is not None:
            return _read(kept, question)
        if self.gave_up:
            return _not_found("the service does not answer; it was not asked")
        try:
            answer = self._ask(query)
        except _ERRORS as error:
            self._failures += 1
            return _not_found(f"the service failed: {_shown(str(error)) or type(error).__name__}")
        self._failures = 0
        if file is not None:
            with contextlib.suppress(OSError):
                _keep(file, query, answer)
        return _read(answer, question)

    def _query(self, question: Question) -> dict[str, str]:
        parsed = parse_address(question.address)
        query = {
            "street": f"{parsed.number} {parsed.street}".strip(),
            "city": question.town,
            "state": question.state,
            "postalcode": zip_of(question.zip_code),
        }
        return {name: text for name, text in query.items() if text}

    def _ask(self, query: dict[str, str]) -> dict[str, Any]:
        """The service's best place as plain data, {} when it knows none. Raises what geopy does."""
        if self._last is not None:
            wait_s = self._last + SECONDS_BETWEEN - self._clock()
            if wait_s > 0:
                self._sleep(wait_s)
        self._last = self._clock()
        self.requests += 1
        with warnings.catch_warnings():
            # geopy warns of latitudes over 90 and passes them on; _read refuses them.
            warnings.simplefilter("ignore")
            ask = partial(
                self._geocoder.geocode,
                query,
                exactly_one=True,
                addressdetails=True,
                country_codes=self._config.country,
            )
            place = within(LONGEST_ANSWER_S, ask)
        if place is None:
            return {}
        raw = place.raw
        details = raw.get("address")
        return {
            "lat": float(place.latitude),
            "lon": float(place.longitude),
            "name": _shown(str(raw.get("display_name", ""))),
            "address": {
                str(key): _shown(str(value))
                for key, value in (details if isinstance(details, dict) else {}).items()
            },
        }


def _read(answer: dict[str, Any], question: Question) -> AddressMatch:
    """The answer's place: sure when it is the house that was asked for, judged as the map's houses
    are, else its street. What contradicts the question is a suggestion; a town alone is no place
    for a truck."""
    if not answer:
        return _not_found("the service does not know it")
    point = float(answer["lat"]), float(answer["lon"])
    if not (math.isfinite(sum(point)) and abs(point[0]) <= 90 and abs(point[1]) <= 180):
        return _not_found("the service gave no point on the globe")
    there, name = answer["address"], str(answer["name"])
    if not there.get("road"):
        return _not_found(f"the service knows the area only: {name}")
    towns = [there[kind] for kind in _TOWNS if there.get(kind)]
    asked = [town for town in towns if place_key(town) == place_key(question.town)]
    house = House(
        number_key(there.get("house_number", "")),
        there["road"],
        (asked or towns or [""])[0],
        there.get("state", ""),
        zip_of(there.get("postcode", "")),
        point,
    )
    found = AddressBook([house], [], {}).find(question)
    if found.sure in (Sureness.EXACT, Sureness.INTERPOLATED):
        return AddressMatch(Sureness.SERVICE, point, name)
    if found.sure is Sureness.STREET:
        return AddressMatch(Sureness.STREET, point, name)
    sure = Sureness.DIFFERS if found.sure is Sureness.DIFFERS else Sureness.PICK_ONE
    return AddressMatch(sure, None, f"the service: {found.found_as}", (Suggestion(point, name),))


def _not_found(why: str) -> AddressMatch:
    return AddressMatch(Sureness.NOT_FOUND, None, why)


def _shown(text: str) -> str:
    """Text of a stranger, fit for a table: one line, printable, short, and no formula."""
    plain = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(plain.split())[:MOST_SHOWN].lstrip("=+-@ ")


def _cache_file(service: str, query: dict[str, str]) -> Path | None:
    folder = own_folder("addresses")
    text = json.dumps([_FORMAT, service, query], sort_keys=True)
    name = hashlib.sha256(text.encode()).hexdigest()[:40]
    return folder / f"{name}.json" if folder is not None else None


def _kept(file: Path, query: dict[str, str]) -> dict[str, Any] | None:
    """The kept answer, or None when there is none that can be trusted or it was a miss long
    ago."""
    try:
        kept = read_json(file.read_text(encoding="utf-8"))
        answer: dict[str, Any] = kept["answer"]
        if kept["query"] != query or not isinstance(answer, dict):
            return None
        if not answer:
            age_days = (time.time() - file.stat().st_mtime) / 86_400
            return answer if age_days < MISS_KEPT_DAYS else None
        float(answer["lat"]), float(answer["lon"]), dict(answer["address"]), str(answer["name"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return answer


def _keep(file: Path, query: dict[str, str], answer: dict[str, Any]) -> None:
    """Write an answer aside and rename it. Raises OSError."""
    handle, aside = tempfile.mkstemp(suffix=".tmp", dir=file.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            json.dump({"query": query, "answer": answer}, out)
        Path(aside).replace(file)
    finally:
        Path(aside).unlink(missing_ok=True)
