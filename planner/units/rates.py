"""Label rates: '1.5 fl oz/1,000 sq ft', '2 to 4 pints/A', '0.75 lb N per M', '2 % v/v'; their
patterns, and why a text is not a rate, in words that help the person who wrote it."""

import re
from dataclasses import dataclass
from typing import Final

from planner.units.amounts import KNOWN_UNITS_TEXT, refuse_ambiguous
from planner.units.model import NUMBER_PATTERN, Rate, UnitError, number, plain_text
from planner.units.registry import BASE_UNITS, KINDS, base_amount, convert
from planner.units.spellings import (
    AMOUNT_UNIT_PATTERN,
    AREA_UNIT_PATTERN,
    BARE_OUNCE,
    DRY_FORMULATIONS,
    LIQUID_FORMULATIONS,
    canonical,
    is_dry,
    known_unit,
    settle_ounce,
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


STATEMENTS_AGREE_WITHIN: Final = 0.05
"""Two statements of one rate may differ by a label's rounding: published pairs differ by up to
2-3 % (18 fl oz/1000 sq ft beside 6.25 gal/A); more than this is taken for a typing error."""


@dataclass(frozen=True)
class _Per:
    name: str
    basis: str
    size: float
    """Thousands of square feet, or gallons of finished mix."""


def parse_rate(text: str, formulation: str | None = None, per: str | None = None) -> Rate:
    """A label rate as numbers.

    text: as the label writes it; a range gives least and most. formulation: the product's code,
    which decides a bare 'oz' (a code inside the text does too). per: what the rate is for where
    the text leaves it to a table's heading ('1000 sq ft').

    Where a label prints two statements, the one per 1,000 sq ft is kept (the crew measures by it),
    else the first; the others must agree within STATEMENTS_AGREE_WITHIN. 'per gallon of water' is
    taken as per gallon of finished mix, which never gives more product than the label says.
    Raises UnitError.
    """
    plain = plain_text(text)
    refuse_by_name(plain)
    formulation = _formulation(plain, formulation)
    body, carriers = CARRIER.subn(" ", plain)
    statements, rest = _statements(body, text, formulation)
    if not statements and per is not None:
        statements, rest = _statements(_with_heading(body, per), text, formulation)
    if not statements:
        raise diagnosis(body, formulation)
    refuse_leftovers(rest, bool(carriers))
    kept = next((s for s in statements if s.per == "1000 sq ft"), statements[0])
    for other in statements:
        _check_agreement(kept, other)
    return kept


def rate_in(rate: Rate, unit: str, per: str) -> tuple[float, float]:
    """Least and most of a rate in another unit per another area or volume ('acre', '1000 sq ft',
    'gal', '100 gal' ...).

    Raises UnitError UNIT-3 where a weight is asked of a volume, RATE-3 where an area is asked of a
    rate per gallon of mix (crossing needs the carrier) or the other way round.
    """
    wanted = _per(_match_per(f"per {per}"))
    if wanted.basis != rate.basis:
        raise UnitError("RATE-3", f"'{rate.text}' is per {rate.basis}", f"ask per {rate.basis}")
    scale = convert(1.0, BASE_UNITS[rate.kind], unit) * wanted.size
    return rate.least_base * scale, rate.most_base * scale


def _statements(body: str, text: str, formulation: str | None) -> tuple[list[Rate], str]:
    """Every statement in reading order, and the text without them."""
    found: list[tuple[int, Rate]] = []
    for match in STATEMENT.finditer(body):
        found.append((match.start(), _area_or_volume_rate(match, text, formulation)))
    # Blanks of the same length, so that the places of what follows stay true.
    rest = STATEMENT.sub(lambda match: " " * len(match.group(0)), body)
    for match in PERCENT.finditer(rest):
        found.append((match.start(), _percent_rate(match, text)))
    return [rate for _, rate in sorted(found, key=lambda pair: pair[0])], PERCENT.sub(" ", rest)


def _area_or_volume_rate(match: re.Match[str], text: str, formulation: str | None) -> Rate:
    substance = next((name for name in ("N", "ai", "ae") if match.group(name)), "product")
    unit = _unit(match.group("unit"), substance, formulation)
    low_unit = match.group("low_unit")
    if low_unit and _unit(low_unit, substance, formulation) != unit:
        raise UnitError("RATE-5", "the two ends of the range have different units", EXAMPLE)
    least, most = _range(match)
    per = _per(match)
    kind = KINDS[unit]
    if substance != "product" and kind == "volume":
        raise UnitError(
            "RATE-7", f"a volume of {substance} is not a label rate", f"write lb {substance}"
        )
    return Rate(
        text=text.strip(),
        least=least,
        most=most,
        unit=unit,
        kind=kind,
        per=per.name,
        basis=per.basis,
        substance=substance,
        least_base=base_amount(least, unit) / per.size,
        most_base=base_amount(most, unit) / per.size,
    )


def _percent_rate(match: re.Match[str], text: str) -> Rate:
    least, most = _range(match)
    if most > 100:
        raise UnitError("RATE-1", f"{most:g} % is more than the whole mix", EXAMPLE)
    return Rate(
        text=text.strip(),
        least=least,
        most=most,
        unit="%",
        kind="volume",
        per="finished mix",
        basis="finished mix",
        substance="product",
        least_base=least / 100,
        most_base=most / 100,
    )


def _unit(spelling: str, substance: str, formulation: str | None) -> str:
    unit = known_unit(spelling)
    if unit == BARE_OUNCE and substance != "product":
        # Nobody measures N, ai or ae by volume, whatever the product's form.
        return "oz wt"
    return settle_ounce(unit, formulation)


def _range(match: re.Match[str]) -> tuple[float, float]:
    try:
        least = number(match.group("low"))
        most = number(match.group("high")) if match.group("high") else least
    except ValueError as error:
        raise UnitError("RATE-1", str(error), EXAMPLE) from None
    if least > most:
        low, high = match.group("low"), match.group("high")
        raise UnitError(
            "RATE-5",
            f"the range {low}-{high} runs downward",
            f"write the lower end first, or '{low} {high}' for a mixed number",
        )
    if most <= 0 or least <= 0:
        raise UnitError("RATE-1", "a rate of nothing", EXAMPLE)
    return least, most


def _match_per(text: str) -> re.Match[str]:
    match = ONLY_PER.fullmatch(text)
    if match is None:
        raise UnitError("RATE-2", f"'{text}' is not an area or a volume of mix", EXAMPLE)
    return match


def _per(match: re.Match[str]) -> _Per:
    if match.group("thousand") or match.group("bare"):
        return _Per("1000 sq ft", "area", 1.0)
    try:
        count = number(match.group("per_number") or "1")
    except ValueError:
        count = 0.0
    if count <= 0:
        raise UnitError("RATE-2", "a rate per nothing", EXAMPLE)
    prefix = "" if count == 1 else f"{count:g} "
    if match.group("gal"):
        return _Per(f"{prefix}gal", "finished mix", count)
    unit = known_unit(match.group("area"))
    name = f"{count:g} sq ft" if unit == "sq ft" else f"{prefix}{unit}"
    return _Per(name, "area", convert(count, unit, "1000 sq ft"))


def _with_heading(body: str, per: str) -> str:
    """The rate with the heading's area or volume put behind the quantity."""
    _match_per(f"per {per}")
    quantity = re.search(QUANTITY + SUBSTANCE, body)
    if quantity is None:
        return body
    return f"{body[: quantity.end()]} per {per} {body[quantity.end() :]}"


def _formulation(plain: str, given: str | None) -> str | None:
    """The formulation code to decide a bare 'oz' by: the product's, else the one in the text."""
    codes = {match.group("code") for match in FORMULATION.finditer(plain)}
    sides = {is_dry(code) for code in codes if len(code) > 1} | {
        # A single letter counts only behind a strength ('4L'), or it may be a liter or a gram.
        is_dry(code)
        for code in codes
        if len(code) == 1 and re.search(rf"\d{code}(?![A-Za-z])", plain)
    }
    sides.discard(None)
    stated = is_dry(given)
    if stated is not None and sides - {stated}:
        raise UnitError(
            "RATE-8",
            f"the rate names a formulation that contradicts the product's '{given}'",
            "correct the one that is wrong",
        )
    if stated is not None or len(sides) != 1:
        return given
    return next(code for code in sorted(codes) if is_dry(code) in sides)


def _check_agreement(kept: Rate, other: Rate) -> None:
    # '0.5 % to 2 % (2 %)': a note that repeats one end of the range.
    repeats_an_end = (
        other.least == other.most
        and other.most in (kept.least, kept.most)
        and (other.unit, other.per) == (kept.unit, kept.per)
    )
    comparable = (kept.basis, kept.kind, kept.substance) == (
        other.basis,
        other.kind,
        other.substance,
    )
    if repeats_an_end or not comparable:
        return
    for one, two in ((kept.least_base, other.least_base), (kept.most_base, other.most_base)):
        if abs(one - two) > STATEMENTS_AGREE_WITHIN * max(one, two):
            raise UnitError(
                "RATE-6",
                f"its two statements differ by {abs(one - two) / max(one, two):.0%}",
                "keep the one that the label states",
            )
