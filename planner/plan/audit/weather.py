"""When an order may be done: customer's windows and weather, worked out again (rule 16)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.orders import Order, WeatherHour
from planner.day.products import Product


@dataclass(frozen=True)
class Openings:
    """weather: when the weather lets an order be done; both: and the customer as well. None = any
    time, empty = never."""

    weather: tuple[Window, ...] | None
    both: tuple[Window, ...] | None


def openings(day: Day) -> dict[str, Openings]:
    """Openings of each order of the day."""
    by_area: dict[str, dict[int, WeatherHour]] = {}
    found: dict[str, Openings] = {}
    for order in day.orders.values():
        area = day.workbook.properties[order.property_id].weather_area
        if area not in by_area:
            by_area[area] = _hours(day, area)
        weather = _weather(day, order, by_area[area])
        found[order.order_id] = Openings(weather, _shared(order.windows, weather))
    return found


def _shared(
    mine: tuple[Window, ...] | None, its: tuple[Window, ...] | None
) -> tuple[Window, ...] | None:
    if mine is None or its is None:
        return its if mine is None else mine
    both = []
    for one in mine:
        for other in its:
            opens = max(one.open_min, other.open_min)
            closes = min(one.close_min, other.close_min)
            if opens < closes:
                both.append(Window(opens, closes))
    return tuple(sorted(both))


def _hours(day: Day, area: str) -> dict[int, WeatherHour]:
    """Rows by hours counted from midnight of the day; those of the area overwrite those for
    everywhere. Four days on cover the longest dry time that a label can ask for (72 h)."""
    rows: dict[int, WeatherHour] = {}
    for wanted in ("", area):
        for row in day.workbook.weather:
            if row.area == wanted and day.date <= row.day <= day.date + timedelta(days=4):
                rows[(row.day - day.date).days * 24 + row.hour] = row
    return rows


def _weather(day: Day, order: Order, rows: dict[int, WeatherHour]) -> tuple[Window, ...] | None:
    if not any(hour < 24 for hour in rows):
        return None
    products = [
        day.workbook.products[part.product_id] for part in day.workbook.mixes[order.mix_id].parts
    ]
    wet_from = day.workbook.settings.rain_counts_from_percent
    wet = {
        hour for hour, row in rows.items() if row.rain_chance_percent >= wet_from or row.rain_in > 0
    }
    silent = all(product.wind_most_mph is None for product in products)
    own_most = day.workbook.settings.wind_most_mph
    too_windy = {
        hour
        for hour, row in rows.items()
        if silent and (row.wind_mph > own_most or (row.gust_mph or 0.0) > own_most)
    }
    fits = [
        hour not in wet
        and hour not in too_windy
        and all(_fits(product, hour, rows.get(hour), wet) for product in products)
        for hour in range(24)
    ]
    spans = []
    for good, run in groupby(range(24), key=lambda hour: fits[hour]):
        hours = list(run)
        if good:
            spans.append(Window(hours[0] * 60.0, hours[-1] * 60.0 + 60.0))
    return tuple(spans)


def _fits(product: Product, hour: int, row: WeatherHour | None, wet: set[int]) -> bool:
    limits = (
        product.wind_least_mph,
        product.wind_most_mph,
        product.temperature_least_f,
        product.temperature_most_f,
        product.rain_free_hours,
    )
    if all(limit is None for limit in limits):
        return True
    if row is None:
        return False
    wind_most, blows = product.wind_most_mph, max(row.wind_mph, row.gust_mph or 0.0)
    if wind_most is not None and blows > wind_most:
        return False
    if product.wind_least_mph is not None and row.wind_mph < product.wind_least_mph:
        return False
    least, most = product.temperature_least_f, product.temperature_most_f
    if least is not None and row.temperature_f < least:
        return False
    if most is not None and row.temperature_f > most:
        return False
    dry_hours = product.rain_free_hours or 0.0
    # An hour that begins within the dry time after this one counts whole.
    later = 1
    while later < dry_hours + 1:
        if hour + later in wet:
            return False
        later += 1
    return True
