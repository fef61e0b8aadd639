"""Orders, hourly weather and past applications."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from planner.day.clock import Window
from planner.units import Amount


class Status(StrEnum):
    """What the office says of an order; what is done stands in the records."""

    OPEN = "open"
    ON_HOLD = "on hold"
    CANCELLED = "cancelled"


@dataclass(frozen=True)
class Order:
    """One mix due at one property.

    windows: when the crew may be there, None = any time. only_trucks: None = any truck. hold_until:
    first day after an order's hold, None = until it is cleared. last_day: the last sensible day,
    None = it stays due until it is done. revenue: in the settings' currency, None = not known.
    repeats: the order that this one does again free of charge. part_of: the order of the tables of
    which this is a part, with its share (rule 39); '' = it is whole.
    """

    order_id: str
    property_id: str
    mix_id: str
    due_from: date
    due_to: date
    area_ft2: float
    windows: tuple[Window, ...] | None
    priority: int
    only_trucks: frozenset[str] | None
    never_trucks: frozenset[str]
    note: str
    status: Status = Status.OPEN
    hold_until: date | None = None
    status_reason: str = ""
    last_day: date | None = None
    revenue: float | None = None
    repeats: str | None = None
    part_of: str = ""
    share: float = 1.0

    def is_open(self, when: date) -> bool:
        """Whether it may still be done from that day on."""
        gone = self.last_day is not None and self.last_day < when
        return self.status is not Status.CANCELLED and not gone


@dataclass(frozen=True)
class WeatherHour:
    """Forecast for the hour that begins at `hour` o'clock in one weather area ('' = everywhere).
    wind_from: a point of the compass."""

    day: date
    hour: int
    area: str
    wind_mph: float
    gust_mph: float | None
    temperature_f: float
    rain_chance_percent: float
    rain_in: float
    wind_from: str | None = None


GROUND_STATES: Final = ("frozen", "saturated", "snow", "frost", "dormant")
"""What ground can be."""


@dataclass(frozen=True)
class GroundDay:
    """The ground of one day in one weather area ('' = everywhere). state: of
    GROUND_STATES; soil_temperature_f: None = not measured."""

    day: date
    area: str
    state: tuple[str, ...]
    soil_temperature_f: float | None


@dataclass(frozen=True)
class PastApplication:
    """One product applied at one property on one day."""

    property_id: str
    product_id: str
    day: date
    area_ft2: float
    amount: Amount
