"""Labels of the refill programme (planner/routing/exact/refills.py): where a partial day stands."""

from __future__ import annotations

from dataclasses import dataclass

from planner.routing.exact.route_cost import LUNCH, TruckDay


@dataclass(slots=True)
class Label:
    """at: orders before it; site: row, -1 = departure; clock: after set-up, before pouring;
    paid: money and wishes so far; refills: how many so far; promised: per mix the count of its
    orders up to which it lasts, -1 = it is filled here; lunch_at: order of the leg before which
    lunch was had."""

    at: int
    site: int
    clock: float
    miles: float
    lunched: bool
    levels: list[float]
    promised: tuple[int, ...]
    parent: Label | None
    lunch_at: int
    paid: float
    refills: int


@dataclass(slots=True)
class Leg:
    """From a refill through its orders. plain, late: clocks without and with lunch in the leg;
    lunch_at: before which order; here: place of the last order (or of the refill); levels: after
    its draws."""

    plain: float
    late: float
    lunch_at: int
    miles: float
    here: int
    levels: list[float]


def surely_as_good(day: TruckDay, one: Label, other: Label, *, exact: bool) -> bool:
    """Whether `one` can do all that `other` can, at no more money. exact: a proof,
    else what is left over may round differently in fills to come."""
    if one.clock > other.clock or one.paid > other.paid:
        return False
    tanks = day.tanks
    if exact and tanks.weight_binds and one.levels != other.levels:
        # Gallons left over weigh, and may crowd out what another mix needs.
        return False
    lacking = sum(
        max(0.0, theirs - mine) for mine, theirs in zip(one.levels, other.levels, strict=True)
    )
    if exact and one.levels != other.levels:
        # Rounding and margins of the fills to come may differ by this much in all.
        lacking += len(one.levels) + (tanks.margin - 1.0) * sum(tanks.usable_gal)
    if lacking <= 0.0:
        return True
    minutes = lacking / min(stop[2] for stop in day.sites)
    # Overtime and the price of long days make a minute dearer than paid says.
    truck = day.truck
    dearest = truck.pay_per_min + truck.overtime_pay_per_min
    dearest += 2.0 * day.wishes.per_squared_min * (truck.latest_return_min - truck.shift_start_min)
    money = minutes * dearest
    return one.clock + minutes <= other.clock and one.paid + money <= other.paid


def stop_order(day: TruckDay, sequence: list[int], last: Label, lunch_at: int) -> list[int]:
    """The stop order that ends with this label's leg."""
    chain: list[tuple[Label, int]] = []
    label: Label | None = last
    while label is not None:
        chain.append((label, lunch_at))
        lunch_at = label.lunch_at
        label = label.parent
    chain.reverse()
    stops: list[int] = []
    for place, (label_here, lunch) in enumerate(chain):
        until = chain[place + 1][0].at if place + 1 < len(chain) else len(sequence)
        if label_here.site >= 0:
            stops.append(day.orders + label_here.site)
        for at in range(label_here.at, until):
            if lunch == at:
                stops.append(LUNCH)
            stops.append(sequence[at])
        if lunch == until:
            stops.append(LUNCH)
    return stops
