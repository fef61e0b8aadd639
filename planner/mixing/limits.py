"""What keeps an order back before routing, and when the rest may be done (rules 16 and 17).

Only the history table is looked at: other orders of the same day are not added up, and neither
are other brands with the same active ingredient; a licensed person checks those.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from planner.day.clock import Window, clock_text, intersect
from planner.day.day import Day, Workbook
from planner.day.orders import Order, PastApplication
from planner.day.products import Form, MixPart, Product
from planner.mixing.recipes import MixingError, product_base, product_density_lb_per_gal
from planner.mixing.weather import Forecast, closed_hours_text, weather_windows
from planner.units import Rate

HOLD_CODES = {
    "GRASS": "A product must not touch the property's grass",
    "WATER": "The lawn is nearer to water than a product's label allows",
    "INTERVAL": "Too few days since a product was last applied there",
    "TIMES": "A product was applied there as often this year as its label allows",
    "ANNUAL": "With this visit a product would pass its label's most for the year",
    "WEATHER": "No hour of the forecast suits the mix",
    "WINDOW": "The customer's hours and the hours with fit weather do not overlap",
}
"""Code of a hold -> title. An order held for several reasons carries the code of the first."""

SUM_TOLERANCE = 0.005
"""Half a percent over a yearly most is arithmetic (sums of rounded records), not an overdose."""


@dataclass(frozen=True)
class Hold:
    """An order kept back by a rule. code: a key of HOLD_CODES; reason: every rule that keeps it
    back, in words with figures."""

    order_id: str
    code: str
    reason: str


def order_windows(
    day: Day, order: Order, forecast: Forecast | None = None
) -> tuple[Window, ...] | None:
    """When the order may be done: the customer's windows that the weather leaves open.

    None = any time; empty = never on this day (then `holds` says why).
    """
    return intersect(order.windows, weather_windows(day, order, forecast))


def holds(day: Day) -> tuple[Hold, ...]:
    """The day's orders that a rule keeps back, in the order of the table, one hold each."""
    forecast = Forecast(day.weather)
    past = _history_by_place(day)
    found = []
    for order in day.orders.values():
        reasons = list(_reasons(day, order, past, forecast))
        if reasons:
            text = "; ".join(reason for _, reason in reasons)
            found.append(Hold(order.order_id, reasons[0][0], text))
    return tuple(found)


History = dict[tuple[str, str], list[PastApplication]]
"""(property, product) -> its applications up to the day, oldest first."""


def _history_by_place(day: Day) -> History:
    past: History = {}
    for row in sorted(day.workbook.history, key=lambda row: row.day):
        # Later rows are in the table when an old day is planned once more; they do not count.
        if row.day <= day.date:
            past.setdefault((row.property_id, row.product_id), []).append(row)
    return past


def _reasons(
    day: Day, order: Order, past: History, forecast: Forecast
) -> Iterator[tuple[str, str]]:
    """(code, reason) of every rule that keeps the order back."""
    book = day.workbook
    parts = [part for part in book.mixes[order.mix_id].parts if part.product_id in book.products]
    for part in parts:
        product = book.products[part.product_id]
        rows = past.get((order.property_id, part.product_id), [])
        yield from _grass(book, order, product)
        yield from _water(book, order, product)
        yield from _interval(day, product, rows)
        yield from _times(day, product, rows)
        yield from _annual(day, order, part, product, rows)
    yield from _weather(day, order, forecast)


def _grass(book: Workbook, order: Order, product: Product) -> Iterator[tuple[str, str]]:
    grass = book.properties[order.property_id].grass
    # A lawn of two grasses is written 'bluegrass / fescue'; each of them counts.
    names = {name.strip().casefold() for name in [grass, *re.split(r"[;,/+&]", grass)]}
    for banned in product.not_on_grass:
        if banned.strip() and banned.strip().casefold() in names:
            yield "GRASS", f"{product.name} must not touch {banned}; the lawn's grass is {grass}"


def _water(book: Workbook, order: Order, product: Product) -> Iterator[tuple[str, str]]:
    near_ft = book.properties[order.property_id].water_distance_ft
    keep_ft = product.water_distance_ft
    if keep_ft is not None and near_ft is not None and near_ft < keep_ft:
        yield (
            "WATER",
            f"water is {near_ft:g} ft from the lawn, {product.name} must keep {keep_ft:g} ft away",
        )


def _interval(day: Day, product: Product, rows: list[PastApplication]) -> Iterator[tuple[str, str]]:
    least = product.least_days_between
    if least is None or not rows:
        return
    last = rows[-1].day
    days = (day.date - last).days
    # 'At least N days between' allows day N.
    if days < least:
        free = last + timedelta(days=least)
        yield (
            "INTERVAL",
            f"{product.name} was applied {_days_text(days)} ago ({last}), its label asks for "
            f"{least} days between; not before {free}",
        )


def _times(day: Day, product: Product, rows: list[PastApplication]) -> Iterator[tuple[str, str]]:
    most = product.most_per_year
    if most is None:
        return
    days = sorted({row.day for row in rows if row.day.year == day.date.year})
    if len(days) + 1 > most:
        dates = ", ".join(str(one) for one in days)
        yield (
            "TIMES",
            f"{product.name} was applied {len(days)} of {most} times that its label allows a year "
            f"({dates})",
        )


def _annual(
    day: Day, order: Order, part: MixPart, product: Product, rows: list[PastApplication]
) -> Iterator[tuple[str, str]]:
    """The year's sum per 1,000 ft2 in the label's own unit; every application counts with its
    own treated area, as if all fell on the same lawn (the careful reading)."""
    limit = product.annual_most
    if limit is None or limit.basis != "area":
        return
    this_year = [row for row in rows if row.day.year == day.date.year]
    carrier = day.workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2
    try:
        now = in_limits_terms(product, limit, product_per_1000_ft2(product, part.rate, carrier))
        before = [
            (row, in_limits_terms(product, limit, _past_per_1000_ft2(product, row)))
            for row in this_year
        ]
    except MixingError as error:
        # What cannot be added up must not pass: a record in a unit that the product's data do
        # not let us cross.
        yield "ANNUAL", f"{product.name}: this year's sum cannot be worked out ({error})"
        return
    total = sum(amount for _, amount in before) + now
    if total > limit.most_base * (1 + SUM_TOLERANCE):
        yield "ANNUAL", _annual_text(product, limit, before, now, total)


def _annual_text(
    product: Product,
    limit: Rate,
    before: list[tuple[PastApplication, float]],
    now: float,
    total: float,
) -> str:
    scale = limit.most / limit.most_base
    unit = limit.unit if limit.substance == "product" else f"{limit.unit} {limit.substance}"
    terms = [f"{amount * scale:.3g} on {row.day}" for row, amount in before]
    terms.append(f"{now * scale:.3g} now")
    return (
        f"{product.name}: {' + '.join(terms)} = {total * scale:.3g} {unit} per {limit.per} "
        f"this year, its label allows {limit.most:g}"
    )


def product_per_1000_ft2(product: Product, rate: Rate, carrier_gal_per_1000_ft2: float) -> float:
    """Gallons (liquid) or pounds (dry) of product that a mix's rate puts on 1,000 ft2. Raises
    MixingError for a rate that cannot be crossed."""
    amount = product_base(product, rate, rate.most_base)
    return amount if rate.basis == "area" else amount * carrier_gal_per_1000_ft2


def in_limits_terms(product: Product, limit: Rate, product_amount: float) -> float:
    """An amount of product (gal or lb) in the base unit of what the limit counts: gallons or
    pounds of product, N, ai or ae. Raises MixingError when the product's data do not say."""
    return product_amount / product_base(product, limit, 1.0)


def _past_per_1000_ft2(product: Product, row: PastApplication) -> float:
    amount = row.amount.base
    if row.amount.kind == "mass" and product.form is Form.LIQUID:
        density = product_density_lb_per_gal(product)
        if density is None:
            raise MixingError(
                "RECIPE-1",
                f"the record of {row.day} is a weight and the density is not known",
                "give density_lb_per_gal of the product",
            )
        amount /= density
    elif row.amount.kind == "volume" and product.form is Form.DRY:
        raise MixingError(
            "RECIPE-2",
            f"the record of {row.day} is a volume of a dry product",
            "record its weight",
        )
    return amount / row.area_ft2 * 1000


def _weather(day: Day, order: Order, forecast: Forecast) -> Iterator[tuple[str, str]]:
    fit = weather_windows(day, order, forecast)
    if fit is None or order_windows(day, order, forecast) != ():
        return
    name = day.workbook.mixes[order.mix_id].name
    hours = _hours_of(day.workbook, order.windows)
    closed = closed_hours_text(day, order, hours, forecast)
    if not fit:
        yield "WEATHER", f"no hour of the day suits {name}: {closed}"
    else:
        yield (
            "WINDOW",
            f"the customer's hours ({_windows_text(order.windows or ())}) and the weather's "
            f"({_windows_text(fit)}) do not overlap for {name}: {closed}",
        )


def _hours_of(book: Workbook, windows: tuple[Window, ...] | None) -> list[int]:
    """Hours to speak of: those of the customer's windows, else those that trucks work."""
    if not windows:
        opening = min((truck.shift_start_min for truck in book.trucks.values()), default=0.0)
        closing = max((truck.latest_return_min for truck in book.trucks.values()), default=1440.0)
        windows = (Window(opening, max(opening, closing)),)
    return [
        hour
        for hour in range(24)
        if any(one.open_min < hour * 60 + 60 and one.close_min > hour * 60 for one in windows)
    ]


def _windows_text(windows: tuple[Window, ...]) -> str:
    return ", ".join(
        f"{clock_text(one.open_min)} to {clock_text(one.close_min)}" for one in windows
    )


def _days_text(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
