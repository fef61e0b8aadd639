"""Figures of a comparison in words: money, differences with their spread, dates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.compare.model import Comparison, Paired

NONE_TEXT = "–"
"""Stands where there is no figure."""

MINUS = "−"


def money(value: float, currency: str) -> str:
    """Whole money with a sign in front of the currency: `−$97`."""
    sign = MINUS if round(value) < 0 else ""
    return f"{sign}{currency}{abs(value):,.0f}"


def cents(value: float | None, currency: str) -> str:
    """Money with cents, for prices of one order or of 1,000 sq ft."""
    return NONE_TEXT if value is None else f"{currency}{value:,.2f}"


def number(value: float, places: int = 0) -> str:
    """A figure with that many decimals and a real minus sign, without a negative zero."""
    text = f"{abs(value):,.{places}f}"
    return MINUS + text if value < 0 and float(text.replace(",", "")) else text


def signed(value: float, places: int = 0) -> str:
    """A difference, always with its sign unless it is zero."""
    text = number(value, places)
    return text if text.startswith(MINUS) or not float(text.replace(",", "")) else f"+{text}"


def paired_text(name: str, pair: Paired, currency: str) -> str:
    """A difference with the planner's own spread: `−$97 ± 24`. name: of FIGURES."""
    spread = "spread not measured"
    places = 0 if name == "cost" or name.endswith("_min") else 1
    if pair.spread is not None:
        spread = f"± {number(pair.spread, places)}"
    value = signed(pair.mean, places)
    if name == "cost":
        value = value[:1] + currency + value[1:] if value[0] in f"+{MINUS}" else currency + value
    return f"{value} {spread}"


def short_date(day: str) -> str:
    """A day of the comparison as `Mar 22`."""
    when = date.fromisoformat(day)
    return f"{when:%b} {when.day}"


def span_text(dates: Sequence[str]) -> str:
    """The first and the last day and how many there are."""
    if not dates:
        return "no day"
    first, last = (date.fromisoformat(day) for day in (dates[0], dates[-1]))
    days = f"{len(dates)} day" + ("s" if len(dates) != 1 else "")
    if first == last:
        return f"{days}, {first:%b} {first.day}, {first.year}"
    year = "" if first.year == last.year else f", {first.year}"
    return f"{days}, {first:%b} {first.day}{year} to {last:%b} {last.day}, {last.year}"


def sentence(words: str) -> str:
    """The words with a capital at the start and a full stop at the end."""
    text = words.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def years_text(value: float | None) -> str:
    """Years to a tenth; 0 means that there is nothing to pay back."""
    if value is None:
        return NONE_TEXT
    return "at once" if value == 0 else f"{number(value, 1)} years"


def spread_words(comparison: Comparison) -> str:
    """What a tie means on this page."""
    spread = comparison.spread
    if spread is None:
        return (
            "Solver variation was not measured, so small differences may be chance: the page "
            "cannot say which of them are ties."
        )
    deviation = spread.standard_deviation.get("cost")
    cost = (
        ""
        if deviation is None
        else f" (standard deviation of one plan's cost {money(deviation, comparison.currency)})"
    )
    return (
        f"Tie: the difference is not larger than the planner's own spread, found by planning "
        f"{len(spread.sample)} of the days with {len(spread.seeds)} seeds each{cost}. Weather and "
        f"customers of other years are not in it."
    )
