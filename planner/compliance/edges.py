"""Strips along water, wells, drains and play areas that stay unsprayed, and what they leave.

Rule 34 of docs/rules.md. A strip is as wide as the widest distance that a label or the state asks
for, less what already lies between; its area is that width times the border's length. Corners
where two strips meet count twice, so that a little less is treated.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from planner.compliance.applied import parts_of
from planner.compliance.state_rules import setbacks
from planner.day.day import Day, Workbook
from planner.day.orders import Order

LEAST_FT2: Final = 10.0
"""The least area that an order can have; with less than that nothing is left."""


@dataclass(frozen=True)
class Strip:
    """One strip of one order. name: 'water', 'well'; keep_ft: to be kept from it; width_ft: of the
    strip on the lawn; length_ft: of the border; why: label or section, '' = the office's own."""

    name: str
    keep_ft: float
    width_ft: float
    length_ft: float
    why: str

    @property
    def area_ft2(self) -> float:
        """Of the lawn that stays unsprayed."""
        return self.width_ft * self.length_ft

    @property
    def text(self) -> str:
        """For the crew: 'Leave 10 ft along the water (120 ft of border, 1,200 sq ft)'."""
        why = f": {self.why}" if self.why else ""
        what = self.name.removeprefix("the ")
        return (
            f"Leave {self.width_ft:g} ft along the {what} ({self.length_ft:,.0f} ft of "
            f"border, {self.area_ft2:,.0f} sq ft{why})"
        )


def strips(workbook: Workbook, order: Order, when: date) -> tuple[Strip, ...]:
    """What stays unsprayed of an order's lawn on a day, water first."""
    home = workbook.properties[order.property_id]
    found = []
    if home.shore_ft:
        near_ft = home.water_distance_ft or 0.0
        keep_ft, why = _water_keep(workbook, order, when)
        found.append(Strip("water", keep_ft, keep_ft - near_ft, home.shore_ft, why))
    for edge in home.edges:
        width_ft = edge.keep_ft - edge.away_ft
        found.append(Strip(edge.name, edge.keep_ft, width_ft, edge.length_ft, ""))
    return tuple(strip for strip in found if strip.width_ft > 0 and strip.length_ft > 0)


def _water_keep(workbook: Workbook, order: Order, when: date) -> tuple[float, str]:
    """The widest distance to water that a label or the state asks for, and which."""
    asked = [
        (product.water_distance_ft, f"label of {product.name}")
        for _, product in parts_of(workbook, order)
        if product.water_distance_ft
    ]
    asked += setbacks(Day(when, workbook, {}), order)
    return max(asked, default=(0.0, ""), key=lambda one: one[0])


def treatable_ft2(workbook: Workbook, order: Order, when: date) -> float:
    """What the strips leave of the order's lawn; 0 or less = nothing."""
    lawn_ft2 = workbook.properties[order.property_id].lawn_ft2
    return lawn_ft2 - sum(strip.area_ft2 for strip in strips(workbook, order, when))


def without_strips(workbook: Workbook, order: Order, when: date) -> Order:
    """The order with its area at most what the strips leave on that day. One of which nothing is
    left stays as it is: a rule holds it."""
    if not _has_edges(workbook, order):
        return order
    left_ft2 = treatable_ft2(workbook, order, when)
    if not LEAST_FT2 <= left_ft2 < order.area_ft2:
        return order
    return replace(order, area_ft2=left_ft2)


def leave_edges(workbook: Workbook, when: date) -> Workbook:
    """The workbook with every order's area less its strips."""
    orders = {
        name: without_strips(workbook, order, when) for name, order in workbook.orders.items()
    }
    return workbook if orders == workbook.orders else replace(workbook, orders=orders)


def edge_reasons(workbook: Workbook, order: Order, when: date) -> Iterator[tuple[str, str]]:
    """(code, reason) where the strips leave nothing."""
    if _has_edges(workbook, order) and treatable_ft2(workbook, order, when) < LEAST_FT2:
        told = "; ".join(strip.text for strip in strips(workbook, order, when))
        lawn_ft2 = workbook.properties[order.property_id].lawn_ft2
        yield "EDGE", f"nothing is left of the lawn's {lawn_ft2:,.0f} sq ft: {told}"


def _has_edges(workbook: Workbook, order: Order) -> bool:
    home = workbook.properties[order.property_id]
    return bool(home.shore_ft or home.edges)
