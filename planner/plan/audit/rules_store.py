"""What the store gives out (rule 27): all fills of the day together. Written apart from
`planner.mixing` and `planner.routing`."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from planner.day.day import Day
from planner.day.products import Form, Product
from planner.plan.audit.strength import Strength, pounds_per_gal
from planner.plan.audit.violation import Violation
from planner.plan.model import Plan

SLACK = 1e-6
"""Gallons or pounds: plan.json keeps six decimals."""


def check_store(plan: Plan, day: Day, strengths: Mapping[str, Strength]) -> Iterator[Violation]:
    """No product is taken out of the store beyond what it holds. Counted is what the gallons of the
    fills hold by the rates of their mixes, whatever amounts the plan writes beside them. Fills that
    are done are facts: what they took beyond it bars all others from taking any."""
    held = held_in_store(day)
    out, done = taken_from_store(plan, held, strengths)
    for name, amount in out.items():
        if amount > max(held[name], done[name]) + SLACK:
            product = day.workbook.products[name]
            yield Violation(
                "STORE-MORE",
                None,
                None,
                f"the fills take {amount:.3f} {product.unit} of {product.name}, the store holds "
                f"{held[name]:.3f}",
            )


def held_in_store(day: Day) -> dict[str, float]:
    """Gallons or pounds of each product that is limited in the store."""
    return {
        name: amount
        for name, product in day.workbook.products.items()
        if (amount := _held(product)) is not None
    }


def taken_from_store(
    plan: Plan, products: Collection[str], strengths: Mapping[str, Strength]
) -> tuple[dict[str, float], dict[str, float]]:
    """Gallons or pounds of these products that the plan's fills take, and of that what is done."""
    out, done = dict.fromkeys(products, 0.0), dict.fromkeys(products, 0.0)
    for truck in plan.trucks:
        for stop in truck.stops:
            for fill in stop.fills:
                mix = strengths.get(fill.mix_id)
                for name, per_gal in mix.product.items() if mix is not None else ():
                    if name in out:
                        out[name] += per_gal * fill.gal
                        done[name] += per_gal * fill.gal if stop.done else 0.0
    return out, done


def _held(product: Product) -> float | None:
    """Gallons of a liquid or pounds of a dry product in the store; None = plenty."""
    stock = product.in_store
    if stock is None:
        return None
    liquid = product.form is Form.LIQUID
    if liquid == (stock.kind == "volume"):
        return stock.base
    per_gal = pounds_per_gal(product) if liquid else None
    return None if per_gal is None else stock.base / per_gal
