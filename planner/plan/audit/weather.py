"""When an order may be done: customer's windows and weather, worked out again (rule 16)."""

import re
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from math import ceil

from planner.day.clock import Window, clock_text
from planner.day.day import Day
from planner.day.orders import Order, WeatherHour
from planner.day.products import Product


@dataclass(frozen=True)
class Openings:
    """When weather, or both it and the customer, let an order be done; None = any time."""

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
        weather = openings_of(day, order, by_area[area])
        found[order.order_id] = Openings(weather, shared(order.windows, weather))
    return found


def shared(
    mine: tuple[Window, ...] | None, its: tuple[Window, ...] | None
) -> tuple[Window, ...] | None:
    """Times that lie in both; None = any time."""
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


def openings_of(day: Day, order: Order, rows: dict[int, WeatherHour]) -> tuple[Window, ...] | None:
    """When the weather of these rows (by hours from midnight) lets an order be done."""
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


def _limits(product: Product) -> bool:
    """Whether its label limits wind or temperature."""
    return any(
        limit is not None
        for limit in (
            product.wind_least_mph,
            product.wind_most_mph,
            product.temperature_least_f,
            product.temperature_most_f,
        )
    )


class OrderHours:
    """What the forecast says hour by hour about one order, for the words of a hold."""

    def __init__(self, day: Day, order: Order) -> None:
        self._day, self._order = day, order
        self._rows = _hours(day, day.workbook.properties[order.property_id].weather_area)
        parts = day.workbook.mixes[order.mix_id].parts
        self._products = [day.workbook.products[part.product_id] for part in parts]

    def refute(self, reason: str) -> tuple[str, list[str]]:
        """A reason without what it says of hours, and what of that is false."""
        false = []
        opening = openings_of(self._day, self._order, self._rows)
        for words, windows in (
            ("the customer's hours", self._order.windows),
            ("the weather's", opening),
        ):
            said = re.search(rf"{words} \(([^)]*)\)", reason)
            spans = ", ".join(
                f"{clock_text(one.open_min)} to {clock_text(one.close_min)}"
                for one in windows or ()
            )
            if said is not None and said[1] != spans:
                false.append(f"{words} are {spans}, not {said[1]}")
        reason = re.sub(r"\d+:\d\d [AP]M to \d+:\d\d [AP]M", "", reason)
        hours = self._spoken_of()
        pattern = r"(?:^|: |; )([^;:]*?) at (\d+) ([AP]M) \((\d+) of (\d+) hours\)"
        for text, clock, half, count, total in re.findall(pattern, reason):
            hour = int(clock) % 12 + 12 * (half == "PM")
            right = [one for one in hours if self._kind(text) in self._says(one)]
            if text not in self._says(hour).values():
                false.append(f"the forecast does not say {text} at {clock} {half}")
            elif (int(count), int(total)) != (len(right), len(hours)):
                false.append(f"{text}: it is {len(right)} of {len(hours)} hours")
        return re.sub(pattern, "", reason), false

    def _spoken_of(self) -> list[int]:
        """Hours of the customer's windows, else those between the trucks' first and last."""
        trucks = self._day.workbook.trucks.values()
        spans = [(one.open_min, one.close_min) for one in self._order.windows or ()]
        if not spans and trucks:
            first = min(truck.shift_start_min for truck in trucks)
            spans = [(first, max(first, *(truck.latest_return_min for truck in trucks)))]
        return [
            hour
            for hour in range(24)
            if any(first < hour * 60 + 60 and last > hour * 60 for first, last in spans)
        ]

    @staticmethod
    def _kind(text: str) -> str:
        if text.startswith(("gusts", "wind")):
            return "still" if "under" in text else "windy"
        if text.startswith("rain"):
            return "dry" if "later" in text else "rain"
        return {"no forecast": "none"}.get(text, "cold" if "under" in text else "hot")

    def _says(self, hour: int) -> dict[str, str]:
        """Kind of limit -> how the forecast of that hour breaks it."""
        row = self._rows.get(hour)
        if row is None:
            limited = [p for p in self._products if p.rain_free_hours or _limits(p)]
            return {"none": "no forecast"} if limited else {}
        found = {}
        blows = max(row.wind_mph, row.gust_mph or 0.0)
        word = "gusts" if blows > row.wind_mph else "wind"
        wind_most = [p.wind_most_mph for p in self._products if p.wind_most_mph is not None]
        wind_least = [p.wind_least_mph for p in self._products if p.wind_least_mph is not None]
        hot = [p.temperature_most_f for p in self._products if p.temperature_most_f is not None]
        cold = [p.temperature_least_f for p in self._products if p.temperature_least_f is not None]
        own_most = self._day.workbook.settings.wind_most_mph
        if wind_most and blows > min(wind_most):
            found["windy"] = f"{word} {blows:g} mph over {min(wind_most):g}"
        elif not wind_most and blows > own_most:
            found["windy"] = f"{word} {blows:g} mph over {own_most:g}, the office's limit"
        if wind_least and row.wind_mph < max(wind_least):
            found["still"] = f"wind {row.wind_mph:g} mph under {max(wind_least):g} (inversion)"
        if hot and row.temperature_f > min(hot):
            found["hot"] = f"{row.temperature_f:g} F over {min(hot):g}"
        if cold and row.temperature_f < max(cold):
            found["cold"] = f"{row.temperature_f:g} F under {max(cold):g}"
        wet_from = self._day.workbook.settings.rain_counts_from_percent
        wet = {
            at
            for at, one in self._rows.items()
            if one.rain_in > 0 or one.rain_chance_percent >= wet_from
        }
        if hour in wet:
            inches = f", {row.rain_in:g} in" if row.rain_in > 0 else ""
            found["rain"] = f"rain ({row.rain_chance_percent:g} % chance{inches})"
            return found
        dry = max((p.rain_free_hours or 0.0 for p in self._products), default=0.0)
        for later in range(1, ceil(dry) + 1):
            if hour + later in wet:
                found["dry"] = f"rain {later} h later, {dry:g} h must stay dry"
                break
        return found
