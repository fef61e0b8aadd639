"""Sizes of units, from one shared registry (the only import of pint), and amounts as a person
measures them: steps of jugs, cylinders and scales."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Final

from planner.units.model import UnitError

if TYPE_CHECKING:
    from pint import UnitRegistry
import math
from dataclasses import dataclass

from planner.units.model import Amount

_UNITS: Final = {
    "gal": ("volume", "gallon"),
    "qt": ("volume", "quart"),
    "pt": ("volume", "pint"),
    "cup": ("volume", "cup"),
    "fl oz": ("volume", "fluid_ounce"),
    "tbsp": ("volume", "tablespoon"),
    "tsp": ("volume", "teaspoon"),
    "mL": ("volume", "milliliter"),
    "L": ("volume", "liter"),
    "in3": ("volume", "inch ** 3"),
    "ft3": ("volume", "foot ** 3"),
    "lb": ("mass", "pound"),
    "oz wt": ("mass", "ounce"),
    "g": ("mass", "gram"),
    "kg": ("mass", "kilogram"),
    "sq ft": ("area", "foot ** 2"),
    "1000 sq ft": ("area", "thousand_square_feet"),
    "sq yd": ("area", "yard ** 2"),
    "acre": ("area", "acre"),
    "hectare": ("area", "hectare"),
    "m2": ("area", "meter ** 2"),
    "sq mi": ("area", "mile ** 2"),
    "in": ("length", "inch"),
    "ft": ("length", "foot"),
    "mi": ("length", "mile"),
    "nautical mi": ("length", "nautical_mile"),
    "m": ("length", "meter"),
    "s": ("time", "second"),
    "min": ("time", "minute"),
    "h": ("time", "hour"),
    "mph": ("speed", "mile / hour"),
    "ft/min": ("speed", "foot / minute"),
    "ft/s": ("speed", "foot / second"),
}
"""Canonical spelling -> kind, and what the registry calls it. A unit that is not here does not
exist for the planner."""

KINDS: Final = {unit: kind for unit, (kind, _) in _UNITS.items()}

BASE_UNITS: Final = {"volume": "gal", "mass": "lb", "area": "sq ft"}
"""Kind -> the unit that the planner computes in."""


_DEFINITIONS: Final = """
meter = [length]
gram = [mass]
second = [time]
inch = 0.0254 * meter
foot = 12 * inch
yard = 3 * foot
mile = 5280 * foot
nautical_mile = 1852 * meter
acre = 43560 * foot ** 2
thousand_square_feet = 1000 * foot ** 2
hectare = 10000 * meter ** 2
gallon = 231 * inch ** 3
quart = gallon / 4
pint = gallon / 8
cup = gallon / 16
fluid_ounce = gallon / 128
tablespoon = gallon / 256
teaspoon = gallon / 768
liter = 0.001 * meter ** 3
milliliter = 0.001 * liter
pound = 453.59237 * gram
ounce = pound / 16
kilogram = 1000 * gram
minute = 60 * second
hour = 60 * minute
"""
"""Exact, as NIST Handbook 44, Appendix C, defines them; the acre is on the international foot (the
survey foot was retired at the end of 2022, 85 FR 62698). The library's own thousand units take most
of a second to read."""


@cache
def _registry() -> UnitRegistry[Fraction]:
    # Imported here: many commands (help, columns) never convert anything.
    from pint import UnitRegistry

    # Fractions, so that 1 gal is 128 fl oz and not 127.99999999999999.
    registry: UnitRegistry[Fraction] = UnitRegistry(None, non_int_type=Fraction)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry


@cache
def factor(from_unit: str, to_unit: str) -> float:
    """How many `to_unit` one `from_unit` is; both canonical (keys of KINDS).

    Raises UnitError UNIT-1 for an unknown unit, UNIT-3 when the kinds differ (a weight is not a
    volume: crossing needs a product's density).
    """
    for unit in (from_unit, to_unit):
        if unit not in KINDS:
            raise UnitError("UNIT-1", f"unit '{unit}' is not known", "use " + ", ".join(KINDS))
    if KINDS[from_unit] != KINDS[to_unit]:
        raise UnitError(
            "UNIT-3",
            f"'{from_unit}' is a {KINDS[from_unit]}, '{to_unit}' is a {KINDS[to_unit]}",
            "state both in units of one kind",
        )
    one = _registry().Quantity(Fraction(1), _UNITS[from_unit][1])
    return float(one.to(_UNITS[to_unit][1]).magnitude)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """A value in another unit of the same kind; units are canonical. Raises as `factor` does."""
    return value * factor(from_unit, to_unit)


def base_amount(value: float, unit: str) -> float:
    """Gallons of a volume, pounds of a weight. Raises UnitError UNIT-1; UNIT-3 = neither."""
    kind = KINDS.get(unit)
    if kind is None:
        raise UnitError("UNIT-1", f"unit '{unit}' is not known", "use " + ", ".join(KINDS))
    if kind not in ("volume", "mass"):
        raise UnitError("UNIT-3", f"'{unit}' is a {kind}", "use a volume or a weight")
    return convert(value, unit, BASE_UNITS[kind])


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
