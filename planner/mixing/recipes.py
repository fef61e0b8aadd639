"""What a gallon of each mix is made of, from the rates as the labels write them.

planner/docs/rules.md, rules 1 and 2, are the law for this module. Base units: gal, lb, 1,000 ft2
unless a name says otherwise. Each figure from outside names its source;
tests/test_check_values.py holds each formula against published examples.

And what the store holds of each product, against what a gallon of each mix takes of it (rule
27).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from planner.day.day import Workbook
from planner.day.orders import Order
from planner.day.products import Form, Mix, MixPart, Product
from planner.problems import PlannerError, Problem
from planner.units import Rate

PHOSPHORUS_PER_PHOSPHATE: Final = 2 * 30.973762 / (2 * 30.973762 + 5 * 15.999)
"""lb of P in a lb of P2O5 (0.4364); IUPAC standard atomic weights."""


def product_lb_for_nutrient(nutrient_lb: float, nutrient_percent: float) -> float:
    """Pounds of a fertilizer that hold so many pounds of a nutrient. Raises ValueError when it
    holds none."""
    if nutrient_percent <= 0:
        raise ValueError("the product holds none of that nutrient")
    return nutrient_lb / (nutrient_percent / 100)


def soluble_nitrogen_lb(nitrogen_lb: float, slow_percent: float) -> float:
    """Readily available part of an amount of N, of which slow_percent is slow-release."""
    return nitrogen_lb * (1 - slow_percent / 100)


def implied_density_lb_per_gal(ai_lb_per_gal: float, ai_percent: float) -> float:
    """Pounds per gallon of a liquid from the two strengths that its label states.

    Both figures must be of one basis: an acid equivalent per gallon goes with the percentage of
    the acid, not of the salt. Raises ValueError when ai_percent is 0.
    """
    if ai_percent <= 0:
        raise ValueError("a percentage of 0 implies no density")
    return ai_lb_per_gal / (ai_percent / 100)


def mix_gal_for(area_ft2: float, carrier_gal_per_1000_ft2: float) -> float:
    """Gallons of finished mix for an area at a carrier volume."""
    return area_ft2 / 1000 * carrier_gal_per_1000_ft2


def water_lb_per_gal(temperature_f: float) -> float:
    """Weight of air-free water at one atmosphere, from 32 F to 212 F.

    Kell's fit (J. Chem. Eng. Data 20, 1975, p. 97; coefficients from memory), within 0.001 lb/gal
    of IAPWS-95 at the temperatures of the check values. Raises ValueError outside its range.
    """
    if not 32 <= temperature_f <= 212:
        raise ValueError(f"no liquid water at {temperature_f} F")
    t = (temperature_f - 32) / 1.8
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    kg_per_m3 = top / (1 + 16.879850e-3 * t)
    return kg_per_m3 * 0.003785411784 / 0.45359237


FULL_MIX_TOLERANCE: Final = 1e-9
"""A mix of liquid product alone (straight fertilizer) has no water; sums of rates may miss 1 gal
per gal by rounding."""


class MixingError(PlannerError, ValueError):
    """A rate that cannot be turned into an amount of product. code: RECIPE-1 to -7."""

    def __init__(self, code: str, message: str, cure: str) -> None:
        self.code, self.message, self.cure = code, message, cure
        super().__init__(f"{message}; {cure}")


@dataclass(frozen=True)
class RecipePart:
    """One product of a mix. unit: 'gal' (liquid) or 'lb' (dry); amount_*: in that unit, per gallon
    of finished mix and per 1,000 ft2. liquid_gal_per_gal: 0 for a dry product.
    weight_lb_per_gal: pounds of product per gallon of mix."""

    product_id: str
    unit: str
    amount_per_gal: float
    amount_per_1000_ft2: float
    liquid_gal_per_gal: float
    weight_lb_per_gal: float


@dataclass(frozen=True)
class Recipe:
    """One gallon of finished mix. density_lb_per_gal: pounds of that gallon."""

    mix_id: str
    carrier_gal_per_1000_ft2: float
    parts: tuple[RecipePart, ...]
    water_gal_per_gal: float
    density_lb_per_gal: float

    def water_gal(self, mix_gal: float) -> float:
        """Water in so many gallons of finished mix."""
        return self.water_gal_per_gal * mix_gal

    def amounts(self, mix_gal: float) -> dict[str, float]:
        """Product id -> gallons or pounds in so many gallons of finished mix."""
        return {part.product_id: part.amount_per_gal * mix_gal for part in self.parts}


def recipes(workbook: Workbook) -> dict[str, Recipe]:
    """Every mix's recipe, in the order of the table. Raises as `recipe` does."""
    return {mix_id: recipe(workbook, mix_id) for mix_id in workbook.mixes}


def recipe(workbook: Workbook, mix_id: str) -> Recipe:
    """The recipe of one mix. Raises KeyError for an unknown mix or product, MixingError for a rate
    that cannot be crossed or products that leave less than no room for water."""
    mix = workbook.mixes[mix_id]
    water_lb_per_gal = workbook.settings.water_lb_per_gal
    parts = tuple(
        _part(workbook.products[part.product_id], part, mix, water_lb_per_gal) for part in mix.parts
    )
    water = _water_gal_per_gal(parts)
    if water < 0:
        raise _overfull(water)
    density = water * water_lb_per_gal + sum(part.weight_lb_per_gal for part in parts)
    return Recipe(mix_id, mix.carrier_gal_per_1000_ft2, parts, water, density)


def order_gal(workbook: Workbook, order: Order) -> float:
    """Gallons of finished mix that an order takes. Raises KeyError for an unknown mix."""
    return mix_gal_for(order.area_ft2, workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2)


def product_density_lb_per_gal(product: Product) -> float | None:
    """Pounds per gallon of a liquid product: as given, or from the two strengths of its label.
    None when neither is known, and for a dry product."""
    if product.form is Form.DRY:
        return None
    if product.density_lb_per_gal is not None:
        return product.density_lb_per_gal
    if product.ai_lb_per_gal and product.ai_percent:
        return implied_density_lb_per_gal(product.ai_lb_per_gal, product.ai_percent)
    return None


def product_base(product: Product, rate: Rate, amount_base: float) -> float:
    """Gallons (liquid) or pounds (dry) of product for an amount in the rate's own base: gallons or
    pounds of rate.substance. Raises MixingError RECIPE-1 to RECIPE-5."""
    if rate.substance == "N":
        return _from_weight(product, product_lb_for_nutrient(amount_base, _nitrogen(product)))
    if rate.substance in ("ai", "ae"):
        return _from_active(product, rate, amount_base)
    if rate.kind == "mass":
        return _from_weight(product, amount_base)
    if product.form is Form.DRY:
        raise MixingError(
            "RECIPE-2",
            f"'{product.product_id}' is dry, its rate is a volume",
            "state the rate as a weight ('oz wt', 'lb')",
        )
    return amount_base


def recipe_problems(workbook: Workbook) -> list[Problem]:
    """Rates that cannot be turned into product, and mixes that are over-full, with their rows.

    Products that the workbook does not hold are left out: another check reports them.
    """
    return [problem for mix in workbook.mixes.values() for problem in _mix_problems(workbook, mix)]


def _mix_problems(workbook: Workbook, mix: Mix) -> Iterator[Problem]:
    good: list[RecipePart] = []
    known = [part for part in mix.parts if part.product_id in workbook.products]
    for part in known:
        product = workbook.products[part.product_id]
        try:
            good.append(_part(product, part, mix, workbook.settings.water_lb_per_gal))
        except MixingError as error:
            # The table check names a range; once is enough.
            if error.code != "RECIPE-7":
                yield _part_problem(workbook, mix, part, error)
    water = _water_gal_per_gal(tuple(good))
    if water < 0:
        file, row = workbook.source.where("mixes", mix.mix_id)
        full = _overfull(water)
        found = f"{mix.carrier_gal_per_1000_ft2:g}"
        column = "carrier_gal_per_1000_ft2"
        yield Problem(file, row, column, full.code, full.message, found, full.cure)


def _part_problem(workbook: Workbook, mix: Mix, part: MixPart, error: MixingError) -> Problem:
    file, row = workbook.source.where("mix_products", f"{mix.mix_id}/{part.product_id}")
    return Problem(file, row, "rate", error.code, error.message, part.rate.text, error.cure)


def _part(product: Product, part: MixPart, mix: Mix, water_lb_per_gal: float) -> RecipePart:
    rate = part.rate
    if rate.least != rate.most:
        raise MixingError(
            "RECIPE-7", f"'{rate.text}' is a range", "state the one rate that is mixed"
        )
    amount = product_base(product, rate, rate.most_base)
    carrier = mix.carrier_gal_per_1000_ft2
    per_gal = amount / carrier if rate.basis == "area" else amount
    liquid = product.form is Form.LIQUID
    # A liquid of unknown density counts as water: at herbicide rates (1 % of the mix) that is
    # wrong by a hundredth of a pound per gallon. Where weight matters more (liquid fertilizer, a
    # rate in pounds) the density is needed for the rate itself and asked for.
    lb_per_unit = (product_density_lb_per_gal(product) or water_lb_per_gal) if liquid else 1.0
    return RecipePart(
        product_id=product.product_id,
        unit=product.unit,
        amount_per_gal=per_gal,
        amount_per_1000_ft2=per_gal * carrier,
        liquid_gal_per_gal=per_gal if liquid else 0.0,
        weight_lb_per_gal=per_gal * lb_per_unit,
    )


def _water_gal_per_gal(parts: tuple[RecipePart, ...]) -> float:
    """Rest of a gallon after the liquid products; the volume of dry ones is neglected."""
    water = 1.0 - sum(part.liquid_gal_per_gal for part in parts)
    return 0.0 if abs(water) < FULL_MIX_TOLERANCE else water


def _overfull(water: float) -> MixingError:
    return MixingError(
        "RECIPE-6",
        f"its liquid products fill {1 - water:.0%} of the mix",
        "raise the carrier volume or correct the rates",
    )


def _nitrogen(product: Product) -> float:
    if product.nitrogen_percent <= 0:
        raise MixingError(
            "RECIPE-3",
            f"the rate is in N, but '{product.product_id}' states no nitrogen",
            "give nitrogen_percent of the product, or the rate in product",
        )
    return product.nitrogen_percent


def _from_weight(product: Product, product_lb: float) -> float:
    """Product in its own unit from its pounds."""
    if product.form is Form.DRY:
        return product_lb
    density = product_density_lb_per_gal(product)
    if density is None:
        raise MixingError(
            "RECIPE-1",
            f"'{product.product_id}' is liquid, its rate is a weight and its density is not known",
            "give density_lb_per_gal, or ai_lb_per_gal and ai_percent",
        )
    return product_lb / density


def _from_active(product: Product, rate: Rate, active_lb: float) -> float:
    """Product in its own unit from pounds of active ingredient or acid equivalent."""
    if product.ai_basis != rate.substance:
        raise MixingError(
            "RECIPE-5",
            f"the rate is in {rate.substance}, the strength of '{product.product_id}' in "
            f"{product.ai_basis}",
            "state both in the one that the label uses",
        )
    if product.form is Form.LIQUID and product.ai_lb_per_gal:
        return active_lb / product.ai_lb_per_gal
    if product.ai_percent:
        return _from_weight(product, active_lb / (product.ai_percent / 100))
    raise MixingError(
        "RECIPE-4",
        f"the rate is in {rate.substance}, but '{product.product_id}' states no strength",
        "give ai_lb_per_gal (liquid) or ai_percent (dry) of the product",
    )


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
