"""What the crew is told to put in: water by the meter, products in the steps of cup and scale.

Rule 33 of docs/rules.md. Metered gallons with their product leave the strength of a mix as it is
whatever was left in the compartment; what can make it too strong is a meter that shows too much, a
compartment that is full before all of the water is in because its gauge showed too little, and
rounding up. A product at its label's
most is therefore measured for the fewest gallons that can go in. Which most that is:
`planner/mixing/mosts.py`.
"""

import math
from dataclasses import dataclass
from typing import Final

from planner.day.day import Workbook
from planner.day.fleet import Compartment
from planner.day.products import Form, Product
from planner.mixing.mosts import label_mosts
from planner.mixing.recipes import Recipe
from planner.units import practical_amount

METER_STEP_GAL: Final = 0.1
"""What the meter of a filling hose shows (common practice, no source)."""

EMPTY_GAL: Final = 0.05
"""Less than a cup: the crew sees the bottom, and no gauge is needed to know it."""

ROUNDING: Final = 1.05
"""No fill is to be more than 5 % stronger than the mix by rounding to a cup."""

OFF_BY_GAL: Final = 5.0
OFF_BY_SHARE: Final = 1 / 15
TIMES_OFF: Final = 3
"""The sheet answers levels that are 5, 10 and 15 gal off; in a small compartment a fifteenth of it
and so on, in whole marks of its gauge."""


@dataclass(frozen=True)
class Measured:
    """water_gal: what the meter is to show; amounts: product id -> gallons or pounds to measure, in
    the recipe's order; strongest: product id -> share of its label's most that the mix reaches at
    worst (products whose label can be compared)."""

    water_gal: float
    amounts: dict[str, float]
    strongest: dict[str, float]


@dataclass(frozen=True)
class Correction:
    """What to add where the gauge reads level_gal; gal: of finished mix, 0 = nothing."""

    level_gal: float
    gal: float
    measured: Measured


def measured_fill(
    workbook: Workbook,
    recipe: Recipe,
    compartment: Compartment,
    before_gal: float,
    gal: float,
    in_it_gal: float | None = None,
) -> Measured:
    """What to measure for so many gallons on top of before_gal. in_it_gal: the most that may really
    be in it, None = as the gauge hides. Raises KeyError for a product that the workbook does not
    have."""
    products = {part.product_id: workbook.products[part.product_id] for part in recipe.parts}
    exact = recipe.amounts(gal)
    amounts = {name: in_steps(one, exact[name]) for name, one in products.items()}
    capacity_gal = compartment.capacity_gal
    water_gal = _metered(recipe.water_gal(gal), capacity_gal - before_gal, gal)
    if in_it_gal is None:
        in_it_gal = most_in_it_gal(compartment, before_gal)
    sure = 1 - workbook.settings.meter_error_percent / 100
    label_most = {name: most.per_gal for name, most in label_mosts(workbook, recipe).items()}
    strong = {
        # Packets cannot be rounded to a few percent; their label's most is the limit.
        part.product_id: math.inf
        if products[part.product_id].packet_base and part.product_id in label_most
        else part.amount_per_gal * ROUNDING / sure
        for part in recipe.parts
    }

    def room_for(name: str) -> tuple[float, float]:
        """The most of a product: so that the new part, and so that the full compartment, is not
        over the label."""
        fewest_gal = water_gal * sure
        fewest_gal += sum(amounts[n] for n, one in products.items() if one.form is Form.LIQUID)
        most = label_most.get(name, math.inf)
        part = min(most, strong[name])
        if in_it_gal + fewest_gal <= capacity_gal or most == math.inf:
            return part * fewest_gal, math.inf
        # An earlier fill that was full too soon may have left it at the label's most.
        return part * fewest_gal, most * (capacity_gal - in_it_gal)

    over = True
    while over:
        # Less of a liquid is less mix, so that the next product may be over now.
        over = False
        for name, one in products.items():
            limit = max(0.0, min(room_for(name)))
            if amounts[name] > limit * (1 + 1e-9):
                over = True
                amounts[name] = min(in_steps(one, exact[name], limit), limit)
    strongest = {}
    for name, most in label_most.items():
        by_meter, by_brim = room_for(name)
        share = amounts[name] / by_meter * min(1.0, strong[name] / most) if by_meter else 0.0
        if by_brim < math.inf:
            full = (most * capacity_gal - by_brim + amounts[name]) / (most * capacity_gal)
            share = max(share, full)
        strongest[name] = share
    return Measured(water_gal, amounts, strongest)


def in_steps(product: Product, exact: float, most: float | None = None) -> float:
    """The nearest amount that a person can measure, whole packets where it comes in them; the next
    lower one where that is over most."""
    packet = product.packet_base
    if packet is None:
        return practical_amount(exact, product.unit, most, product.smallest_measure).value_base
    count = math.floor(exact / packet + 0.5)
    return packet * (count if most is None else min(count, math.floor(most / packet + 1e-9)))


def corrections(
    workbook: Workbook, recipe: Recipe, compartment: Compartment, before_gal: float, gal: float
) -> tuple[Correction, ...]:
    """What to add instead of gal where the gauge reads some marks more or less than before_gal, as
    far as the compartment allows, down to nothing, low levels first. None for an empty
    compartment."""
    if before_gal <= EMPTY_GAL:
        return ()
    step, after_gal = compartment.gauge_step, before_gal + gal
    near = gauge_mark(before_gal, step)
    capacity_gal = compartment.capacity_gal
    off_gal = min(OFF_BY_GAL, capacity_gal * OFF_BY_SHARE)
    off_by = max(1, math.floor(off_gal / step + 1e-6)) * step
    levels = {max(0.0, near + times * off_by) for times in range(-TIMES_OFF, TIMES_OFF + 1)}
    return tuple(
        correction(workbook, recipe, compartment, level, after_gal)
        for level in sorted(levels - {near})
        if level <= capacity_gal
    )


def correction(
    workbook: Workbook, recipe: Recipe, compartment: Compartment, level_gal: float, after_gal: float
) -> Correction:
    """What to add, in whole gallons, where level_gal are in it and after_gal are to be."""
    add = max(0.0, float(math.floor(after_gal - level_gal + 1e-6)))
    most_gal = min(level_gal + compartment.gauge_step, compartment.capacity_gal)
    measured = measured_fill(workbook, recipe, compartment, level_gal, add, most_gal)
    return Correction(level_gal, add, measured)


def can_be_mixed(workbook: Workbook, row: Correction) -> bool:
    """Whether anything is added: not where it is too little for a packet. Raises KeyError for a
    product that the workbook does not have."""
    return row.gal > 0 and all(
        amount or workbook.products[name].packet_base is None
        for name, amount in row.measured.amounts.items()
    )


def most_in_it_gal(compartment: Compartment, before_gal: float) -> float:
    """What can be in it at most when its gauge is read as before_gal: a mark more than the mark
    that is read, for foam and a truck on a slope (common practice, no source)."""
    if before_gal <= EMPTY_GAL:
        return before_gal
    step = compartment.gauge_step
    most = max(before_gal, gauge_mark(before_gal, step)) + step
    return min(most, compartment.capacity_gal)


def gauge_mark(gal: float, step: float) -> float:
    """The mark of the gauge that is nearest to so many gallons."""
    return round(gal / step) * step


def _metered(water_gal: float, room_gal: float, gal: float) -> float:
    """Up to the next tenth; down where that would not go in."""
    steps = water_gal / METER_STEP_GAL
    up = math.ceil(steps - 1e-6) * METER_STEP_GAL
    fits = gal + up - water_gal <= room_gal + 1e-6
    return up if fits else math.floor(steps + 1e-6) * METER_STEP_GAL
