"""What each record and each order of the day puts on 1,000 ft2 of a property, product by product
(rule 17). Written apart from `planner.mixing`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from planner.day.day import Day
from planner.day.orders import Order, PastApplication
from planner.day.products import Form, Product
from planner.plan.audit.strength import Strength, StrengthError, pounds_per_gal

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
        """Of the order's property, what was recorded: in the calendar year, or ever."""
        return [
            _recorded(product, row)
            for row in self._records.get(order.property_id, [])
            if wanted(product := self._day.workbook.products[row.product_id])
            and (not of_year or row.day.year == self._day.date.year)
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
