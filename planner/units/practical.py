"""Amounts as a person measures them: steps of jugs, cylinders and scales."""

import math
from dataclasses import dataclass
from typing import Final

from planner.units.model import Amount
from planner.units.registry import convert


@dataclass(frozen=True)
class PracticalAmount:
    """text: what to measure ('2 gal 1 qt 6 fl oz'). value_base: gallons or pounds of that.
    exact_text: the computed amount in decimal ('2.297 gal')."""

    text: str
    value_base: float
    exact_text: str


@dataclass(frozen=True)
class _Steps:
    """below: applies to amounts under this many `unit`; step: in `unit`."""

    below: float
    unit: str
    step: float


_VOLUME_STEPS: Final = (
    _Steps(5.0, "mL", 0.1),
    _Steps(29.5735295625, "mL", 0.5),
    _Steps(32.0, "fl oz", 0.1),
    _Steps(128.0, "fl oz", 0.5),
    _Steps(1280.0, "fl oz", 1.0),
    _Steps(math.inf, "fl oz", 4.0),
)
_WEIGHT_STEPS: Final = (
    _Steps(10.0, "g", 0.1),
    _Steps(28.349523125, "g", 0.5),
    _Steps(16.0, "oz wt", 0.1),
    _Steps(80.0, "oz wt", 0.5),
    _Steps(400.0, "oz wt", 1.0),
    _Steps(math.inf, "oz wt", 4.0),
)
"""Common practice, no source: a syringe or cylinder under an ounce, a quart jug in tenths of a
fluid ounce, gallon jugs, and above ten gallons a meter; a gram scale, a kitchen scale, a platform
scale. From four ounces up a step is at most 3.1 % of the amount, so that the nearest step is at
most 1.6 % off."""

OWN_MEASURE_TIMES: Final = 10
"""A jug whose marks are a tenth of the amount or more is too coarse for it: the nearest mark could
be over 5 % off, and the usual small measures are taken."""

_LARGE_TO_SMALL: Final = {
    "fl oz": (("gal", 128), ("qt", 32), ("fl oz", 1)),
    "oz wt": (("lb", 16), ("oz wt", 1)),
    "mL": (("mL", 1),),
    "g": (("g", 1),),
}
"""Unit of the steps -> units of the text, with how many of the former each is."""


def practical_amount(
    base_value: float,
    base_unit: str,
    most_base: float | None = None,
    smallest: Amount | None = None,
) -> PracticalAmount:
    """An amount of product (gallons or pounds) rounded to what a person can measure.

    Nearest step; but where the nearest is above `most_base` (the most that the label allows), the
    highest step that is not. base_unit: 'gal' or 'lb'. smallest: step of the product's own measure,
    which counts from OWN_MEASURE_TIMES of it on. Raises ValueError for another unit or an amount
    below 0.
    """
    if base_unit not in ("gal", "lb"):
        raise ValueError(f"'{base_unit}' is neither gal nor lb")
    if not base_value >= 0:
        raise ValueError(f"an amount of {base_value} {base_unit}")
    small = "fl oz" if base_unit == "gal" else "oz wt"
    exact_text = _exact_text(base_value, base_unit)
    if base_value == 0:
        return PracticalAmount(f"0 {small}", 0.0, exact_text)
    steps = _steps_for(base_value, base_unit, smallest)
    count = round(convert(base_value, base_unit, steps.unit) / steps.step)
    value = count * steps.step
    if most_base is not None:
        # A whisker of tolerance, or an amount exactly at the limit would lose a whole step.
        limit = convert(most_base, base_unit, steps.unit) * (1 + 1e-9)
        if value > limit:
            value = math.floor(limit / steps.step) * steps.step
    if value <= 0:
        return PracticalAmount(exact_text, base_value, exact_text)
    return PracticalAmount(
        _text(value, steps.unit), convert(value, steps.unit, base_unit), exact_text
    )


def practical_step(base_value: float, base_unit: str, smallest: Amount | None = None) -> float:
    """Gallons or pounds between two neighboring amounts that practical_amount can give."""
    steps = _steps_for(base_value, base_unit, smallest)
    return convert(steps.step, steps.unit, base_unit)


def _steps_for(base_value: float, base_unit: str, smallest: Amount | None) -> _Steps:
    if smallest is not None and base_value >= OWN_MEASURE_TIMES * smallest.base * (1 - 1e-9):
        small = "fl oz" if base_unit == "gal" else "oz wt"
        unit = smallest.unit if smallest.unit in _LARGE_TO_SMALL else small
        return _Steps(math.inf, unit, convert(smallest.base, base_unit, unit))
    table = _VOLUME_STEPS if base_unit == "gal" else _WEIGHT_STEPS
    return next(s for s in table if convert(base_value, base_unit, s.unit) < s.below)


def _text(value: float, unit: str) -> str:
    """A value in the unit of the steps as text, large units first."""
    parts = []
    left = value
    for name, size in _LARGE_TO_SMALL[unit]:
        count = left if size == 1 else float(math.floor(left / size))
        left -= count * size
        if count >= 0.005:
            parts.append(f"{count:.2f}".rstrip("0").removesuffix(".") + f" {name}")
    return " ".join(parts)


def _exact_text(base_value: float, base_unit: str) -> str:
    if base_unit == "gal":
        if base_value >= 1:
            return f"{base_value:.3f} gal"
        return _digits(convert(base_value, "gal", "fl oz")) + " fl oz"
    if base_value >= 1:
        return f"{base_value:.3f} lb"
    return _digits(convert(base_value, "lb", "oz wt")) + " oz wt"


def _digits(value: float) -> str:
    """Two decimals, or four digits that count where that would hide a small amount."""
    return f"{value:.2f}" if value >= 1 or value == 0 else f"{value:.4g}"
