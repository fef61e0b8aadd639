"""What the labels of an order's products say about the place, the calendar and the year's sum."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from planner.compliance.applied import (
    Applied,
    Counts,
    LawnCase,
    ingredients,
    parts_of,
    rates_about,
)
from planner.day.products import Product
from planner.mixing.recipes import MixingError, product_base
from planner.rules.grasses import grasses_of
from planner.units import Rate

SHORE_CURE = "with the property's shore_ft a strip is left unsprayed instead"
"""What an office can do about a lawn that is too near to water."""

SUM_TOLERANCE = 0.005
"""Half a percent over a yearly most is arithmetic (sums of rounded records), not an overdose."""


def label_reasons(place: LawnCase) -> Iterator[tuple[str, str]]:
    """(code, reason) of every label limit that keeps the order back."""
    for _, product in parts_of(place.workbook, place.order):
        yield from _grass(place, product)
        yield from _stand(place, product)
        yield from _water(place, product)
        yield from _interval(place, product)
        yield from _times(place, product)
        yield from _annual(place, product)


def _grass(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    grass = place.workbook.properties[place.order.property_id].grass
    on_lawn = grasses_of(grass)
    for banned in product.not_on_grass:
        if on_lawn & grasses_of(banned):
            yield "GRASS", f"{product.name} must not touch {banned}; the lawn's grass is {grass}"


def _stand(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    since = place.workbook.properties[place.order.property_id].grass_since
    least = product.stand_days_least
    if since is None or least is None:
        return
    days = (place.day.date - since).days
    if days < 0:
        yield "STAND", f"the lawn is sown only on {since}, after this day"
    elif days < least:
        yield (
            "STAND",
            f"the lawn was sown {_days_text(days)} ago ({since}), {product.name} asks for {least}; "
            f"not before {since + timedelta(days=least)}",
        )


def _water(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    """Where the shore's length is known a strip is left instead (compliance/edges.py)."""
    home = place.workbook.properties[place.order.property_id]
    near_ft, keep_ft = home.water_distance_ft, product.water_distance_ft
    if home.shore_ft is not None or keep_ft is None or near_ft is None:
        return
    if near_ft < keep_ft:
        yield (
            "WATER",
            f"water is {near_ft:g} ft from the lawn, {product.name} must keep {keep_ft:g} ft away "
            f"({SHORE_CURE})",
        )


def _itself(product: Product) -> Counts:
    return lambda other: other.product_id == product.product_id


def _interval(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    least = product.least_days_between
    if least is None:
        return
    today = place.today(_itself(product))
    if today:
        yield (
            "INTERVAL",
            f"{product.name} is already {today[-1].when} of the same day, its label asks for "
            f"{least} days between; not before {place.day.date + timedelta(days=least)}",
        )
        return
    rows = place.recorded(_itself(product))
    if not rows:
        return
    last = rows[-1].day
    days = (place.day.date - last).days
    # 'At least N days between' allows day N.
    if days < least:
        yield (
            "INTERVAL",
            f"{product.name} was applied {_days_text(days)} ago ({last}), its label asks for "
            f"{least} days between; not before {last + timedelta(days=least)}",
        )


def _times(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    most = product.most_per_year
    if most is None:
        return
    days = sorted({row.day for row in place.recorded_this_year(_itself(product))})
    today = place.today(_itself(product))
    if len(days) + len(today) + 1 <= most:
        return
    dates = ", ".join(str(one) for one in days)
    if today:
        past = f" after {len(days)} before ({dates})" if days else ""
        orders = " and ".join(row.when for row in today)
        yield (
            "TIMES",
            f"{product.name} is already {orders} of the same day{past}; its label allows "
            f"{most} a year",
        )
    else:
        yield (
            "TIMES",
            f"{product.name} was applied {len(days)} of {most} times that its label allows a year "
            f"({dates})",
        )


def _annual(place: LawnCase, product: Product) -> Iterator[tuple[str, str]]:
    """Over the product's own most of a year, and over that of the lawn's grass and the target."""
    if product.annual_most is not None:
        yield from _year(place, product, product.annual_most, "")
    for part, one in parts_of(place.workbook, place.order):
        for row in rates_about(place.workbook, place.order, part):
            if one.product_id == product.product_id and row.annual_most is not None:
                yield from _year(place, product, row.annual_most, f" {row.about}".rstrip())


def _year(place: LawnCase, product: Product, limit: Rate, about: str) -> Iterator[tuple[str, str]]:
    """The year's sum per 1,000 ft2 in the label's own unit; every application counts with its
    own treated area, as if all fell on the same lawn (the careful reading). A most in ai or ae
    counts every product with a common active ingredient, with all of its ai: labels of two
    ingredients state one strength, so more is counted than was given, never less."""
    if limit.basis != "area":
        return
    counts = _itself(product)
    if limit.substance in ("ai", "ae"):
        counts = _of_one_ingredient(product)
    rows = [*place.recorded_this_year(counts), *place.today(counts), *place.now(counts)]
    try:
        terms = [(row, _counted(row, limit)) for row in rows]
    except MixingError as error:
        # What cannot be added up must not pass: a record in a unit that the product's data do
        # not let us cross.
        yield "ANNUAL", f"{product.name}: this year's sum cannot be worked out ({error})"
        return
    total = sum(amount for _, amount in terms)
    if total > limit.most_base * (1 + SUM_TOLERANCE):
        yield "ANNUAL", _annual_text(product, limit, terms, total) + about


def _of_one_ingredient(product: Product) -> Counts:
    names = ingredients(product)
    return lambda other: other.product_id == product.product_id or bool(names & ingredients(other))


def _counted(row: Applied, limit: Rate) -> float:
    if limit.substance == "ae" and row.product.ai_basis == "ai":
        # A salt or ester weighs more than its acid: its ai counted as ae is the careful figure.
        limit = replace(limit, substance="ai")
    return in_limits_terms(row.product, limit, row.per_1000_ft2)


def _annual_text(
    product: Product, limit: Rate, terms: list[tuple[Applied, float]], total: float
) -> str:
    scale = limit.most / limit.most_base
    unit = limit.unit if limit.substance == "product" else f"{limit.unit} {limit.substance}"
    parts = []
    for row, amount in terms:
        brand = "" if row.product.product_id == product.product_id else f" of {row.product.name}"
        parts.append(f"{amount * scale:.3g}{brand} {row.when}")
    return (
        f"{product.name}: {' + '.join(parts)} = {total * scale:.3g} {unit} per {limit.per} "
        f"this year, its label allows {limit.most:g}"
    )


def in_limits_terms(product: Product, limit: Rate, product_amount: float) -> float:
    """An amount of product (gal or lb) in the base unit of what the limit counts: gallons or
    pounds of product, N, ai or ae. Raises MixingError when the product's data do not say."""
    return product_amount / product_base(product, limit, 1.0)


def _days_text(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
