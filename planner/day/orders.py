"""Orders, hourly weather and past applications."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner.day.clock import Window
from planner.units import Amount


@dataclass(frozen=True)
class Order:
    """One mix due at one property.

    windows: when the crew may be there, None = any time. only_trucks: None = any truck.
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


@dataclass(frozen=True)
class WeatherHour:
    """Forecast for the hour that begins at `hour` o'clock in one weather area ('' = everywhere)."""

    day: date
    hour: int
    area: str
    wind_mph: float
    gust_mph: float | None
    temperature_f: float
    rain_chance_percent: float
    rain_in: float


@dataclass(frozen=True)
class PastApplication:
    """One product applied at one property on one day."""

    property_id: str
    product_id: str
    day: date
    area_ft2: float
    amount: Amount
