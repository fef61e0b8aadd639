"""Regular expressions of what stands in a label rate, built from the closed list of spellings."""

from __future__ import annotations

import re
from typing import Final

from planner.units.numbers import NUMBER_PATTERN
from planner.units.spellings import (
    AMOUNT_UNIT_PATTERN,
    AREA_UNIT_PATTERN,
    DRY_FORMULATIONS,
    LIQUID_FORMULATIONS,
)

_GALLONS: Final = r"(?i:gallons?|gals?\.?)(?![A-Za-z])"
_OF_MIX: Final = (
    r"(?:\s+(?i:of\s+)?(?i:finished\s+|total\s+)?(?i:spray|mix|mixture|solution|water|carrier)\b)*"
)
SUBSTANCE: Final = (
    r"(?:\s*(?i:of\s+)?(?i:actual\s+)?(?:"
    r"(?P<N>N|(?i:nitrogen))|(?P<ai>(?i:a\.?\s?i|active\s+ingredient|active))"
    r"|(?P<ae>(?i:a\.?\s?e|acid\s+equivalent))|(?i:product|prod|formulation))"
    r"(?![A-Za-z0-9])\.?)?"
)
"""What the amount is of: N, ai, ae, or (no group) product."""

# '4-6 T. of 4 lb./gal. per 1000 sq ft': the strength of the product stands inside the rate.
_STRENGTH: Final = (
    rf"(?:\s*(?i:of)\s+(?:a\s+)?{NUMBER_PATTERN}"
    rf"\s*(?i:lbs?)\.?\s*(?:(?i:ai|ae)\s*)?/\s*{_GALLONS})?"
)
_PER: Final = (
    rf"\s*\(?\s*(?:/|\b(?i:per|for\s+each|each|for\s+every)\b)\s*"
    rf"(?:(?P<thousand>1?\s?M(?![A-Za-z0-9]))"
    rf"|(?P<per_number>{NUMBER_PATTERN})?\s*"
    rf"(?:(?P<area>{AREA_UNIT_PATTERN})|(?P<gal>{_GALLONS}){_OF_MIX})"
    # Trade shorthand: nothing but 1,000 square feet is written as a bare 1000.
    rf"|(?P<bare>1000)(?![\d.])(?!\s*[A-Za-z]))"
)
QUANTITY: Final = (
    rf"(?<![\d./])(?P<low>{NUMBER_PATTERN})\s*(?P<low_unit>{AMOUNT_UNIT_PATTERN})?"
    rf"(?:\s*(?:-|(?i:to)\b)\s*(?P<high>{NUMBER_PATTERN}))?\s*(?P<unit>{AMOUNT_UNIT_PATTERN})"
)
"""A number or a range with its unit."""

STATEMENT: Final = re.compile(QUANTITY + SUBSTANCE + _STRENGTH + r"(?:\s*\([^()]*\))?" + _PER)
"""A quantity per an area or per a volume of mix."""

PERCENT: Final = re.compile(
    rf"(?<![\d./])(?P<low>{NUMBER_PATTERN})\s*(?:%|(?i:percent))?"
    rf"(?:\s*(?:-|(?i:to)\b)\s*(?P<high>{NUMBER_PATTERN}))?\s*(?:%|(?i:percent)\b)"
    r"(?:\s*\(?\s*(?i:v\s?/\s?v|vol\.?\s?/\s?vol\.?|by\s+volume)\)?)?"
)
"""A percentage of the finished mix by volume."""

ONLY_PER: Final = re.compile(_PER)
"""An area or a volume of mix alone."""

CARRIER: Final = re.compile(
    rf"(?i:\b(?:applied\s+)?(?:in|with|using)\s+(?:at\s+least\s+|up\s+to\s+|a\s+minimum\s+of\s+)?)"
    rf"{NUMBER_PATTERN}(?:\s*(?:-|(?i:to)\b)\s*{NUMBER_PATTERN})?\s*{_GALLONS}{_OF_MIX}"
)
"""The carrier inside a rate ('in 1 to 2 gallons of finished spray'); no part of the rate."""

FORMULATION: Final = re.compile(
    r"(?<![A-Za-z/])(?:\d+(?:\.\d+)?\s*)?(?P<code>"
    + "|".join(sorted(DRY_FORMULATIONS | LIQUID_FORMULATIONS, key=len, reverse=True))
    + r")(?![A-Za-z/])"
)
"""A formulation code, with or without its strength ('50WP')."""

YEARLY: Final = re.compile(
    r"(?i)(?:/|\b(?:per|a|each)\b)\s*(?:years?|yr|season|application|app)\b\.?"
)
"""How often the rate counts; the column of the table says that already."""

FILLER: Final = re.compile(
    r"(?i)\b(?:or|and|of|product|formulation|concentration|solution|finished|spray|mix|low|high|end"
    r"|rate|broadcast|annually|applied|dry|liquid|turf|turfgrass|lawn)\b"
)
"""Words that a rate may hold without a meaning for it."""

NOTE: Final = re.compile(r"\([^()]*\)")
"""A remark in parentheses."""
