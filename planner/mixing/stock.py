"""What the store holds of each product, against what a gallon of each mix takes of it (rule 27)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from planner.day.day import Workbook
from planner.day.products import Form, Product
from planner.mixing.recipes import Recipe, implied_density_lb_per_gal


@dataclass(frozen=True)
class StockLimit:
    """One product of which the day may not use more than the store holds. unit: 'gal' or 'lb', of
    in_store and per_gal; per_gal: by mix id, in a gallon of finished mix (mixes without it are not
    named)."""

    product_id: str
    name: str
    unit: str
    in_store: float
    per_gal: Mapping[str, float]


def stock_base(product: Product) -> float | None:
    """What is in store in the product's own base unit (gal or lb), None = plenty, or not to be
    compared (the checks of the workbook name that)."""
    stock = product.in_store
    if stock is None:
        return None
    if (stock.kind == "volume") == (product.form is Form.LIQUID):
        return stock.base
    density = _density(product)
    return None if product.form is Form.DRY or density is None else stock.base / density


def _density(product: Product) -> float | None:
    if product.density_lb_per_gal is not None:
        return product.density_lb_per_gal
    if product.ai_lb_per_gal and product.ai_percent:
        return implied_density_lb_per_gal(product.ai_lb_per_gal, product.ai_percent)
    return None


def stock_limits(
    workbook: Workbook,
    recipes: Mapping[str, Recipe],
    used: Mapping[str, float] = MappingProxyType({}),
) -> tuple[StockLimit, ...]:
    """The products that a day can run out of. used: by product id, gal or lb that earlier fills of
    the same day have taken out of the store already."""
    per_gal: dict[str, dict[str, float]] = {}
    for recipe in recipes.values():
        for part in recipe.parts:
            mixes = per_gal.setdefault(part.product_id, {})
            mixes[recipe.mix_id] = mixes.get(recipe.mix_id, 0.0) + part.amount_per_gal
    limits = []
    for product_id, product in workbook.products.items():
        base = stock_base(product)
        if base is not None and product_id in per_gal:
            left = max(0.0, base - used.get(product_id, 0.0))
            limits.append(
                StockLimit(product_id, product.name, product.unit, left, per_gal[product_id])
            )
    return tuple(limits)
