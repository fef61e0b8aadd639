"""Which orders a rule holds back, worked out again (rules 16 and 17)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.day.day import Day
from planner.day.orders import Order, PastApplication
from planner.day.products import Form, Product
from planner.plan.audit.strength import (
    Strength,
    StrengthError,
    pounds_per_gal,
    substance_per_unit,
)
from planner.plan.audit.violation import Violation
from planner.plan.audit.weather import Openings
from planner.plan.model import Plan
from planner.units import Rate

History = dict[tuple[str, str], list[PastApplication]]
"""(property, product) -> what was applied up to the day."""

YEAR_SUM_SLACK = 0.005
"""Rounded records may pass a yearly most by half a percent; that is arithmetic, not an overdose."""


def check_holds(
    plan: Plan,
    day: Day,
    strengths: Mapping[str, Strength],
    opening: Mapping[str, Openings],
) -> Iterator[Violation]:
    """Exactly those orders are held that a rule holds back, each with a code that applies."""
    held = {row.order_id: row for row in plan.held}
    records: History = {}
    for past in day.workbook.history:
        if past.day <= day.date:
            records.setdefault((past.property_id, past.product_id), []).append(past)
    for order in day.orders.values():
        why = dict(_hold_reasons(day, order, records, strengths, opening[order.order_id]))
        row = held.get(order.order_id)
        if row is None and why:
            yield Violation(
                "ORDER-HELD",
                None,
                None,
                f"order {order.order_id} must be held: {'; '.join(why.values())}",
            )
        elif row is not None and not why:
            yield Violation(
                "ORDER-NOT-HELD",
                None,
                None,
                f"order {order.order_id} is held ({row.code}), yet no rule holds it back",
            )
        elif row is not None and row.code not in why:
            yield Violation(
                "ORDER-NOT-HELD",
                None,
                None,
                f"order {order.order_id} is held for {row.code}; what holds it back is "
                f"{', '.join(sorted(why))}",
            )


def _hold_reasons(
    day: Day,
    order: Order,
    records: History,
    strengths: Mapping[str, Strength],
    opening: Openings,
) -> Iterator[tuple[str, str]]:
    """(code of the hold, what was found) for each rule that holds the order back."""
    book = day.workbook
    mix = book.mixes[order.mix_id]
    for part in mix.parts:
        product = book.products[part.product_id]
        past = records.get((order.property_id, product.product_id), [])
        yield from _place(day, order, product)
        yield from _calendar(day, product, past)
        if order.mix_id in strengths:
            per_1000 = (
                strengths[order.mix_id].product[product.product_id] * mix.carrier_gal_per_1000_ft2
            )
            yield from _year(day, product, past, per_1000)
    if opening.weather is not None and not opening.weather:
        yield "WEATHER", "no hour of the forecast suits its mix"
    elif opening.both is not None and not opening.both:
        yield "WINDOW", "the customer's windows and the weather leave nothing"


def _place(day: Day, order: Order, product: Product) -> Iterator[tuple[str, str]]:
    place = day.workbook.properties[order.property_id]
    grasses = place.grass
    for mark in ",/+&":
        grasses = grasses.replace(mark, ";")
    on_lawn = {name.strip().lower() for name in (*grasses.split(";"), place.grass)} - {""}
    banned = {name.strip().lower() for name in product.not_on_grass}
    if on_lawn & banned:
        yield "GRASS", f"{product.product_id} must not touch {' or '.join(on_lawn & banned)}"
    if place.water_distance_ft is not None and product.water_distance_ft is not None:
        lacking_ft = product.water_distance_ft - place.water_distance_ft
        if lacking_ft > 0:
            yield "WATER", f"{product.product_id} is {lacking_ft:.0f} ft too near to water"


def _calendar(day: Day, product: Product, past: list[PastApplication]) -> Iterator[tuple[str, str]]:
    if past and product.least_days_between is not None:
        days = min((day.date - row.day).days for row in past)
        if days < product.least_days_between:
            yield (
                "INTERVAL",
                f"{product.product_id} was applied {days} days ago, {product.least_days_between} "
                "must lie between",
            )
    if product.most_per_year is not None:
        times = len({row.day for row in past if row.day.year == day.date.year})
        if times >= product.most_per_year:
            yield (
                "TIMES",
                f"{product.product_id} was applied {times} times this year, "
                f"{product.most_per_year} are allowed",
            )


def _year(
    day: Day, product: Product, past: list[PastApplication], per_1000: float
) -> Iterator[tuple[str, str]]:
    limit = product.annual_most
    if limit is None or limit.basis != "area":
        return
    try:
        total = _counted(product, limit, per_1000)
        for row in past:
            if row.day.year == day.date.year:
                amount = _own_unit(product, row) * 1000 / row.area_ft2
                total += _counted(product, limit, amount)
    except StrengthError as error:
        yield "ANNUAL", f"the year's sum of {product.product_id} cannot be worked out: {error}"
        return
    if total > limit.most_base + YEAR_SUM_SLACK * limit.most_base:
        yield (
            "ANNUAL",
            f"{product.product_id} would come to {total:.4f} a year per 1,000 ft2, "
            f"{limit.most_base:.4f} are allowed ({limit.text})",
        )


def _own_unit(product: Product, row: PastApplication) -> float:
    """A recorded amount in gallons of a liquid or pounds of a dry product."""
    if (row.amount.kind == "volume") == (product.form is Form.LIQUID):
        return row.amount.base
    density = pounds_per_gal(product)
    if product.form is Form.DRY or density is None:
        raise StrengthError(f"the record of {row.day} is in {row.amount.unit}")
    return row.amount.base / density


def _counted(product: Product, limit: Rate, amount: float) -> float:
    """Gallons or pounds of product as the limit counts them."""
    if limit.substance in ("ai", "ae") and limit.substance != product.ai_basis:
        raise StrengthError(f"its label counts {limit.substance}, its strength {product.ai_basis}")
    if limit.substance != "product":
        return amount * substance_per_unit(product, limit.substance)
    if (limit.kind == "volume") == (product.form is Form.LIQUID):
        return amount
    density = pounds_per_gal(product)
    if product.form is Form.DRY or density is None:
        raise StrengthError(f"its yearly most is in {limit.unit}")
    return amount * density
