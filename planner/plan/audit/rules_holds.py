"""Which orders a rule holds back, worked out again (rules 16 and 17)."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping

from planner.day.day import Day, Workbook
from planner.day.orders import Order
from planner.day.places import Property
from planner.day.products import Form, Mix, Product, ProductRate
from planner.plan.audit.case import Violation
from planner.plan.audit.edges import NOTHING_FT2, left_ft2
from planner.plan.audit.rules_people import asked_of, has, nowhere_mixed
from planner.plan.audit.rules_state import StateCase, grasses_meant, ground_holds, state_holds
from planner.plan.audit.strength import (
    Dose,
    DoseBook,
    Strength,
    StrengthError,
    Wanted,
    amount_of_rate,
    known,
    pounds_per_gal,
    substance_per_unit,
)
from planner.plan.audit.weather import Openings
from planner.plan.model import Plan
from planner.units import Rate

YEAR_SUM_SLACK = 0.005
"""Rounded records may pass a yearly most by half a percent; that is arithmetic, not an overdose."""


def done_orders(plan: Plan) -> frozenset[str]:
    """Orders that stand in stops that are done."""
    return frozenset(
        work.order_id
        for truck in plan.trucks
        for stop in truck.stops
        if stop.done
        for work in stop.orders
    )


def check_holds(plan: Plan, day: Day, holds: Holds) -> Iterator[Violation]:
    """Exactly those orders are held that a rule holds back, each with a code that applies. holds:
    of the day, with the plan's done orders."""
    held = {row.order_id: row for row in plan.held}
    for order in day.orders.values():
        why = holds.why(order)
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


class Holds:
    """What holds each order back. An order asks about those ahead of it at its property, and these
    about the ones ahead of them, until one has none ahead. Nothing holds one that is done, and it
    is ahead of all that are not (rule 21)."""

    def __init__(
        self,
        day: Day,
        strengths: Mapping[str, Strength],
        opening: Mapping[str, Openings],
        done: Collection[str] = (),
    ) -> None:
        self.day, self._done = day, done
        self.opening = opening
        self.doses = DoseBook(day, strengths)
        self._rank = {
            order_id: (order_id not in done, order.priority, row)
            for row, (order_id, order) in enumerate(day.orders.items())
        }
        self._found: dict[str, dict[str, str]] = {}

    def why(self, order: Order) -> dict[str, str]:
        """Code -> what was found, for each rule that holds the order back."""
        if order.order_id not in self._found:
            self._found[order.order_id] = dict(self._reasons(order))
        return self._found[order.order_id]

    def ahead(self, order: Order) -> list[Order]:
        """The orders of its property that come before it and are not held."""
        return [
            other
            for other in self.day.orders.values()
            if other.property_id == order.property_id
            and self._rank[other.order_id] < self._rank[order.order_id]
            and not self.why(other)
        ]

    def _reasons(self, order: Order) -> Iterator[tuple[str, str]]:
        if order.order_id in self._done:
            return
        opening = self.opening[order.order_id]
        if opening.weather is not None and not opening.weather:
            yield "WEATHER", "no hour of the forecast suits its mix"
        elif opening.both is not None and not opening.both:
            yield "WINDOW", "the customer's windows and the weather leave nothing"
        left = left_ft2(self.day, order)
        if left is not None and left < NOTHING_FT2:
            yield "EDGE", f"the strips leave {left:.0f} sq ft of the lawn"
        book = self.day.workbook
        home, ahead = book.properties[order.property_id], self.ahead(order)
        for part in book.mixes[order.mix_id].parts:
            product = book.products[part.product_id]
            yield from _place(home, product)
            yield from _stand(self.day, home, product)
            yield from self._calendar(order, ahead, product)
            yield from self._year(order, ahead, product)
            yield from _rate(book, order, product)
        license_until = book.settings.business_license_until
        if license_until is not None and (self.day.date - license_until).days > 0:
            yield "LICENSE", f"the business license is good until {license_until}"
        for asked in asked_of(self.day, order):
            if not any(has(self.day, truck, asked) for truck in book.trucks.values()):
                yield "LICENSE", f"no truck has {asked.what}"
        for asked in nowhere_mixed(self.day, order):
            yield "LICENSE", f"no truck has {asked.what} in {asked.state}"
        case = StateCase(self.day, order, ahead, self.doses)
        yield from ground_holds(case)
        yield from state_holds(case)

    def _calendar(
        self, order: Order, ahead: list[Order], product: Product
    ) -> Iterator[tuple[str, str]]:
        def same(other: Product) -> bool:
            return other.product_id == product.product_id

        past = self.doses.records(order, same, of_year=False)
        today = self.doses.before(order, ahead, same)
        least = product.least_days_between
        if least is not None and (past or today):
            gaps = [(self.day.date - dose.day).days for dose in (*past, *today)]
            if min(gaps) < least:
                yield (
                    "INTERVAL",
                    f"{product.product_id} was applied {min(gaps)} days ago, {least} must lie "
                    "between",
                )
        if product.most_per_year is not None:
            this_year = {dose.day for dose in past if dose.day.year == self.day.date.year}
            times = len(this_year) + len(today)
            if times >= product.most_per_year:
                yield (
                    "TIMES",
                    f"{product.product_id} is applied {times} times this year apart from this, "
                    f"{product.most_per_year} are allowed",
                )

    def _year(
        self, order: Order, ahead: list[Order], product: Product
    ) -> Iterator[tuple[str, str]]:
        for limit in yearly(self.day.workbook, order, product):
            yield from self._over_year(order, ahead, product, limit)

    def _over_year(
        self, order: Order, ahead: list[Order], product: Product, limit: Rate
    ) -> Iterator[tuple[str, str]]:
        wanted = counted_with(product, limit)
        doses = (
            self.doses.own(order, wanted)
            + self.doses.before(order, ahead, wanted)
            + self.doses.records(order, wanted, of_year=True)
        )
        try:
            total = sum(as_counted(dose, limit) for dose in doses)
        except StrengthError as error:
            yield "ANNUAL", f"the year's sum of {product.product_id} cannot be worked out: {error}"
            return
        if total > limit.most_base + YEAR_SUM_SLACK * limit.most_base:
            yield (
                "ANNUAL",
                f"{product.product_id} would come to {total:.4f} a year per 1,000 ft2, "
                f"{limit.most_base:.4f} are allowed ({limit.text})",
            )


def _place(home: Property, product: Product) -> Iterator[tuple[str, str]]:
    banned = set().union(*(grasses_meant(name) for name in product.not_on_grass))
    both = grasses_meant(home.grass) & banned
    if both:
        yield "GRASS", f"{product.product_id} must not touch {' or '.join(sorted(both))}"
    if (
        home.shore_ft is None
        and home.water_distance_ft is not None
        and product.water_distance_ft is not None
    ):
        lacking_ft = product.water_distance_ft - home.water_distance_ft
        if lacking_ft > 0:
            yield "WATER", f"{product.product_id} is {lacking_ft:.0f} ft too near to water"


def yearly(book: Workbook, order: Order, product: Product) -> list[Rate]:
    """Every most of a year by area that is about the product on the order's lawn."""
    found = [product.annual_most, *(row.annual_most for row in _rows(book, order, product))]
    return [limit for limit in found if limit is not None and limit.basis == "area"]


def about_target(book: Workbook, mix: Mix, product: Product) -> list[ProductRate]:
    """The rows of product_rates for a target that the mix has the product for, on any grass."""
    cells = [one.target for one in mix.parts if one.product_id == product.product_id]
    target = "".join(cells).lower()
    targets = ["", target, *(name.strip() for name in target.replace(";", ",").split(","))]
    return [
        row
        for row in book.product_rates
        if row.product_id == product.product_id and row.target.lower() in targets
    ]


def like_label(mixed: Rate, limit: Rate) -> float:
    """How many times a limit a rate may be: half a percent is arithmetic, and 2.5 where the two
    are not in the same unit and area."""
    terms = [(rate.kind, rate.per, rate.basis, rate.substance) for rate in (mixed, limit)]
    return 1.005 if terms[0] == terms[1] else 1.025


def _rows(book: Workbook, order: Order, product: Product) -> list[ProductRate]:
    on_lawn = grasses_meant(book.properties[order.property_id].grass)
    return [
        row
        for row in about_target(book, book.mixes[order.mix_id], product)
        if not (row.grass and on_lawn.isdisjoint(grasses_meant(row.grass)))
    ]


def _rate(book: Workbook, order: Order, product: Product) -> Iterator[tuple[str, str]]:
    """Over the label's most, or under its least, for the grass or the target."""
    mix = book.mixes[order.mix_id]
    mixed = next(one for one in mix.parts if one.product_id == product.product_id).rate
    for row in _rows(book, order, product):
        for limit, most in ((row.rate_most, True), (row.rate_least, False)):
            if limit is None:
                continue
            try:
                ours, theirs = (
                    amount_of_rate(product, rate)
                    / (mix.carrier_gal_per_1000_ft2 if rate.basis == "area" else 1.0)
                    for rate in (mixed, limit)
                )
            except StrengthError:
                yield "RATE", f"{product.product_id} cannot be compared with {limit.text}"
                continue
            more, less = (ours, theirs) if most else (theirs, ours)
            if more > less * like_label(mixed, limit):
                yield "RATE", f"{product.product_id} at {mixed.text}, the label says {limit.text}"


def _stand(day: Day, home: Property, product: Product) -> Iterator[tuple[str, str]]:
    if product.stand_days_least is None or home.grass_since is None:
        return
    age = day.date.toordinal() - home.grass_since.toordinal()
    if age < product.stand_days_least or age < 0:
        yield "STAND", f"{product.product_id} on a lawn of {age} days"


def _named(product: Product) -> set[str]:
    """The active ingredients that the product's cell names."""
    text = re.sub(r"\band\b", "+", product.active_ingredient.lower())
    for mark in ";&/":
        text = text.replace(mark, "+")
    return {" ".join(name.split()) for name in text.split("+")} - {""}


def counted_with(product: Product, limit: Rate) -> Wanted:
    """The product itself; where the limit counts ai or ae, each with one of its ingredients."""

    def wanted(other: Product) -> bool:
        if other.product_id == product.product_id:
            return True
        return limit.substance in ("ai", "ae") and not _named(product).isdisjoint(_named(other))

    return wanted


def as_counted(dose: Dose, limit: Rate) -> float:
    """Gallons or pounds of a dose as the limit counts them; ai counts as ae."""
    product, amount = dose.product, known(dose)
    if limit.substance == "N":
        return amount * substance_per_unit(product, "N")
    if limit.substance in ("ai", "ae"):
        if (limit.substance, product.ai_basis) == ("ai", "ae"):
            raise StrengthError(f"{product.product_id} states ae, the limit counts ai")
        return amount * substance_per_unit(product, product.ai_basis)
    if (limit.kind == "volume") == (product.form is Form.LIQUID):
        return amount
    density = pounds_per_gal(product)
    if product.form is Form.DRY or density is None:
        raise StrengthError(f"its yearly most is in {limit.unit}")
    return amount * density
