"""What a fleet costs in a year, and whether changing over to it pays, against the present fleet.

Interest counts at the rate that the owner states, as a share (0.07), on payments at the end of each
year; tax and inflation do not.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planner.compare.fleets import Fleet, TruckPrices
from planner.compare.model import Difference, Money, Stat, TruckMoney

NOTHING_TOLD: Final = TruckPrices()
USUAL_INTEREST_PERCENT: Final = 7.0
"""Where fleet.toml states none; the base case of OMB Circular A-94 of 1992 (from memory)."""


@dataclass(frozen=True)
class Running:
    """What is known of a fleet's days. cost: of the present fleet's days; late_cost: what being
    late counts for on them, a day; against: the fleet against the present one, None = it is the
    present one."""

    cost: Stat | None
    against: Difference | None
    late_cost: float = 0.0


def money_of(fleet: Fleet, present: Fleet, running: Running) -> Money:
    """The fleet's money in a year. Working days and interest are those of the present fleet."""
    told = present.prices.interest_percent
    percent = USUAL_INTEREST_PERCENT if told is None else told
    trucks = tuple(truck_money(fleet, percent / 100))
    money = replace(
        _change(fleet, present, trucks),
        working_days=present.prices.working_days or 0.0,
        interest_percent=percent,
        yearly_ownership=_sum(row.yearly_ownership for row in trucks),
        why_not="; ".join(_missing(fleet, present, running)),
    )
    paired = None if running.against is None else running.against.figures.get("cost")
    if running.cost is None or (running.against is not None and paired is None):
        return money
    more_a_day = (running.against and running.against.more_a_day) or 0.0
    days = money.working_days
    if days:
        base = (running.cost.mean + running.late_cost + more_a_day) * days
        money = replace(money, yearly_running=base, yearly=_plus(base, money.yearly_ownership))
    if paired is None:
        return replace(money, gain=0.0)
    scatter = None if paired.spread is None else paired.spread * (days or 1)
    if not days:
        gain = -more_a_day if money.to_buy == 0 else None
        return replace(money, scatter=scatter, gain=gain)
    fixed = _fixed(present) - _fixed(fleet)
    money = replace(money, scatter=scatter, yearly_saving=fixed - more_a_day * days)
    return _paid_back(money, fixed, more_a_day)


def _paid_back(money: Money, fixed: float, more_a_day: float) -> Money:
    """With what the saving makes of the price. fixed: saved a year whatever the days."""
    saving, life = money.yearly_saving, money.life_years
    assert saving is not None
    rate = money.interest_percent / 100
    if life is not None:
        most = worth_today(rate, life, saving, money.resale)
        money = replace(money, break_even_purchase=most)
    if money.to_buy is None:
        return money
    needed = 0.0 if life is None else cost_a_year(rate, life, money.to_buy, money.resale)
    own = money.scatter or 0.0
    days = (fixed - needed) / more_a_day if more_a_day else 0.0

    def years(saved: float) -> float | None:
        found = payback_years(rate, money.to_buy or 0.0, saved)
        if life is None or (found is not None and found <= life):
            return found
        # What the trucks fetch at their end pays the rest.
        return life if saved >= needed else found

    return replace(
        money,
        gain=saving - needed,
        payback_years=years(saving),
        payback_low_years=years(saving + own),
        payback_high_years=years(saving - own),
        break_even_days=days if days > 0 else None,
    )


def truck_money(fleet: Fleet, rate: float) -> Iterator[TruckMoney]:
    """Each truck of a fleet. One that the present fleet has keeps its price in the yearly
    ownership, because it wears out all the same, but is not bought."""
    for truck_id in fleet.trucks:
        told = fleet.prices.by_truck.get(truck_id, NOTHING_TOLD)
        yearly = None
        if told.purchase is not None and told.life_years is not None:
            yearly = told.yearly_fixed + cost_a_year(
                rate, told.life_years, told.purchase, told.resale
            )
        yield TruckMoney(
            truck_id=truck_id,
            kept=truck_id in fleet.kept_as,
            purchase=told.purchase,
            yearly_fixed=told.yearly_fixed,
            resale=told.resale,
            life_years=told.life_years or 0.0,
            sells_for=told.sells_for,
            yearly_ownership=yearly,
        )


def _change(fleet: Fleet, present: Fleet, trucks: tuple[TruckMoney, ...]) -> Money:
    """What changing over costs at once, what is left of it at the end, and when that is: bought
    trucks come, present trucks that the fleet does without go for what they fetch now."""
    stay = set(fleet.kept_as.values())
    told = present.prices.by_truck
    go = [told.get(name, NOTHING_TOLD) for name in present.trucks if name not in stay]
    bought = [row for row in trucks if not row.kept]
    if fleet.refitted:
        prices = [fleet.prices.by_truck.get(row.truck_id, NOTHING_TOLD).refit for row in trucks]
        return Money(trucks, to_buy=_sum(prices), life_years=_mean_life(trucks))
    price = _sum(row.purchase for row in bought)
    return Money(
        trucks,
        to_buy=None if price is None else price - sum(row.sells_for for row in go),
        resale=sum(row.resale for row in bought) - sum(row.resale for row in go),
        life_years=_mean_life(bought or go),
    )


def _mean_life(rows: Sequence[TruckMoney | TruckPrices]) -> float | None:
    """Weighed by price."""
    lives = [(row.life_years, row.purchase or 1.0) for row in rows if row.life_years]
    whole = sum(price for _, price in lives)
    return sum(life * price for life, price in lives) / whole if lives else None


def _fixed(fleet: Fleet) -> float:
    """Insurance, registration and the like of all its trucks."""
    told = fleet.prices.by_truck
    return sum(told.get(name, NOTHING_TOLD).yearly_fixed for name in fleet.trucks)


def _missing(fleet: Fleet, present: Fleet, running: Running) -> Iterator[str]:
    """What a place needs and is not told."""
    told = fleet.prices.by_truck
    if fleet.refitted:
        if any(told.get(name, NOTHING_TOLD).refit is None for name in fleet.trucks):
            yield f"there is no refit price in the fleet.toml of {present.name}"
    else:
        unpriced = [
            name
            for name in fleet.trucks
            if name not in fleet.kept_as and told.get(name, NOTHING_TOLD).purchase is None
        ]
        if unpriced and fleet.name != present.name:
            yield f"there is no purchase price for {', '.join(unpriced)} in its fleet.toml"
    changes = fleet.refitted or any(name not in fleet.kept_as for name in fleet.trucks)
    if changes and present.prices.working_days is None and fleet.name != present.name:
        yield f"working_days is missing in the fleet.toml of {present.name}"
    if running.cost is None:
        yield f"no day could be planned with {present.name}"
    if running.against is not None and not running.against.dates:
        yield f"{fleet.name} and {present.name} do the same orders on no day"


def _sum(numbers: Iterable[float | None]) -> float | None:
    told = list(numbers)
    return None if None in told else sum(number or 0.0 for number in told)


def _plus(one: float, other: float | None) -> float | None:
    return None if other is None else one + other


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
