"""What the store hands out for the whole day."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from planner.compliance.duties import is_pesticide
from planner.day.day import Day
from planner.day.products import Form, Product
from planner.mixing.recipes import stock_base
from planner.plan.model import Fill, Plan, ProductAmount
from planner.problems import counted
from planner.rules.data import truck_rules
from planner.units import base_amount, practical_amount

WHOLE_CONTAINER_SLACK = 1e-6
"""A need this little over whole containers is float noise, not a reason for one more."""

CARRIED_MOST: Final = {"gal": 15.0, "lb": 100.0}
"""Crews draw from a larger container in the store; nobody carries it to a truck (common practice,
no source)."""


@dataclass(frozen=True)
class PickLine:
    """One product for the day. amount: in gal or lb; text: in units that people measure;
    containers: None when the store's container size is not known, or it is one to draw from:
    drawn_text names that; store_text, left_text: what the
    store holds and what of it is not used, '' when the tables do not say; cost: of the amount used,
    None without a price; bulk_text: '' unless
    its container makes a pesticide bulk; by_truck: (truck, text of its share);
    takers: who signs for a restricted-use product, by truck, () = it is none."""

    product: Product
    amount: float
    unit: str
    text: str
    containers: int | None
    container_text: str
    drawn_text: str
    brought_text: str
    store_text: str
    left_text: str
    cost: float | None
    bulk_text: str
    by_truck: tuple[tuple[str, str], ...]
    takers: tuple[str, ...]


def pick_list(plan: Plan, day: Day) -> tuple[PickLine, ...]:
    """A line per product that any fill of the day takes, in the order of the products table; fills
    that are done are left out."""
    shares: dict[str, dict[str, float]] = {}
    gone: dict[str, float] = {}
    for truck_plan in plan.trucks:
        name = truck_plan.truck_id
        for stop in truck_plan.stops:
            for part in (part for fill in stop.fills for part in handed_out(fill, day)):
                if stop.done:
                    gone[part.product_id] = gone.get(part.product_id, 0.0) + part.amount
                    continue
                by_truck = shares.setdefault(part.product_id, {})
                by_truck[name] = by_truck.get(name, 0.0) + part.amount
    return tuple(
        _line(day, product, shares[product.product_id], gone.get(product.product_id, 0.0))
        for product in day.workbook.products.values()
        if product.product_id in shares
    )


def handed_out(fill: Fill, day: Day) -> Iterator[ProductAmount]:
    """What a fill takes of the store: by the recipe, but packets whole, as they are measured."""
    for exact, told in zip(fill.products, fill.measured, strict=True):
        yield told if day.workbook.products[told.product_id].packet_base else exact


def _text(product: Product, amount: float) -> str:
    text = practical_amount(amount, product.unit).text
    packet = product.packet_base
    return f"{counted(round(amount / packet), 'packet')} ({text})" if packet else text


def _line(day: Day, product: Product, by_truck: dict[str, float], gone: float) -> PickLine:
    """gone: what fills that are done took out of the store."""
    amount = math.fsum(by_truck.values())
    containers = None
    container_text = brought = drawn_text = ""
    if product.container is not None and product.container.base > 0:
        containers = math.ceil(amount / product.container.base - WHOLE_CONTAINER_SLACK)
        container_text = f"{product.container.value:g} {product.container.unit}"
        brought = f"{containers * product.container.value:g} {product.container.unit}"
        if product.container.base > CARRIED_MOST[product.unit]:
            of = "the" if containers == 1 else f"{containers} ×"
            drawn_text, containers = f"from {of} {container_text} container", None
    store_text = left_text = ""
    held = stock_base(product)
    if held is not None:
        held = max(0.0, held - gone)
        store_text = practical_amount(held, product.unit).text
        left_text = practical_amount(max(0.0, held - amount), product.unit).text
        if product.container is not None and containers is not None:
            # The last container may be one that was begun.
            brought = brought if containers * product.container.base <= held else "all there is"
    cost = None
    if product.price is not None and product.price_unit:
        cost = product.price * amount / base_amount(1.0, product.price_unit)
    return PickLine(
        product=product,
        amount=amount,
        unit=product.unit,
        text=_text(product, amount),
        containers=containers,
        container_text=container_text,
        drawn_text=drawn_text,
        brought_text=brought,
        store_text=store_text,
        left_text=left_text,
        cost=cost,
        bulk_text=_bulk_text(product),
        by_truck=tuple((name, _text(product, share)) for name, share in by_truck.items()),
        takers=tuple(
            ", ".join(filter(None, (truck.title, truck.signature)))
            for truck in (day.workbook.trucks[name] for name in by_truck)
            if product.restricted_use
        ),
    )


def _bulk_text(product: Product) -> str:
    rule = truck_rules()["bulk pesticide"]
    most = (rule.figure if product.form is Form.LIQUID else rule.second_figure) or 0.0
    if product.container is None or product.container.base <= most or not is_pesticide(product):
        return ""
    return f"{rule.words} ({rule.origin.cited})"
