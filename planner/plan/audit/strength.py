"""What one gallon of a mix holds and weighs, worked out from the tables alone, and what each
record and order puts on 1,000 ft2 of a property, product by product (rule 17).

Written apart from `planner.mixing`: it goes by way of pounds of the substance that the rate
counts, in one sheet for 1,000 ft2 (or for one gallon), and divides at the end.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from planner.day.day import Day, Workbook
from planner.day.orders import Order, PastApplication
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


LAWN_SLACK = 1.005
"""Areas are measured to half a percent (rule 17)."""

Wanted = Callable[[Product], bool]
"""Which products a limit counts."""


@dataclass(frozen=True)
class Dose:
    """One product, once. source: 'record' or an order's id. amount: gallons of a liquid or pounds
    of a dry product per 1,000 ft2, None where `trouble` says why it cannot be told."""

    product: Product
    day: date
    source: str
    amount: float | None
    trouble: str = ""


class DoseBook:
    """Doses of every property of the day."""

    def __init__(self, day: Day, strengths: Mapping[str, Strength]) -> None:
        self._day = day
        self._lawn_ft2 = {
            name: home.lawn_ft2 * LAWN_SLACK for name, home in day.workbook.properties.items()
        }
        # A large office has hundreds of thousands of records, and few homes of the day.
        self._records: dict[str, list[PastApplication]] = {}
        for row in day.workbook.history:
            if row.day <= day.date and row.product_id in day.workbook.products:
                self._records.setdefault(row.property_id, []).append(row)
        self._orders = {
            order.order_id: _ordered(day, order, strengths.get(order.mix_id))
            for order in day.orders.values()
        }

    def records(self, order: Order, wanted: Wanted, *, of_year: bool) -> list[Dose]:
        """Of the order's property, what was recorded: in the calendar year, or ever. Ground that
        the order itself had before is not the ground of its rest."""
        return [
            _recorded(product, row)
            for row in self._records.get(order.property_id, [])
            if wanted(product := self._day.workbook.products[row.product_id])
            and (not of_year or row.day.year == self._day.date.year)
            and (row.rest_of == "" or row.rest_of not in (order.order_id, order.part_of))
        ]

    def own(self, order: Order, wanted: Wanted) -> list[Dose]:
        """What the order itself puts down."""
        return [dose for dose in self._orders[order.order_id] if wanted(dose.product)]

    def before(self, order: Order, ahead: list[Order], wanted: Wanted) -> list[Dose]:
        """What the orders ahead of it put on the same lawn; those with wanted products that fit
        beside it on the lawn are parts of the same application and put down nothing on it."""
        doses: list[Dose] = []
        covered_ft2 = order.area_ft2
        for other in ahead:
            its = self.own(other, wanted)
            if its:
                doses += its
                covered_ft2 += other.area_ft2
        return doses if covered_ft2 > self._lawn_ft2[order.property_id] else []


def _recorded(product: Product, row: PastApplication) -> Dose:
    base = row.amount.base
    if (row.amount.kind == "volume") != (product.form is Form.LIQUID):
        density = pounds_per_gal(product)
        if product.form is Form.DRY or density is None:
            trouble = f"the record of {row.day} is in {row.amount.unit}"
            return Dose(product, row.day, "record", None, trouble)
        base /= density
    return Dose(product, row.day, "record", 1000 * base / row.area_ft2)


def _ordered(day: Day, order: Order, strength: Strength | None) -> list[Dose]:
    mix = day.workbook.mixes[order.mix_id]
    doses = []
    for part in mix.parts:
        product = day.workbook.products[part.product_id]
        if strength is None:
            doses.append(Dose(product, day.date, order.order_id, None, "its rate is not known"))
        else:
            amount = strength.product[product.product_id] * mix.carrier_gal_per_1000_ft2
            doses.append(Dose(product, day.date, order.order_id, amount))
    return doses


def known(dose: Dose) -> float:
    """The dose's amount. Raises StrengthError where it cannot be told."""
    if dose.amount is None:
        raise StrengthError(dose.trouble)
    return dose.amount
