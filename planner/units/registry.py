"""Sizes of units, from one shared registry; the only import of pint."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Final

from planner.units.model import UnitError

if TYPE_CHECKING:
    from pint import UnitRegistry

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
