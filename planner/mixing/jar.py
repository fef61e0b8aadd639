"""Jar tests: which mixes want one, and what goes into a jar of one quart.

A jar holds the mix in the tank's own proportions: Grains Research and Development Corporation,
spray application manual 7.5, https://grdc.com.au (read 2026-11-26). That fluid fertilizer, iron and
flowables ask for one is common practice, no source.
"""

from __future__ import annotations

from planner.day.day import Workbook
from planner.day.products import Form, Product
from planner.mixing.addition import ADJUVANTS, FERTILIZERS, SUSPENSIONS, step_of
from planner.mixing.recipes import Recipe
from planner.units import convert

QUARTS_PER_GAL = 4


def wants_jar_test(workbook: Workbook, mix_id: str) -> bool:
    """Whether a mix is new, or two or more products meet of which one is a fluid fertilizer, iron
    or a flowable."""
    mix = workbook.mixes[mix_id]
    products = [workbook.products[part.product_id] for part in mix.parts]
    partners = [product for product in products if step_of(product) < ADJUVANTS]
    return mix.new_mix or (len(partners) > 1 and any(_is_touchy(one) for one in partners))


def _is_touchy(product: Product) -> bool:
    feeds = product.nitrogen_percent or product.phosphate_percent or product.potash_percent
    fluid = product.form is Form.LIQUID and (feeds or step_of(product) == FERTILIZERS)
    words = f"{product.group} {product.active_ingredient}".casefold().split()
    return bool(fluid or "iron" in words or step_of(product) == SUSPENSIONS)


def jar_amounts(workbook: Workbook, recipe: Recipe) -> tuple[tuple[str, str], ...]:
    """(what, how much) for a quart of the mix: water first, then the products as the mix has them.
    Liquids in mL, dry products in g."""
    rows = [("water", _text(convert(recipe.water_gal_per_gal / QUARTS_PER_GAL, "gal", "mL"), "mL"))]
    for part in recipe.parts:
        unit = "mL" if part.unit == "gal" else "g"
        amount = convert(part.amount_per_gal / QUARTS_PER_GAL, part.unit, unit)
        rows.append((workbook.products[part.product_id].name, _text(amount, unit)))
    return tuple(rows)


def _text(amount: float, unit: str) -> str:
    return f"{amount:.0f} {unit}" if amount >= 100 else f"{amount:.2g} {unit}"
