"""What a fleet costs in a year, and when buying it pays, against the present fleet.

No interest, tax or inflation: an owner reads these figures beside an offer, and adds what the bank
asks. The price of a truck is spread evenly over its years (straight line).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planner.compare.fleets import Fleet
from planner.compare.model import Difference, Money, Stat, TruckMoney
from planner.compare.prices import TruckPrices

NOTHING_TOLD: Final = TruckPrices()


@dataclass(frozen=True)
class Running:
    """What is known of a fleet's days. cost: of the present fleet's days; against: the fleet
    against the present one, None = it is the present one."""

    cost: Stat | None
    against: Difference | None


def money_of(fleet: Fleet, present: Fleet, running: Running) -> Money:
    """The fleet's money in a year. The working days are those of the present fleet's prices."""
    days = present.prices.working_days
    trucks = tuple(truck_money(fleet))
    ownership = _sum(row.yearly_ownership for row in trucks)
    missing = list(_missing(fleet, present, running, trucks))
    empty = Money(
        trucks=trucks,
        working_days=days or 0.0,
        yearly_running=None,
        yearly_ownership=ownership,
        yearly=None,
        to_buy=to_buy(fleet, present),
        yearly_saving=None,
        payback_years=None,
        payback_low_years=None,
        payback_high_years=None,
        break_even_purchase=None,
        break_even_days=None,
        why_not="; ".join(missing),
    )
    if days is None or running.cost is None:
        return empty
    return _of_a_year(empty, fleet, present, running)


def _of_a_year(money: Money, fleet: Fleet, present: Fleet, running: Running) -> Money:
    assert running.cost is not None
    days = money.working_days
    base = running.cost.mean * days
    if running.against is None:
        return replace(money, yearly_running=base, yearly=_plus(base, money.yearly_ownership))
    paired = running.against.figures.get("cost")
    if paired is None:
        return money
    yearly_running = base + paired.mean * days
    fixed = yearly_fixed(present) - yearly_fixed(fleet)
    saving = fixed - paired.mean * days
    own = days * (paired.spread or 0.0)
    present_ownership = _sum(row.yearly_ownership for row in truck_money(present))
    return replace(
        money,
        yearly_running=yearly_running,
        yearly=_plus(yearly_running, money.yearly_ownership),
        yearly_saving=saving,
        payback_years=payback_years(money.to_buy, saving),
        payback_low_years=payback_years(money.to_buy, saving + own),
        payback_high_years=payback_years(money.to_buy, saving - own),
        break_even_purchase=_break_even_purchase(fleet, saving),
        break_even_days=_break_even_days(money.yearly_ownership, present_ownership, paired.mean),
    )


def truck_money(fleet: Fleet) -> Iterator[TruckMoney]:
    """Each truck of a fleet. One that the present fleet has keeps its price in the yearly
    ownership, because it wears out all the same, but is not bought."""
    for truck_id in fleet.trucks:
        told = fleet.prices.by_truck.get(truck_id, NOTHING_TOLD)
        yearly = None
        if told.purchase is not None and told.life_years is not None:
            yearly = told.yearly_fixed + (told.purchase - told.resale) / told.life_years
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


def to_buy(fleet: Fleet, present: Fleet) -> float | None:
    """Price of the trucks that are bought, less what the present trucks that go fetch."""
    bought = _sum(row.purchase for row in truck_money(fleet) if not row.kept)
    if bought is None:
        return None
    stay = set(fleet.kept_as.values())
    prices = present.prices.by_truck
    go = sum(
        prices.get(name, NOTHING_TOLD).sells_for for name in present.trucks if name not in stay
    )
    return bought - go


def yearly_fixed(fleet: Fleet) -> float:
    """Insurance, registration and the like of all its trucks."""
    told: Mapping[str, TruckPrices] = fleet.prices.by_truck
    return sum(told.get(name, NOTHING_TOLD).yearly_fixed for name in fleet.trucks)


def payback_years(to_buy: float | None, yearly_saving: float) -> float | None:
    """Years until the saving has paid for it: 0 when nothing is to pay and nothing is lost, None
    when it never does or the price is not known."""
    if to_buy is None:
        return None
    if to_buy <= 0:
        return 0.0 if yearly_saving >= 0 else None
    return to_buy / yearly_saving if yearly_saving > 0 else None


def _break_even_purchase(fleet: Fleet, yearly_saving: float) -> float | None:
    """The saving of all its years and what is left at their end. Bought trucks count; where none
    is bought (refitted ones) the fleet's."""
    rows = [row for row in truck_money(fleet) if row.life_years > 0]
    bought = [row for row in rows if not row.kept]
    lives = [row.life_years for row in bought or rows]
    if not lives:
        return None
    return yearly_saving * sum(lives) / len(lives) + sum(row.resale for row in bought)


def _break_even_days(
    ownership: float | None, present: float | None, cost_a_day_more: float
) -> float | None:
    if ownership is None or present is None:
        return None
    dearer = ownership - present
    # A fleet that costs more to own must save by the day, and the other way round.
    if dearer * cost_a_day_more >= 0:
        return None
    return -dearer / cost_a_day_more


def _missing(
    fleet: Fleet, present: Fleet, running: Running, trucks: Sequence[TruckMoney]
) -> Iterator[str]:
    if present.prices.working_days is None:
        yield f"working_days is missing in the fleet.toml of {present.name}"
    unpriced = [row.truck_id for row in trucks if row.purchase is None]
    if unpriced:
        names = ", ".join(unpriced)
        yield f"there is no purchase price for {names} in the fleet.toml of {fleet.name}"
    if running.cost is None:
        yield f"no day could be planned with {present.name}"
    if running.against is not None and not running.against.dates:
        yield f"{fleet.name} and {present.name} do the same orders on no day"


def _sum(numbers: Iterable[float | None]) -> float | None:
    total = 0.0
    for number in numbers:
        if number is None:
            return None
        total += number
    return total


def _plus(one: float, other: float | None) -> float | None:
    return None if other is None else one + other
