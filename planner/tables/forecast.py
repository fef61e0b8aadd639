"""The hourly forecast of the public US weather service (its JSON) as rows of the weather table.

Format: https://api.weather.gov/openapi.json, endpoint
gridpoints/{office}/{x},{y}/forecast/hourly (fields from its published schema; that the service
wants a User-Agent header is from memory).
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from planner.day.orders import WeatherHour
from planner.problems import PlannerError

KM_PER_MILE: Final = 1.609344
"""The international mile; NIST Handbook 44, Appendix C."""

MPH_OF: Final = {"mph": 1.0, "km/h": 1 / KM_PER_MILE, "kt": 1.852 / KM_PER_MILE}
MPH_OF_CODE: Final = {"km_h-1": 1 / KM_PER_MILE, "m_s-1": 3.6 / KM_PER_MILE}
"""Text units of the plain form, and unit codes of the form with values and units."""

YEARS: Final = range(2000, 2200)
STRONGEST_MPH: Final = 300.0
"""Beyond any wind on the ground (253 mph, Barrow Island 1996, WMO; from memory)."""

WEATHER_COLUMNS: Final = (
    "date",
    "hour",
    "area",
    "wind_mph",
    "gust_mph",
    "temperature_f",
    "rain_chance_percent",
    "rain_in",
)


class ForecastError(PlannerError):
    """A forecast that cannot be fetched or read; the message says why, for people."""


@dataclass(frozen=True)
class ForecastHours:
    """Hours that read whole, in order, and how many periods were left out for a missing value (an
    hour without a row fits no product with weather limits)."""

    hours: tuple[WeatherHour, ...]
    left_out: int


def read_forecast(text: str, area: str = "") -> ForecastHours:
    """Rows of one weather area from the service's hourly JSON, in the local time it states. A wind
    of '5 to 10 mph' becomes wind 5 with gusts of 10, which is the careful reading for both limits.
    Raises ForecastError."""
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ForecastError(f"this is no JSON: {error}") from error
    periods = _periods(content)
    rows: dict[tuple[date, int], WeatherHour] = {}
    left_out = 0
    for period in periods:
        hours = _hours_of(period, area) if isinstance(period, dict) else []
        left_out += not hours
        for row in hours:
            # In the hour that the clock repeats in autumn the windier of the two counts.
            other = rows.get((row.day, row.hour))
            if other is None or _strongest(other) < _strongest(row):
                rows[row.day, row.hour] = row
    if not rows:
        raise ForecastError("it holds no hour with wind and temperature")
    return ForecastHours(tuple(rows[key] for key in sorted(rows)), left_out)


def merged_weather(
    old: Iterable[WeatherHour], new: Iterable[WeatherHour]
) -> tuple[tuple[WeatherHour, ...], int]:
    """Old rows with the new ones over them, by day, hour and area; and how many were replaced."""
    rows = {(row.day, row.hour, row.area): row for row in old}
    replaced = 0
    for row in new:
        key = (row.day, row.hour, row.area)
        replaced += key in rows
        rows[key] = row
    return tuple(rows[key] for key in sorted(rows, key=lambda key: (key[2], key[0], key[1]))), (
        replaced
    )


def weather_csv(rows: Iterable[WeatherHour]) -> str:
    """The rows as a weather.csv, under the planner's own column names."""
    lines = [",".join(WEATHER_COLUMNS)]
    for row in rows:
        gust = "" if row.gust_mph is None else f"{row.gust_mph:g}"
        area = f'"{row.area}"' if "," in row.area else row.area
        lines.append(
            f"{row.day},{row.hour},{area},{row.wind_mph:g},{gust},{row.temperature_f:g},"
            f"{row.rain_chance_percent:g},{row.rain_in:g}"
        )
    return "\n".join(lines) + "\n"


def _strongest(row: WeatherHour) -> float:
    return max(row.wind_mph, row.gust_mph or 0.0)


def _periods(content: Any) -> list[Any]:
    properties = content.get("properties") if isinstance(content, dict) else None
    periods = properties.get("periods") if isinstance(properties, dict) else None
    if not isinstance(periods, list):
        raise ForecastError(
            "it is no hourly forecast: properties.periods is missing; the address ends in "
            "/forecast/hourly"
        )
    return periods


def _hours_of(period: Mapping[str, Any], area: str) -> list[WeatherHour]:
    """One row per hour of a period; none when a value is missing."""
    start, end = _moment(period.get("startTime")), _moment(period.get("endTime"))
    wind = _speeds_mph(period.get("windSpeed"))
    temperature_f = _temperature_f(period)
    if start is None or not wind or temperature_f is None:
        return []
    gusts = [*wind[1:], *_speeds_mph(period.get("windGust"))]
    # A moment that states no zone stands beside one that does.
    if end is not None and (end.tzinfo is None) != (start.tzinfo is None):
        end, start = end.replace(tzinfo=None), start.replace(tzinfo=None)
    hours = 1 if end is None else max(1, round((end - start).total_seconds() / 3600))
    rain = _value(period.get("probabilityOfPrecipitation")) or 0.0
    if hours > 24 or not 0 <= rain <= 100 or max([*wind, *gusts]) > STRONGEST_MPH:
        return []
    return [
        WeatherHour(
            day=moment.date(),
            hour=moment.hour,
            area=area,
            wind_mph=round(wind[0], 1),
            gust_mph=round(max(gusts), 1) if gusts else None,
            temperature_f=round(temperature_f, 1),
            rain_chance_percent=rain,
            rain_in=0.0,
        )
        for moment in (start + timedelta(hours=step) for step in range(hours))
    ]


def _moment(text: object) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
    return moment if moment and moment.year in YEARS else None


def _value(field: object) -> float | None:
    """A bare number, or the value of {'unitCode': ..., 'value': ...}."""
    if isinstance(field, dict):
        field = field.get("value")
    if isinstance(field, bool) or not isinstance(field, int | float):
        return None
    # NaN would slip through every comparison with a label's limit.
    return float(field) if abs(field) < 1e6 else None


def _speeds_mph(field: object) -> list[float]:
    """Least and most of a wind: '5 to 10 mph', or a value (or two) with its unit code."""
    if isinstance(field, str):
        unit = next((unit for unit in MPH_OF if field.strip().endswith(unit)), None)
        numbers = [float(number) for number in re.findall(r"\d+(?:\.\d+)?", field)]
        return sorted(number * MPH_OF[unit] for number in numbers) if unit else []
    if not isinstance(field, dict):
        return []
    factor = MPH_OF_CODE.get(str(field.get("unitCode", "")).split(":")[-1])
    values = [_value(field.get(name)) for name in ("minValue", "value", "maxValue")]
    known = [value for value in values if value is not None]
    return sorted(value * factor for value in known) if factor else []


def _temperature_f(period: Mapping[str, Any]) -> float | None:
    field = period.get("temperature")
    value = _value(field)
    if value is None:
        return None
    unit = field.get("unitCode", "") if isinstance(field, dict) else period.get("temperatureUnit")
    name = str(unit).split(":")[-1]
    if name in ("F", "degF"):
        return value
    return value * 1.8 + 32 if name in ("C", "degC") else None
