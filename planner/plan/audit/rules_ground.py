"""What ground, soil and bloom hold back, worked out again (rule 37)."""

from __future__ import annotations

from collections.abc import Iterator

from planner.day.day import Day
from planner.day.orders import GroundDay, Order
from planner.plan.audit.rules_state import StateCase, state_ground


def ground_row(day: Day, order: Order) -> GroundDay | None:
    """The row of today that is about the order's lawn."""
    area, found = day.workbook.properties[order.property_id].weather_area, None
    for row in day.workbook.ground:
        if row.day == day.date and row.area in ("", area) and (found is None or row.area):
            found = row
    return found


def ground_holds(case: StateCase) -> Iterator[tuple[str, str]]:
    """(code, what was found) for each thing about the ground or bloom that holds the order back."""
    day, order = case.day, case.order
    book, row = day.workbook, ground_row(day, order)
    home = book.properties[order.property_id]
    products = [book.products[part.product_id] for part in book.mixes[order.mix_id].parts]
    if row is not None:
        barred = set(row.state) & state_ground(case)
        if barred:
            yield "LAW-GROUND", f"ground is {', '.join(sorted(barred))}"
        for one in products:
            if None not in (one.soil_temperature_least_f, row.soil_temperature_f):
                lacking = (one.soil_temperature_least_f or 0) - (row.soil_temperature_f or 0)
                if lacking > 0:
                    yield "SOIL", f"{one.product_id}: soil is {lacking:g} F too cold"
    today = day.date
    if any(span.first <= today <= span.last for span in home.bloom):
        for one in products:
            if one.not_in_bloom:
                yield "BLOOM", f"{one.product_id} in bloom"
