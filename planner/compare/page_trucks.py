"""What the page shows of the trucks: loaded weight against its limits, fill of compartments, and
the published thresholds that they reach."""

from collections.abc import Sequence
from dataclasses import dataclass

from planner.compare.model import FleetResult, TankResult, TruckResult
from planner.compare.verdict import number, short_date
from planner.compliance.thresholds import weight_class
from planner.problems import counted
from planner.rules.data import truck_rules

WEIGHT_WIDTH = 150.0
"""Drawn width of the heaviest rating of the charted fleets."""

TANK_WIDTH = 120.0
"""Drawn width of their largest compartment."""

TIERS = ("commercial motor vehicle", "license group B")
"""Published weights that are drawn across the bars, by their names in the table of truck rules."""


PLAIN_WORDS = {
    "commercial motor vehicle": "Commercial motor vehicle: {figure} lb or more",
    "license group B": "Commercial driver's license, group B: {figure} lb or more",
    "tank vehicle": "Tank vehicle, endorsement N: tanks over {figure} gal that hold {second} gal "
    "or more together, on a truck that needs that license",
    "materials of trade, packages": "A compartment of more than {figure} gal: too large for the "
    "exception for dilute Class 9, if a mix is Class 9 at all",
}
"""What a threshold asks, in fewer words than the table of truck rules."""


@dataclass(frozen=True)
class Tier:
    """A published weight on the bars. text: the figure; section: where it stands."""

    x: float
    text: str
    section: str


@dataclass(frozen=True)
class TankBar:
    """A compartment: its width is its capacity. mean_x: how full it was at the fullest moment of a
    day, on average; most_x: on the worst day."""

    tank: TankResult
    width: float
    mean_x: float
    most_x: float


@dataclass(frozen=True)
class TruckPanel:
    """A truck: empty and heaviest weight and the rating on one bar, then its compartments. out,
    weight: its days and its heaviest day in words."""

    truck: TruckResult
    empty_x: float
    heaviest_x: float
    rating_x: float
    out: str
    weight: str
    tanks: tuple[TankBar, ...]


@dataclass(frozen=True)
class FleetTrucks:
    """The trucks of one fleet. tiers: the same for all."""

    fleet: FleetResult
    cards: tuple[TruckPanel, ...]
    tiers: tuple[Tier, ...]


@dataclass(frozen=True)
class TierRow:
    """A published threshold with the trucks of each fleet that reach it ('none' where none does),
    in the order of the fleets."""

    words: str
    section: str
    trucks: tuple[str, ...]


def fleet_trucks(fleets: Sequence[FleetResult]) -> tuple[FleetTrucks, ...]:
    """Every truck of the fleets, drawn to one scale of weight and one of gallons."""
    trucks = [truck for fleet in fleets for truck in fleet.trucks]
    most_lb = max((max(truck.gvwr_lb, truck.heaviest_lb) for truck in trucks), default=1.0)
    most_gal = max((tank.capacity_gal for truck in trucks for tank in truck.tanks), default=1.0)
    tiers = tuple(_tiers(most_lb))
    return tuple(
        FleetTrucks(fleet, tuple(_card(truck, most_lb, most_gal) for truck in fleet.trucks), tiers)
        for fleet in fleets
    )


def tier_rows(fleets: Sequence[FleetResult]) -> tuple[TierRow, ...]:
    """Every published threshold beside the fleets, the class of the rating first."""
    rows = [
        TierRow(
            "Class of the gross vehicle weight rating",
            truck_rules()["class 1"].origin.cited,
            tuple(_classes(fleet) for fleet in fleets),
        )
    ]
    sections: dict[str, str] = {}
    for fleet in fleets:
        for truck in fleet.trucks:
            for row in truck.thresholds:
                if row.rule_id in truck_rules():
                    sections.setdefault(row.rule_id, truck_rules()[row.rule_id].origin.cited)
    for rule_id, section in sections.items():
        reached = tuple(_reached(fleet, rule_id) for fleet in fleets)
        rows.append(TierRow(_rule_words(rule_id), section, reached))
    return tuple(rows)


def _rule_words(rule_id: str) -> str:
    rule = truck_rules()[rule_id]
    if rule_id not in PLAIN_WORDS:
        return rule.words
    figures = {"figure": number(rule.figure or 0), "second": number(rule.second_figure or 0)}
    return PLAIN_WORDS[rule_id].format(**figures)


def _reached(fleet: FleetResult, rule_id: str) -> str:
    names = [
        truck.truck_id
        for truck in fleet.trucks
        if any(row.rule_id == rule_id and row.reached for row in truck.thresholds)
    ]
    return ", ".join(names) or "none"


def _classes(fleet: FleetResult) -> str:
    by_class: dict[int, list[str]] = {}
    for truck in fleet.trucks:
        by_class.setdefault(weight_class(truck.gvwr_lb), []).append(truck.truck_id)
    return "; ".join(f"{n}: {', '.join(by_class[n])}" for n in sorted(by_class))


def _tiers(most_lb: float) -> list[Tier]:
    found = []
    for rule_id in TIERS:
        rule = truck_rules()[rule_id]
        if rule.figure is not None and rule.figure <= most_lb:
            x = _x(rule.figure, most_lb)
            found.append(Tier(x, f"{number(rule.figure)} lb", rule.origin.cited))
    return found


def _card(truck: TruckResult, most_lb: float, most_gal: float) -> TruckPanel:
    out = f"out {counted(truck.days_out, 'day')}" if truck.days_out else "never out"
    if truck.bound_days:
        out += f", rating bound {counted(truck.bound_days, 'day')}"
    weight = f"rated {number(truck.gvwr_lb)} lb"
    if truck.days_out:
        day = short_date(truck.heaviest_date)
        weight = f"{number(truck.heaviest_lb)} of {number(truck.gvwr_lb)} lb, {day}"
    return TruckPanel(
        truck=truck,
        empty_x=_x(truck.empty_lb, most_lb),
        heaviest_x=_x(truck.heaviest_lb, most_lb),
        rating_x=_x(truck.gvwr_lb, most_lb),
        out=out,
        weight=weight,
        tanks=tuple(_tank(tank, most_gal) for tank in truck.tanks),
    )


def _tank(tank: TankResult, most_gal: float) -> TankBar:
    width = round(TANK_WIDTH * tank.capacity_gal / most_gal, 1)
    return TankBar(
        tank=tank,
        width=width,
        mean_x=round(width * min(1.0, tank.mean_fullest_share), 1),
        most_x=round(width * min(1.0, tank.most_fullest_share), 1),
    )


def _x(value: float, most: float) -> float:
    return round(WEIGHT_WIDTH * value / most, 1)
