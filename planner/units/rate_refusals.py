"""Why a text is not a rate, in words that help the person who wrote it."""

from __future__ import annotations

import re
from typing import Final

from planner.units.amounts import KNOWN_UNITS_TEXT, refuse_ambiguous
from planner.units.model import UnitError
from planner.units.numbers import NUMBER_PATTERN
from planner.units.rate_patterns import FILLER, FORMULATION, NOTE, ONLY_PER, QUANTITY, YEARLY
from planner.units.spellings import canonical, known_unit, settle_ounce

EXAMPLE: Final = "write it like '1.5 fl oz/1000 sq ft', '4 pt/A', '2 lb/100 gal' or '2 % v/v'"
"""The cure where nothing better is known."""

LONGEST_RATE: Final = 300
"""Characters. The longest rate sentence seen on a label has about 100; a pasted page is refused
before the search for statements gets slow."""


def refuse_by_name(plain: str) -> None:
    """Refusals that deserve their own words."""
    if not plain:
        raise UnitError("RATE-1", "there is no rate", EXAMPLE)
    if len(plain) > LONGEST_RATE:
        raise UnitError("RATE-1", "the text is too long for a rate", EXAMPLE)
    refuse_ambiguous(plain)
    comma = re.search(r"\d+,\d+", plain)
    if comma:
        raise UnitError("RATE-1", f"'{comma.group(0)}' has a comma", "write a decimal point")
    if re.search(r"(?i)\bw\s?/\s?[wv]\b|wt\.?\s?/\s?wt|%\s*(?:solution\s+)?by\s+weight", plain):
        raise UnitError(
            "RATE-4", "a percentage by weight is not one by volume", "write '% v/v' or lb/100 gal"
        )
    if re.search(r"(?i)\bP2\s?O5\b|\bK2\s?O\b|\bphosph\w+|\bpotash\b|\blbs?\.?\s+[PK]\b", plain):
        raise UnitError(
            "RATE-7", "rates of phosphate or potash are not supported", "write lb of product"
        )
    things = r"mounds?|trees?|plants?|shrubs?|holes?|nests?|stations?|inch(?:es)?|stumps?|cuts?"
    thing = re.search(rf"(?i)(?:/|\b(?:per|each|a)\b)\s*(?P<thing>{things})\b", plain)
    if thing:
        raise UnitError(
            "RATE-3",
            f"a rate per {thing.group('thing')} cannot be planned by lawn area",
            "leave it off the plan, or write the rate per 1000 sq ft or per gallon of mix",
        )


def refuse_leftovers(rest: str, had_carrier: bool) -> None:
    """Raises UnitError RATE-1 where words remain that the planner did not understand."""
    if had_carrier:
        rest = ONLY_PER.sub(" ", rest)
    for known in (NOTE, YEARLY, FORMULATION, FILLER):
        rest = known.sub(" ", rest)
    rest = re.sub(r"[\s,;:=().]+", " ", rest).strip()
    if rest:
        raise UnitError("RATE-1", f"'{rest}' is not understood in a rate", EXAMPLE)


def diagnosis(body: str, formulation: str | None) -> UnitError:
    """Why a text without any statement is not a rate."""
    word = re.search(rf"{NUMBER_PATTERN}\s*(?P<word>[A-Za-z#][A-Za-z0-9.]*)", body)
    quantity = re.search(QUANTITY, body)
    if quantity is None and word and canonical(word.group("word")) is None:
        spelling = word.group("word")
        return UnitError("UNIT-1", f"unit '{spelling}' is not known", f"use {KNOWN_UNITS_TEXT}")
    if quantity is None:
        return UnitError("RATE-1", f"'{body}' is not a rate", EXAMPLE)
    try:
        settle_ounce(known_unit(quantity.group("unit")), formulation)
    except UnitError as error:
        return error
    behind = body[quantity.end() :]
    known_per = ONLY_PER.search(behind)
    if known_per:
        between = behind[: known_per.start()].strip()
        return UnitError("RATE-1", f"'{between}' is not understood in a rate", EXAMPLE)
    per = re.search(r"(?:/|(?i:\bper\b))\s*(?P<what>[^,;()]+)", behind)
    if per:
        return UnitError(
            "RATE-3", f"a rate per '{per.group('what').strip()}' is not known", EXAMPLE
        )
    return UnitError("RATE-2", "the rate does not say per what area or volume", EXAMPLE)
