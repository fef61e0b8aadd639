"""The most of its label that bounds what is measured of a product (rule 33).

A mix is made once for several lawns, and what is left of it goes on others another day. So every
grass's most counts that the mix's rate keeps; one that it does not keep holds the orders there.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from planner.day.day import Workbook
from planner.day.products import MixPart, Product, ProductRate
from planner.mixing.recipes import MixingError, Recipe, product_base
from planner.units import Rate

ARITHMETIC_TOLERANCE: Final = 0.005
"""Rate and limit in one kind of unit per one area: half a percent is rounding."""

LABEL_PAIR_TOLERANCE: Final = 0.025
"""Rate and limit in different terms: labels print both and round each on its own, so that a right
rate can stand 2 to 3 % off. Published pairs: 6.25 gal/A beside 18 fl oz/1000 sq ft (2.0 % off),
https://www.pnwhandbooks.org/weed/horticultural/turfgrass/annual-grass-weeds-0"""


@dataclass(frozen=True)
class Most:
    """per_gal: gallons or pounds of product in a gallon of mix at it; about: 'on tall fescue for
    crabgrass', '' for the product's own."""

    per_gal: float
    rate: Rate
    about: str = ""


def label_mosts(workbook: Workbook, recipe: Recipe) -> dict[str, Most]:
    """Product id -> its least most that the recipe's rate keeps: the product's own, or that of a
    grass, or for a target of the mix. Products without one that can be compared are left out.
    Raises KeyError for a product that the workbook does not have."""
    parts = {part.product_id: part for part in workbook.mixes[recipe.mix_id].parts}
    found: dict[str, Most] = {}
    for one in recipe.parts:
        product, part = workbook.products[one.product_id], parts[one.product_id]
        carrier = recipe.carrier_gal_per_1000_ft2
        own = label_per_gal(product, product.rate_most, carrier)
        some = [] if own is None else [Most(own, product.rate_most)]
        for row in rows_about(workbook, part):
            per_gal = label_per_gal(product, row.rate_most, carrier)
            if per_gal is None:
                continue
            if one.amount_per_gal <= per_gal * slack(part.rate, row.rate_most):
                some.append(Most(per_gal, row.rate_most, row.about))
        if some:
            found[one.product_id] = min(some, key=lambda most: most.per_gal)
    return found


def label_leasts(workbook: Workbook, mix_id: str, product_id: str) -> Iterator[tuple[float, str]]:
    """(product in a gallon of mix, what about) of the label's least: the product's own ('') and
    those for a target of the mix, on any grass."""
    mix, product = workbook.mixes[mix_id], workbook.products[product_id]
    part = next(one for one in mix.parts if one.product_id == product_id)
    for rate, about in (
        (product.rate_least, ""),
        *((row.rate_least, row.about) for row in rows_about(workbook, part)),
    ):
        least = label_per_gal(product, rate, mix.carrier_gal_per_1000_ft2)
        if least is not None:
            yield least, about


def rows_about(workbook: Workbook, part: MixPart) -> Iterator[ProductRate]:
    """The rows of product_rates for a target that the mix has the product for, on any grass."""
    about = {"", *targets(part.target)}
    for row in workbook.product_rates:
        if row.product_id == part.product_id and row.target.casefold() in about:
            yield row


def label_per_gal(
    product: Product, rate: Rate | None, carrier_gal_per_1000_ft2: float
) -> float | None:
    """A rate of the label (its most) as product in a gallon of mix; None where there is none or it
    cannot be compared."""
    try:
        amount = None if rate is None else product_base(product, rate, rate.most_base)
    except MixingError:
        return None
    if rate is None or amount is None:
        return None
    return amount / carrier_gal_per_1000_ft2 if rate.basis == "area" else amount


def slack(rate: Rate, limit: Rate) -> float:
    """How many times the limit a rate may stand: rounding, and pairs of units on one label."""
    alike = (rate.kind, rate.per, rate.basis, rate.substance) == (
        limit.kind,
        limit.per,
        limit.basis,
        limit.substance,
    )
    return 1 + (ARITHMETIC_TOLERANCE if alike else LABEL_PAIR_TOLERANCE)


@lru_cache(1000)  # A calendar asks for every order and day.
def targets(cell: str) -> frozenset[str]:
    """'dandelion, clover' has two, and is one by itself as well; small letters."""
    cell = cell.casefold()
    return frozenset((cell, *(name.strip() for name in re.split("[;,]", cell))))
