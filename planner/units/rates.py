"""Label rates: '1.5 fl oz/1,000 sq ft', '2 to 4 pints/A', '0.75 lb N per M', '2 % v/v'."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from planner.units.model import Rate, UnitError
from planner.units.numbers import number, plain_text
from planner.units.rate_patterns import (
    CARRIER,
    FORMULATION,
    ONLY_PER,
    PERCENT,
    QUANTITY,
    STATEMENT,
    SUBSTANCE,
)
from planner.units.rate_refusals import EXAMPLE, diagnosis, refuse_by_name, refuse_leftovers
from planner.units.registry import BASE_UNITS, KINDS, base_amount, convert
from planner.units.spellings import BARE_OUNCE, is_dry, known_unit, settle_ounce

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
