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


@cache
def _registry() -> UnitRegistry[Fraction]:
    # Imported here: importing and building it takes most of a second, and many commands
    # (help, columns) never convert anything.
    from pint import UnitRegistry

    # Fractions, so that 1 gal is 128 fl oz and not 127.99999999999999.
    registry: UnitRegistry[Fraction] = UnitRegistry(non_int_type=Fraction)
    # The library's acre is on the survey foot, which was retired at the end of 2022 (85 FR 62698).
    registry.define("acre = 43560 * foot ** 2")
    registry.define("thousand_square_feet = 1000 * foot ** 2")
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
