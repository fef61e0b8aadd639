"""What a property has had of a product: the records, and the day's orders that come before one."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from planner.day.day import Day, Workbook
from planner.day.orders import Order, PastApplication
from planner.day.products import Form, MixPart, Product, ProductRate
from planner.mixing.mosts import rows_about
from planner.mixing.recipes import MixingError, product_base, product_density_lb_per_gal
from planner.rules.grasses import grasses_of
from planner.units import Rate

SIDE_BY_SIDE_SLACK = 1.005
"""Orders of one day that fit beside each other on the lawn are parts of one application; areas are
measured to half a percent at best (common practice, no source)."""

Counts = Callable[[Product], bool]
"""Whether a limit counts a product."""


@dataclass(frozen=True)
class Applied:
    """One product put on one property. order_id: None for a record, '' for the order that is
    looked at, else the day's order that comes before it."""

    product: Product
    day: date
    order_id: str | None
    record: PastApplication | None
    rate: Rate | None
    carrier_gal_per_1000_ft2: float

    @property
    def per_1000_ft2(self) -> float:
        """Gallons (liquid) or pounds (dry) of product on 1,000 ft2 of what was treated. Raises
        MixingError for an amount that cannot be crossed."""
        if self.record is not None:
            return _recorded_per_1000_ft2(self.product, self.record)
        assert self.rate is not None, "an order has a rate"
        return product_per_1000_ft2(self.product, self.rate, self.carrier_gal_per_1000_ft2)

    @property
    def when(self) -> str:
        """'on 2027-03-15', 'in order 12' or 'now'."""
        if self.order_id is None:
            return f"on {self.day}"
        return f"in order {self.order_id}" if self.order_id else "now"


@dataclass(frozen=True)
class LawnCase:
    """What counts when an order is looked at: its property's records up to the day, oldest first,
    and the orders of the day there that come before it and are not held."""

    day: Day
    order: Order
    records: Sequence[PastApplication]
    earlier: Sequence[Order]

    @property
    def workbook(self) -> Workbook:
        """The tables."""
        return self.day.workbook

    def recorded(self, counts: Counts) -> list[Applied]:
        """Records of products that count. What was done of this very order lies beside its rest."""
        products = self.workbook.products
        return [
            Applied(products[row.product_id], row.day, None, row, None, 0.0)
            for row in self.records
            if row.product_id in products
            and counts(products[row.product_id])
            and not (row.rest_of and row.rest_of == self.order.whole_id)
        ]

    def recorded_this_year(self, counts: Counts) -> list[Applied]:
        """Of these, the ones of the calendar year."""
        return [row for row in self.recorded(counts) if row.day.year == self.day.date.year]

    def today(self, counts: Counts) -> list[Applied]:
        """What the day's earlier orders there put down, as if on the same lawn; nothing when they
        and this order fit beside each other, as parts of one application."""
        orders = [
            order
            for order in self.earlier
            if any(counts(product) for _, product in parts_of(self.workbook, order))
        ]
        lawn_ft2 = self.workbook.properties[self.order.property_id].lawn_ft2
        together_ft2 = self.order.area_ft2 + sum(order.area_ft2 for order in orders)
        if together_ft2 <= lawn_ft2 * SIDE_BY_SIDE_SLACK:
            return []
        return [row for order in orders for row in self._of(order, order.order_id, counts)]

    def now(self, counts: Counts) -> list[Applied]:
        """What this order puts down."""
        return list(self._of(self.order, "", counts))

    def _of(self, order: Order, order_id: str, counts: Counts) -> Iterator[Applied]:
        carrier = self.workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2
        for part, product in parts_of(self.workbook, order):
            if counts(product):
                yield Applied(product, self.day.date, order_id, None, part.rate, carrier)


def parts_of(workbook: Workbook, order: Order) -> list[tuple[MixPart, Product]]:
    """The order's products with their rates; products that the tables do not hold are left out
    (another check reports them)."""
    return [
        (part, workbook.products[part.product_id])
        for part in workbook.mixes[order.mix_id].parts
        if part.product_id in workbook.products
    ]


def rates_about(workbook: Workbook, order: Order, part: MixPart) -> Iterator[ProductRate]:
    """The rows of product_rates that are about a product of the order on its lawn."""
    grass = workbook.properties[order.property_id].grass
    for row in rows_about(workbook, part):
        if not row.grass or grasses_of(row.grass) & grasses_of(grass):
            yield row


def ingredients(product: Product) -> frozenset[str]:
    """Names of its active ingredients: '2,4-D + dicamba' holds two."""
    names = re.split(r"\+|;|&|/|\band\b", product.active_ingredient.casefold())
    return frozenset(" ".join(name.split()) for name in names if name.strip())


def product_per_1000_ft2(product: Product, rate: Rate, carrier_gal_per_1000_ft2: float) -> float:
    """Gallons (liquid) or pounds (dry) of product that a mix's rate puts on 1,000 ft2. Raises
    MixingError for a rate that cannot be crossed."""
    amount = product_base(product, rate, rate.most_base)
    return amount if rate.basis == "area" else amount * carrier_gal_per_1000_ft2


def _recorded_per_1000_ft2(product: Product, row: PastApplication) -> float:
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
