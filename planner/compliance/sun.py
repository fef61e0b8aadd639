"""Sunrise and sunset at a place; the only import of astral."""

from datetime import date, datetime
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import sunrise, sunset

ZONES: Final = {
    "Eastern": "America/New_York",
    "Central": "America/Chicago",
    "Mountain": "America/Denver",
    "Arizona": "America/Phoenix",
    "Pacific": "America/Los_Angeles",
    "Alaska": "America/Anchorage",
    "Hawaii": "Pacific/Honolulu",
}
"""Words of the setting time_zone -> names of the time zone database."""


@lru_cache(maxsize=2_000)
def sun_minutes(lat: float, lon: float, when: date, zone: str) -> tuple[float | None, float | None]:
    """Sunrise and sunset as minutes after midnight of the day, on the clocks of the time zone (a
    word of ZONES); None where the sun does not rise or set that day. Raises KeyError for an unknown
    zone."""
    place, clock = Observer(lat, lon), ZoneInfo(ZONES[zone])
    found: list[float | None] = []
    for event in (sunrise, sunset):
        try:
            found.append(_minutes(event(place, when, tzinfo=clock)))
        except ValueError:
            found.append(None)
    return found[0], found[1]


def _minutes(moment: datetime) -> float:
    return moment.hour * 60.0 + moment.minute + moment.second / 60.0
