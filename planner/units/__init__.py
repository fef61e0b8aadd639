"""Trade spellings of units <-> base units (gal, lb, ft2), and back to text for people."""

from planner.units.amounts import parse_amount, parse_unit, split_area
from planner.units.model import ACRE_FT2, Amount, Rate, UnitError
from planner.units.rates import parse_rate, rate_in
from planner.units.registry import (
    KINDS,
    PracticalAmount,
    base_amount,
    convert,
    practical_amount,
    practical_step,
)
from planner.units.spellings import is_dry

__all__ = [
    "ACRE_FT2",
    "KINDS",
    "Amount",
    "PracticalAmount",
    "Rate",
    "UnitError",
    "base_amount",
    "convert",
    "is_dry",
    "parse_amount",
    "parse_rate",
    "parse_unit",
    "practical_amount",
    "practical_step",
    "rate_in",
    "split_area",
]
