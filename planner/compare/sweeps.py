"""Fleets made out of the present one: `trucks=3..7`, `compartments=1..3`, `gallons=80%,120%`."""

import re
from collections.abc import Iterator
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from planner.compare.fleets import Fleet
from planner.day.fleet import Compartment, Truck
from planner.problems import PlannerError

KINDS: Final = ("trucks", "compartments", "gallons")
MOST_STEPS: Final = 40
GRAMMAR: Final = (
    "trucks=3..7 (so many trucks), compartments=1..3 (so many equal compartments on each truck) or "
    "gallons=80%,120% (each compartment so large); steps are a..b or a,b,c"
)


class SweepError(PlannerError, ValueError):
    """A sweep that cannot be read or made; the message says what to write."""


def swept(text: str, present: Fleet) -> list[Fleet]:
    """The fleets of one sweep. Raises SweepError."""
    kind, _, steps = text.replace(" ", "").partition("=")
    if kind not in KINDS:
        raise SweepError(f"'{text}' is no sweep; write {GRAMMAR}")
    return [_made(kind, number, present) for number in _numbers(text, kind, steps)]


def _numbers(text: str, kind: str, steps: str) -> list[int]:
    number = r"(\d{1,4})%" if kind == "gallons" else r"(\d{1,3})"
    numbers: list[int] = []
    for part in steps.split(","):
        one = re.fullmatch(number, part)
        both = re.fullmatch(rf"{number}\.\.{number}", part)
        if one:
            numbers.append(int(one[1]))
        elif both and kind != "gallons":
            numbers += range(int(both[1]), int(both[2]) + 1)
        else:
            raise SweepError(f"'{part}' in '{text}' cannot be read; write {GRAMMAR}")
    numbers = list(dict.fromkeys(numbers))
    if not numbers or min(numbers) < 1 or len(numbers) > MOST_STEPS:
        raise SweepError(f"'{text}' must have 1 to {MOST_STEPS} steps, each above 0")
    return numbers


def _made(kind: str, number: int, present: Fleet) -> Fleet:
    if kind == "trucks":
        return _with_trucks(number, present)
    name = f"{kind}={number}" + ("%" if kind == "gallons" else "")
    trucks = {}
    for truck_id, truck in present.trucks.items():
        if kind == "compartments":
            trucks[truck_id] = _divided(truck, number, name)
        else:
            trucks[truck_id] = _scaled(truck, number / 100, name)
    kept_as = {name: name for name in trucks}
    return Fleet(name, MappingProxyType(trucks), present.prices, kept_as, refitted=True)


def _with_trucks(number: int, present: Fleet) -> Fleet:
    """The first trucks of the table; beyond them copies of the table's trucks, in turn."""
    own = list(present.trucks.values())
    trucks: dict[str, Truck] = {truck.truck_id: truck for truck in own[:number]}
    prices = {name: row for name, row in present.prices.by_truck.items() if name in trucks}
    kept_as = {name: name for name in trucks}
    for at in range(number - len(own)):
        source = own[at % len(own)]
        name = _free_name(f"{source.truck_id}+{at // len(own) + 1}", {*trucks, *present.trucks})
        # It needs a crew like the other's, and is not in the shop with it.
        trucks[name] = replace(source, truck_id=name, name=f"like {source.title}", out_on=())
        if source.truck_id in present.prices.by_truck:
            prices[name] = present.prices.by_truck[source.truck_id]
    fleet_prices = replace(present.prices, by_truck=prices)
    return Fleet(f"trucks={number}", MappingProxyType(trucks), fleet_prices, kept_as)


def _free_name(name: str, taken: set[str]) -> str:
    while name in taken:
        name += "+"
    return name


def _divided(truck: Truck, number: int, sweep: str) -> Truck:
    """The truck's gallons in so many equal compartments. Those that are reserved for a group stay
    as they are; lines are dealt in turn among those that the divided compartments hung on."""
    whole = [tank for tank in truck.compartments if tank.reserved_for is None]
    if not whole:
        return truck
    others = [tank for tank in truck.compartments if tank.reserved_for is not None]
    gal = sum(tank.capacity_gal for tank in whole)
    heel_gal = sum(tank.heel_gal for tank in whole) / len(whole)
    capacity_gal = float(int(gal / number))
    if capacity_gal <= heel_gal:
        raise SweepError(
            f"{sweep}: truck {truck.truck_id} has {gal:g} gal, too few for {number} compartments "
            f"with a heel of {heel_gal:g} gal each"
        )
    lines = list(dict.fromkeys(tank.line_id for tank in whole))
    names, positions = _names(truck, others), _positions(others)
    made = [
        Compartment(
            compartment_id=next(names),
            capacity_gal=capacity_gal,
            heel_gal=heel_gal,
            line_id=lines[at % len(lines)],
            position=next(positions),
            reserved_for=None,
            last_mix=None,
            leftover_gal=0.0,
            rear_share_percent=_mean_share(whole),
        )
        for at in range(number)
    ]
    tanks = sorted([*made, *others], key=lambda tank: tank.position)
    return replace(truck, compartments=tuple(tanks))


def _names(truck: Truck, others: list[Compartment]) -> Iterator[str]:
    taken = {tank.compartment_id for tank in others}
    at = 0
    while True:
        at += 1
        name = f"{truck.truck_id}-{at}"
        if name not in taken:
            yield name


def _positions(others: list[Compartment]) -> Iterator[int]:
    taken = {tank.position for tank in others}
    at = 0
    while True:
        at += 1
        if at not in taken:
            yield at


def _mean_share(tanks: list[Compartment]) -> float | None:
    """Of the gallons' weight on the rear axle; None when it is not known of each."""
    shares = [tank.rear_share_percent for tank in tanks if tank.rear_share_percent is not None]
    if len(shares) < len(tanks):
        return None
    gal = [tank.capacity_gal for tank in tanks]
    return sum(share * one for share, one in zip(shares, gal, strict=True)) / sum(gal)


def _scaled(truck: Truck, factor: float, sweep: str) -> Truck:
    tanks = []
    for tank in truck.clean.compartments:
        capacity_gal = float(round(tank.capacity_gal * factor))
        if capacity_gal <= tank.heel_gal:
            raise SweepError(
                f"{sweep}: compartment {tank.compartment_id} of truck {truck.truck_id} would hold "
                f"{capacity_gal:g} gal, no more than its heel of {tank.heel_gal:g} gal"
            )
        tanks.append(replace(tank, capacity_gal=capacity_gal))
    return replace(truck, compartments=tuple(tanks))
