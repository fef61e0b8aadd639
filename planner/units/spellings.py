"""The closed list of trade spellings, and what a formulation code says about a bare 'oz'."""

import re
from typing import Final

from planner.units.model import UnitError

BARE_OUNCE: Final = "oz"
"""What a plain 'oz' is read as until a formulation decides; never the unit of a result."""

AMOUNT_SPELLINGS: Final = {
    "gal": ("gal", "gals", "gallon", "gallons"),
    "qt": ("qt", "qts", "quart", "quarts"),
    "pt": ("pt", "pts", "pint", "pints"),
    "cup": ("cup", "cups"),
    "fl oz": (
        "fl oz",
        "fl ozs",
        "fl ounce",
        "fl ounces",
        "fluid oz",
        "fluid ozs",
        "fluid ounce",
        "fluid ounces",
        "liquid oz",
        "liquid ounce",
        "liquid ounces",
        "oz fl",
    ),
    "tbsp": ("tbsp", "tbsps", "tbs", "tablespoon", "tablespoons"),
    "tsp": ("tsp", "tsps", "teaspoon", "teaspoons"),
    "mL": ("ml", "mls", "milliliter", "milliliters", "millilitre", "millilitres", "cc"),
    "L": ("l", "liter", "liters", "litre", "litres"),
    "lb": ("lb", "lbs", "pound", "pounds", "#"),
    "oz wt": (
        "oz wt",
        "ozs wt",
        "oz (wt)",
        "oz (wt.)",
        "oz weight",
        "oz by weight",
        "oz dry",
        "oz avdp",
        "wt oz",
        "weight oz",
        "dry oz",
        "dry ozs",
        "dry ounce",
        "dry ounces",
        "dry wt oz",
        "ounce by weight",
        "ounces by weight",
        "ounces dry weight",
    ),
    BARE_OUNCE: ("oz", "ozs", "ounce", "ounces"),
    "g": ("gm", "gms", "gram", "grams"),
    "kg": ("kg", "kgs", "kilogram", "kilograms"),
}
"""Canonical unit -> spellings of amounts, in any case, with or without a period."""

CASED_SPELLINGS: Final = {"T": "tbsp", "t": "tsp", "g": "g"}
"""Spellings whose case carries the meaning. A capital 'G' (gram? gallon?) is in no list."""

AREA_SPELLINGS: Final = {
    "acre": ("acre", "acres", "ac", "a"),
    "sq ft": (
        "sq ft",
        "sq feet",
        "sq foot",
        "square ft",
        "square feet",
        "square foot",
        "ft2",
        "sf",
    ),
    "sq yd": ("sq yd", "sq yds", "square yard", "square yards", "yd2"),
    "hectare": ("ha", "hectare", "hectares"),
    "m2": ("m2", "sq m", "square meter", "square meters", "square metre", "square metres"),
}
"""Canonical unit -> spellings of the area that a rate is for."""

DRY_FORMULATIONS: Final = frozenset(
    (
        "WDG",
        "WG",
        "DG",
        "DF",
        "WP",
        "W",
        "WSP",
        "WSB",
        "SP",
        "SG",
        "SDF",
        "DS",
        "G",
        "GR",
        "P",
        "D",
        "DRY",
        "GRANULE",
        "GRANULAR",
    )
)
"""Formulation codes of products weighed. Published list: CropLife International's codes (GR, SG,
SP, WG, WP) with the older US label codes beside them (WDG, DF, WSP, G, P, D); from memory."""

LIQUID_FORMULATIONS: Final = frozenset(
    (
        "L",
        "LC",
        "F",
        "FL",
        "SC",
        "EC",
        "E",
        "EW",
        "SL",
        "S",
        "SE",
        "ME",
        "MEC",
        "CS",
        "CAP",
        "OD",
        "AS",
        "SN",
        "AL",
        "LIQUID",
        "FLOWABLE",
    )
)
"""Formulation codes of products measured by volume; same sources, from memory."""


def is_dry(formulation: str | None) -> bool | None:
    """Whether a formulation code says dry; None when it does not say ('FERT', 'ADJ', '').

    A strength in front is allowed: '75DF', '2.08 SC'.
    """
    code = re.sub(r"^[\d.\s%]+", "", formulation or "").strip().upper()
    if code in DRY_FORMULATIONS:
        return True
    if code in LIQUID_FORMULATIONS:
        return False
    return None


def _pattern(spelling: str) -> str:
    words = [re.escape(word) for word in spelling.split()]
    return r"\.?\s*".join(words) + r"\.?"


def _alternatives(table: dict[str, tuple[str, ...]], cased: tuple[str, ...]) -> str:
    spellings = sorted((s for known in table.values() for s in known), key=len, reverse=True)
    any_case = "|".join(_pattern(spelling) for spelling in spellings)
    exact = "|".join(rf"{letter}\.?" for letter in cased)
    return rf"(?:(?:(?i:{any_case}){'|' + exact if exact else ''})(?![A-Za-z0-9]))"


AMOUNT_UNIT_PATTERN: Final = _alternatives(AMOUNT_SPELLINGS, tuple(CASED_SPELLINGS))
"""Regular expression of every spelling of an amount."""

AREA_UNIT_PATTERN: Final = _alternatives(AREA_SPELLINGS, ())
"""Regular expression of every spelling of an area."""


def _key(spelling: str) -> str:
    return re.sub(r"[\s.]+", "", spelling)


_CANONICAL: Final = {
    _key(spelling): unit
    for table in (AMOUNT_SPELLINGS, AREA_SPELLINGS)
    for unit, spellings in table.items()
    for spelling in spellings
}


def canonical(spelling: str) -> str | None:
    """Canonical unit of a spelling of the list (BARE_OUNCE for a plain 'oz'), or None."""
    key = _key(spelling)
    if key in CASED_SPELLINGS:
        return CASED_SPELLINGS[key]
    return _CANONICAL.get(key.lower())


def known_unit(spelling: str) -> str:
    """Canonical unit of a spelling that one of the patterns has matched."""
    unit = canonical(spelling)
    assert unit is not None, spelling  # the patterns are built from the same list
    return unit


def settle_ounce(unit: str, formulation: str | None) -> str:
    """The unit with a bare 'oz' decided by the formulation code. Raises UnitError UNIT-2."""
    if unit != BARE_OUNCE:
        return unit
    dry = is_dry(formulation)
    if dry is None:
        raise UnitError(
            "UNIT-2", "'oz' alone can mean a weight or a volume", "write 'oz wt' or 'fl oz'"
        )
    return "oz wt" if dry else "fl oz"
