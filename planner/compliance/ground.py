"""Ground, turf, bloom, hives, inversion hours and wind toward a sensitive side (rule 37).

What a label or a state's rule bars is a hold; the rest is a caution on the route sheet, with its
reason. Sources of the cautions stand beside them.
"""

from collections.abc import Iterator
from typing import Final

from planner.compliance.applied import parts_of
from planner.compliance.duties import is_pesticide
from planner.compliance.state_rules import ground_rules
from planner.compliance.sun import sun_minutes
from planner.compliance.weather import Forecast, forecast_at
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.life import day_text
from planner.day.orders import GroundDay, Order
from planner.day.places import COMPASS, Property

AFTER_SUNRISE_MIN, BEFORE_SUNSET_MIN = 60.0, 120.0
"""From one hour after sunrise to two before sunset: the hours of some herbicide labels, as Iowa
State University quotes them in "Read Your Pesticide Labels: Temperature Inversions" (18 June 2020,
crops.extension.iastate.edu/blog/terry-basol, read 2026-11-27)."""

HEAT_F: Final = 85.0
"""Herbicides injure turf more when the day's high passes it, where the label says nothing (Purdue
turf tips, "Thoughts on applying herbicides to turf during a drought", turfmagazine.com, read
2026-11-27)."""

TOWARD_DEG: Final = 60.0
"""Wind within this of the straight way blows toward a side (common practice, no source)."""

_STATE_CAUTIONS: Final = {
    "frost": "Frost: stay off the lawn until it has melted (NC State AG-763W)",
    "dormant": "Dormant from drought: no herbicide or fertilizer before it is green again, unless "
    "the label says otherwise (Purdue turf tips)",
    "saturated": "Saturated ground: no spray that could run off; keep the truck off the lawn "
    "(common practice)",
    "frozen": "Frozen ground: no spray that could run off (common practice)",
    "snow": "Snow: nothing is sprayed on it (common practice)",
}
"""Both read 2026-11-27: lawncare.ncsu.edu, 'Stay off frosty grass!'; turf.purdue.edu, 'Dry weather
hampers broadleaf weed control'."""


def ground_on(day: Day, home: Property) -> GroundDay | None:
    """The day's row of the property's weather area, before the row for everywhere."""
    rows = {row.area: row for row in day.workbook.ground if row.day == day.date}
    return rows.get(home.weather_area) or rows.get("")


def ground_reasons(day: Day, order: Order) -> Iterator[tuple[str, str]]:
    """(code, reason) of everything about ground and bloom that keeps the order back."""
    home = day.workbook.properties[order.property_id]
    ground = ground_on(day, home)
    if ground is not None:
        for rule, state in ground_rules(day, order):
            named = [one for one in rule.ground if one in ground.state]
            if named:
                yield (
                    "LAW-GROUND",
                    f"the ground is {' and '.join(named)}; {state}: {rule.words} "
                    f"({rule.origin.cited})",
                )
    until = max((span.last for span in home.bloom if day.date in span), default=None)
    for _, product in parts_of(day.workbook, order):
        least = product.soil_temperature_least_f
        soil = None if ground is None else ground.soil_temperature_f
        if least is not None and soil is not None and soil < least:
            yield "SOIL", f"the soil has {soil:g} F, the label of {product.name} wants {least:g} F"
        if product.not_in_bloom and until is not None:
            yield (
                "BLOOM",
                f"something at the property is in bloom until {day_text(until)}, and the label of "
                f"{product.name} forbids spraying blooming plants",
            )


def ground_cautions(
    day: Day, order: Order, begin_min: float, end_min: float, forecast: Forecast | None = None
) -> tuple[str, ...]:
    """What the crew is told of ground, bees, sun and wind at a stop, in sentences."""
    home = day.workbook.properties[order.property_id]
    ground = ground_on(day, home)
    found = [_STATE_CAUTIONS[one] for one in (ground.state if ground else ())]
    products = [product for _, product in parts_of(day.workbook, order)]
    if any(map(is_pesticide, products)):
        if home.hives_ft is not None:
            found.append(
                f"Hives {home.hives_ft:g} ft away: tell the keeper, keep the spray off them and "
                "off what blooms (common practice)"
            )
        found += _sun(day, home, begin_min, end_min)
        hour = forecast_at(day, home, begin_min, forecast)
        no_limit = all(product.temperature_most_f is None for product in products)
        if hour is not None and hour.temperature_f >= HEAT_F and no_limit:
            found.append(f"{HEAT_F:g} F or more: herbicides hurt turf more (Purdue)")
        if hour is not None and blows_toward(hour.wind_from, home.sensitive_side):
            found.append(
                f"Wind from {hour.wind_from} blows toward the {home.sensitive_side} side, which is "
                "sensitive: wait for another wind or leave that side"
            )
    return tuple(found)


def blows_toward(wind_from: str | None, side: str | None) -> bool:
    """Whether a wind from that point of the compass blows toward a side of the lawn."""
    if wind_from not in COMPASS or side not in COMPASS:
        return False
    step = 360 / len(COMPASS)
    apart = (COMPASS.index(wind_from) - COMPASS.index(side)) * step % 360
    return abs(apart - 180) <= TOWARD_DEG


def _sun(day: Day, home: Property, begin_min: float, end_min: float) -> Iterator[str]:
    zone = day.workbook.settings.time_zone
    if not zone:
        return
    sunrise, sunset = sun_minutes(home.lat, home.lon, day.date, zone)
    if sunrise is not None and begin_min < sunrise + AFTER_SUNRISE_MIN:
        until = clock_text(sunrise + AFTER_SUNRISE_MIN)
        yield f"Inversion hours until {until}: no spray while the air is still, with haze or fog"
    if sunset is not None and end_min > sunset - BEFORE_SUNSET_MIN:
        since = clock_text(sunset - BEFORE_SUNSET_MIN)
        yield f"Inversion hours from {since}: no spray while the air is still, with haze or fog"
