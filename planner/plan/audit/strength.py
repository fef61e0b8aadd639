"""What one gallon of a mix holds and weighs, worked out from the tables alone.

Written apart from `planner.mixing`: it goes by way of pounds of the substance that the rate
counts, in one sheet for 1,000 ft2 (or for one gallon), and divides at the end.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.day.day import Workbook
from planner.day.products import Form, Mix, Product
from planner.units import Rate


class StrengthError(Exception):
    """A rate that the tables do not allow to be worked out. The message says what is missing."""


@dataclass(frozen=True)
class Strength:
    """One gallon of a mix. product: product id -> gal (liquid) or lb (dry); units: product id ->
    'gal' or 'lb'; water_gal: of the gallon; weight_lb: of the gallon."""

    product: dict[str, float]
    units: dict[str, str]
    water_gal: float
    weight_lb: float


def pounds_per_gal(product: Product) -> float | None:
    """Weight of a gallon of a liquid: as stated, or from the two statements of its ai."""
    if product.density_lb_per_gal is not None:
        return product.density_lb_per_gal
    if product.ai_lb_per_gal and product.ai_percent:
        return product.ai_lb_per_gal * 100 / product.ai_percent
    return None


def strength(workbook: Workbook, mix: Mix) -> Strength:
    """What one gallon of the mix holds. Raises StrengthError."""
    amounts: dict[str, float] = {}
    units: dict[str, str] = {}
    liquid_gal = 0.0
    solids_lb = 0.0
    for part in mix.parts:
        product = workbook.products[part.product_id]
        per_basis = amount_of_rate(product, part.rate)
        spread = mix.carrier_gal_per_1000_ft2 if part.rate.basis == "area" else 1.0
        per_gal = per_basis / spread
        amounts[product.product_id] = per_gal
        if product.form is Form.LIQUID:
            units[product.product_id] = "gal"
            liquid_gal += per_gal
            density = pounds_per_gal(product)
            # Without any density a liquid is taken to weigh as much as the water it displaces.
            solids_lb += per_gal * (
                workbook.settings.water_lb_per_gal if density is None else density
            )
        else:
            units[product.product_id] = "lb"
            solids_lb += per_gal
    water_gal = 1.0 - liquid_gal
    weight_lb = water_gal * workbook.settings.water_lb_per_gal + solids_lb
    return Strength(amounts, units, water_gal, weight_lb)


def amount_of_rate(product: Product, rate: Rate) -> float:
    """Gallons or pounds of product in the most of a rate, on its basis. Raises StrengthError."""
    counted = rate.most_base
    if rate.substance == "product":
        if (rate.kind == "volume") == (product.form is Form.LIQUID):
            return counted
        if product.form is Form.DRY:
            raise StrengthError(f"{product.product_id} is dry, its rate '{rate.text}' a volume")
        return counted / _needed(pounds_per_gal(product), product, "density")
    if rate.substance == "N":
        share = product.nitrogen_percent / 100
        product_lb = counted / _needed(share or None, product, "nitrogen_percent")
        if product.form is Form.DRY:
            return product_lb
        return product_lb / _needed(pounds_per_gal(product), product, "density")
    if rate.substance != product.ai_basis:
        raise StrengthError(
            f"{product.product_id} states {product.ai_basis}, its rate '{rate.text}' counts "
            f"{rate.substance}"
        )
    return counted / substance_per_unit(product, rate.substance)


def substance_per_unit(product: Product, substance: str) -> float:
    """Pounds of N, ai or ae in a gallon of a liquid or a pound of a dry product. Raises
    StrengthError where the tables do not say."""
    if substance == "N":
        share = _needed(product.nitrogen_percent / 100 or None, product, "nitrogen_percent")
    else:
        if product.form is Form.LIQUID and product.ai_lb_per_gal:
            return product.ai_lb_per_gal
        percent = product.ai_percent
        share = _needed(percent / 100 if percent else None, product, "ai_percent")
    if product.form is Form.DRY:
        return share
    return share * _needed(pounds_per_gal(product), product, "density")


def _needed(value: float | None, product: Product, name: str) -> float:
    if value is None:
        raise StrengthError(f"product {product.product_id} has no {name}")
    return value
