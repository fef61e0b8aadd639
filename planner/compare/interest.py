"""Money over years at a yearly rate: rates as shares (0.07), payments at the end of each year."""

from __future__ import annotations

import math


def annuity(rate: float, years: float) -> float:
    """What 1 a year is worth today over so many years."""
    return years if rate == 0 else -math.expm1(-years * math.log1p(rate)) / rate


def worth_today(rate: float, years: float, a_year: float, at_the_end: float) -> float:
    """Present value of a yearly sum and of another at the end."""
    return a_year * annuity(rate, years) + at_the_end * math.exp(-years * math.log1p(rate))


def cost_a_year(rate: float, years: float, price: float, resale: float) -> float:
    """Equal yearly payments that pay for something bought at a price and sold after its years."""
    return (price - worth_today(rate, years, 0.0, resale)) / annuity(rate, years)


def payback_years(rate: float, price: float, a_year: float) -> float | None:
    """Years until a yearly sum has paid a price with interest; 0 with nothing to pay and nothing
    lost, None when it never does."""
    if price <= 0:
        return 0.0 if a_year >= 0 else None
    if a_year <= 0 or price * rate >= a_year:
        return None
    return price / a_year if rate == 0 else -math.log1p(-price * rate / a_year) / math.log1p(rate)
