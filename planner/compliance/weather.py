"""Forecast hours turned into windows for an order (planner/docs/rules.md, rule 16)."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planner.day.clock import Window
from planner.day.day import Day, Workbook
from planner.day.orders import Order, WeatherHour
from planner.day.places import Property
from planner.day.products import Product

HOURS_OF_A_DAY = 24


@dataclass(frozen=True)
class WeatherLimits:
    """The strictest weather limits of a mix's products. None = no label sets one. wind_from: whose
    the most wind is: a product's name, or '' for the office's, where no label sets one."""

    wind_least_mph: float | None
    wind_most_mph: float
    temperature_least_f: float | None
    temperature_most_f: float | None
    rain_free_hours: float | None
    wind_from: str

    @property
    def any_set(self) -> bool:
        """True when some label sets some weather limit."""
        others = (self.temperature_least_f, self.temperature_most_f, self.rain_free_hours)
        return bool(self.wind_from) or any(
            one is not None for one in (self.wind_least_mph, *others)
        )


class Forecast:
    """A workbook's forecast, found by day, hour and weather area.

    Build it once for many orders; every function that takes one makes its own when given none.
    """

    def __init__(self, rows: Sequence[WeatherHour]) -> None:
        self._rows = {(row.day, row.hour, row.area): row for row in rows}
        self._days = {(row.day, row.area) for row in rows}
        self.windows: dict[tuple[str, str, date], tuple[Window, ...] | None] = {}
        """What `weather_windows` found before, by mix, weather area and day."""

    def hour(self, day: date, hour: int, area: str) -> WeatherHour | None:
        """The row of that hour, of the area before the row for everywhere; None when there is
        neither. hour: may run past the day's end."""
        day += timedelta(days=hour // HOURS_OF_A_DAY)
        hour %= HOURS_OF_A_DAY
        return self._rows.get((day, hour, area)) or self._rows.get((day, hour, ""))

    def covers(self, day: date, area: str) -> bool:
        """True when the day has any row for the area or for everywhere."""
        return (day, area) in self._days or (day, "") in self._days


def no_forecast(day: Day) -> str:
    """That the day has no row of the weather table, or none for some areas in which its orders lie,
    in a sentence; '' where each has one."""
    forecast, book = Forecast(day.weather), day.workbook
    orders = (*day.orders.values(), *day.ahead.values())
    areas = sorted({book.properties[one.property_id].weather_area for one in orders})
    lacking = [one for one in areas if not forecast.covers(day.date, one)]
    if not lacking:
        return ""
    some = " and ".join(one or "the lawns without an area" for one in lacking)
    where = "" if lacking == areas else f" in weather area {some}"
    return (
        f"No forecast for this day{where}: wind, temperature and rain limits of the labels were "
        "not checked."
    )


def weather_limits(workbook: Workbook, mix_id: str) -> WeatherLimits:
    """The strictest of each limit over the mix's products; where none limits the wind, the office's
    own limit. Raises KeyError for an unknown mix."""
    products = _products(workbook, mix_id)
    winds = [(one.wind_most_mph, one.name) for one in products if one.wind_most_mph is not None]
    wind_most, wind_from = min(winds, default=(workbook.settings.wind_most_mph, ""))
    return WeatherLimits(
        wind_least_mph=_most(product.wind_least_mph for product in products),
        wind_most_mph=wind_most,
        wind_from=wind_from,
        temperature_least_f=_most(product.temperature_least_f for product in products),
        temperature_most_f=_least(product.temperature_most_f for product in products),
        rain_free_hours=_most(product.rain_free_hours for product in products),
    )


def limit_text(workbook: Workbook, mix_id: str) -> str:
    """The mix's strictest limits as one short sentence for the route sheet, with whose limit the
    wind's is; a second one where no label of a pesticide limits the wind."""
    limits = weather_limits(workbook, mix_id)
    parts = [
        _range_text("wind", "mph", limits.wind_least_mph, limits.wind_most_mph),
        _range_text("", "F", limits.temperature_least_f, limits.temperature_most_f),
    ]
    whose = f"label of {limits.wind_from}" if limits.wind_from else "the office's limit"
    parts[0] += f" ({whose}), gusts too"
    if limits.rain_free_hours:
        parts.append(f"no rain for {limits.rain_free_hours:g} h after")
    parts.append("not in rain")
    text = "; ".join(part for part in parts if part)
    advice = wind_advice(workbook, mix_id)
    return f"{text[0].upper()}{text[1:]}." + (f" {advice}" if advice else "")


WIND_WHEN_LABELS_ARE_SILENT_MPH = (3.0, 8.0)
"""Pesticide Environmental Stewardship: 3 to 8 mph, blowing away from sensitive places, where the
label says nothing. http://pesticidestewardship.org/drift/Pages/EvaluatetheWeatherConditions.aspx"""


def wind_advice(workbook: Workbook, mix_id: str) -> str:
    """A line for the sheet where no label of the mix limits the wind and a pesticide is in it; ''
    otherwise. Advice beside the office's limit."""
    products = _products(workbook, mix_id)
    pesticide = any(product.registration_no.strip() for product in products)
    if not pesticide or weather_limits(workbook, mix_id).wind_from:
        return ""
    least, most = WIND_WHEN_LABELS_ARE_SILENT_MPH
    return (
        f"No label sets a most wind: best is {least:g} to {most:g} mph, away from sensitive places."
    )


def forecast_at(
    day: Day, property: Property, minute: float, forecast: Forecast | None = None
) -> WeatherHour | None:
    """The forecast for the hour that holds the minute at that property; None without a row."""
    forecast = forecast or Forecast(day.weather)
    return forecast.hour(day.date, int(minute // 60), property.weather_area)


def weather_windows(
    day: Day, order: Order, forecast: Forecast | None = None
) -> tuple[Window, ...] | None:
    """When the weather lets the order's mix be sprayed: hours that fit, neighbors joined.

    None = no limit (the day has no row for the property, or every hour fits); empty = never.
    """
    forecast = forecast or Forecast(day.weather)
    place = day.workbook.properties[order.property_id]
    if not forecast.covers(day.date, place.weather_area):
        return None
    key = order.mix_id, place.weather_area, day.date
    if key not in forecast.windows:
        good = [
            hour
            for hour in range(HOURS_OF_A_DAY)
            if not _reasons(day, order.mix_id, place, hour, forecast)
        ]
        forecast.windows[key] = None if len(good) == HOURS_OF_A_DAY else _joined(good)
    return forecast.windows[key]


def closed_hours_text(
    day: Day, order: Order, hours: Sequence[int], forecast: Forecast | None = None
) -> str:
    """What closes these hours to the order: each broken limit once, the most frequent first, with
    the figure of its first hour: `gusts 17 mph over 10 at 8 AM (6 of 9 hours)`."""
    forecast = forecast or Forecast(day.weather)
    place = day.workbook.properties[order.property_id]
    found: dict[str, list[tuple[int, str]]] = {}
    for hour in hours:
        for kind, text in _reasons(day, order.mix_id, place, hour, forecast):
            found.setdefault(kind, []).append((hour, text))
    parts = []
    for closed in sorted(found.values(), key=lambda rows: (-len(rows), rows[0][0])):
        first_hour, text = closed[0]
        parts.append(f"{text} at {_oclock(first_hour)} ({len(closed)} of {len(hours)} hours)")
    return "; ".join(parts)


def _reasons(
    day: Day, mix_id: str, place: Property, hour: int, forecast: Forecast | None
) -> list[tuple[str, str]]:
    """(kind of limit, words with figures) for every limit that the hour breaks."""
    forecast = forecast or Forecast(day.weather)
    if not forecast.covers(day.date, place.weather_area):
        return []
    limits = weather_limits(day.workbook, mix_id)
    row = forecast.hour(day.date, hour, place.weather_area)
    if row is None:
        return [("no forecast", "no forecast")] if limits.any_set else []
    reasons = [*_wind_reasons(limits, row), *_temperature_reasons(limits, row)]
    rain_from = day.workbook.settings.rain_counts_from_percent
    if _is_rain(row, rain_from):
        reasons.append(("rain", f"rain ({_rain_text(row)})"))
    elif limits.rain_free_hours:
        for later in range(1, math.ceil(limits.rain_free_hours) + 1):
            next_row = forecast.hour(day.date, hour + later, place.weather_area)
            # Beyond the forecast's end nothing is known; the rule counts that as dry.
            if next_row is not None and _is_rain(next_row, rain_from):
                text = f"rain {later} h later, {limits.rain_free_hours:g} h must stay dry"
                reasons.append(("rain-free", text))
                break
    return reasons


def _wind_reasons(limits: WeatherLimits, row: WeatherHour) -> list[tuple[str, str]]:
    reasons = []
    strongest = row.wind_mph if row.gust_mph is None else max(row.wind_mph, row.gust_mph)
    if strongest > limits.wind_most_mph:
        name = "gusts" if strongest > row.wind_mph else "wind"
        whose = "" if limits.wind_from else ", the office's limit"
        reasons.append(("windy", f"{name} {strongest:g} mph over {limits.wind_most_mph:g}{whose}"))
    if limits.wind_least_mph is not None and row.wind_mph < limits.wind_least_mph:
        reasons.append(
            ("still", f"wind {row.wind_mph:g} mph under {limits.wind_least_mph:g} (inversion)")
        )
    return reasons


def _temperature_reasons(limits: WeatherLimits, row: WeatherHour) -> list[tuple[str, str]]:
    reasons = []
    most, least = limits.temperature_most_f, limits.temperature_least_f
    if most is not None and row.temperature_f > most:
        reasons.append(("hot", f"{row.temperature_f:g} F over {most:g}"))
    if least is not None and row.temperature_f < least:
        reasons.append(("cold", f"{row.temperature_f:g} F under {least:g}"))
    return reasons


def _is_rain(row: WeatherHour, rain_counts_from_percent: float) -> bool:
    return row.rain_chance_percent >= rain_counts_from_percent or row.rain_in > 0


def _rain_text(row: WeatherHour) -> str:
    text = f"{row.rain_chance_percent:g} % chance"
    return f"{text}, {row.rain_in:g} in" if row.rain_in > 0 else text


def _joined(hours: Sequence[int]) -> tuple[Window, ...]:
    windows: list[Window] = []
    for hour in hours:
        if windows and windows[-1].close_min == hour * 60:
            windows[-1] = Window(windows[-1].open_min, hour * 60.0 + 60)
        else:
            windows.append(Window(hour * 60.0, hour * 60.0 + 60))
    return tuple(windows)


def _oclock(hour: int) -> str:
    return f"{(hour + 11) % 12 + 1} {'AM' if hour < 12 else 'PM'}"


def _range_text(name: str, unit: str, least: float | None, most: float | None) -> str:
    words = f"{name} " if name else ""
    if least is not None and most is not None:
        return f"{words}{least:g} to {most:g} {unit}"
    if most is not None:
        return f"{words}at most {most:g} {unit}"
    if least is not None:
        return f"{words}at least {least:g} {unit}"
    return ""


def _products(workbook: Workbook, mix_id: str) -> list[Product]:
    # A product that the workbook does not hold is another check's problem.
    return [
        workbook.products[part.product_id]
        for part in workbook.mixes[mix_id].parts
        if part.product_id in workbook.products
    ]


def _most(values: Iterable[float | None]) -> float | None:
    return max(_set(values), default=None)


def _least(values: Iterable[float | None]) -> float | None:
    return min(_set(values), default=None)


def _set(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]
