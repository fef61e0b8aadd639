"""The forecast asked of the weather service in planner.toml, the one place that opens an address:
nothing is asked for unless the office configures it and runs `planner forecast`."""

import urllib.request
from http.client import HTTPException
from typing import Final

from planner.deadline import within
from planner.tables.forecast import ForecastError

MOST_BYTES: Final = 8_000_000
"""Far above a week of hours; what is longer is no forecast."""


def fetch_forecast(address: str, contact: str, timeout_s: float = 20.0) -> str:
    """The text at an http(s) address. contact: tells the service who asks. Raises ForecastError."""
    if not address.startswith(("https://", "http://")):
        raise ForecastError(f"'{address}' is no address that begins with https://")
    caller = f"lawn-spray-day-planner ({contact or 'no contact given'})"
    request = urllib.request.Request(
        address, headers={"User-Agent": caller, "Accept": "application/geo+json, application/json"}
    )

    def ask() -> bytes:
        with urllib.request.urlopen(request, timeout=timeout_s) as answer:
            content: bytes = answer.read(MOST_BYTES + 1)
        return content

    try:
        content = within(2 * timeout_s, ask)
    except (OSError, ValueError, HTTPException) as error:  # TimeoutError is an OSError
        raise ForecastError(f"{address} cannot be read: {error}") from error
    if len(content) > MOST_BYTES:
        raise ForecastError(f"{address} sends more than a forecast")
    return content.decode("utf-8", errors="replace")
