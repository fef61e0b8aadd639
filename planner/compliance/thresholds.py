"""Published weight, tank and license thresholds beside a truck, for the office and the owner.

Figures and sections stand in `planner/rules/trucks.csv`. Nothing here binds the plan (GVWR does,
rule 11): which rule binds a company, a licensed adviser decides, and every list says so.
"""

from dataclasses import dataclass

from planner.day.fleet import Truck
from planner.rules.data import TruckRule, truck_rules

ADVISER_TEXT = (
    "These are published thresholds beside this truck's figures, no legal advice: a licensed "
    "adviser decides which of them bind you."
)


@dataclass(frozen=True)
class Threshold:
    """One rule beside a truck. reached: what the rule describes is the case. text: the finding in
    words with both figures; section: where the rule stands."""

    rule_id: str
    reached: bool
    text: str
    section: str

    @property
    def line(self) -> str:
        """For a sheet: the finding and its section."""
        return f"{self.text} ({self.section})"


def thresholds(
    truck: Truck, loaded_lb: float | None = None, *, placarded: bool = False
) -> tuple[Threshold, ...]:
    """Every weight, tank and license threshold beside the truck, reached or not.

    loaded_lb: its heaviest actual weight, None = as heavy as all compartments full of 8.34 lb/gal
    would make it, or its rating if that is more.
    """
    full_lb = truck.ready_lb + 8.34 * sum(tank.capacity_gal for tank in truck.compartments)
    actual_lb = full_lb if loaded_lb is None else loaded_lb
    weight_lb = max(truck.gvwr_lb, actual_lb)
    return (
        _weight_class(truck),
        _commercial(weight_lb),
        _license(weight_lb),
        _tank_vehicle(truck, weight_lb, placarded),
        _dilute_class_9(truck),
    )


def weight_class(gvwr_lb: float) -> int:
    """Class 1 to 8 of a gross vehicle weight rating."""
    for number in range(1, 9):
        top = truck_rules()[f"class {number}"].second_figure
        if top is None or gvwr_lb <= top:
            return number
    raise AssertionError("class 8 has no top")


def is_tank_vehicle(capacities_gal: list[float], weight_lb: float) -> bool:
    """Whether tanks make a vehicle of that weight (rating or actual, the greater) a tank vehicle:
    only those over 119 gal count, together 1,000 gal or more, on a truck of part 383."""
    rule = truck_rules()["tank vehicle"]
    counted = [gal for gal in capacities_gal if gal > _figure(rule)]
    return needs_license_group_b(weight_lb) and sum(counted) >= (rule.second_figure or 0.0)


def needs_license_group_b(weight_lb: float) -> bool:
    """Whether a single vehicle of that weight asks for a commercial license."""
    return weight_lb >= _figure(truck_rules()["license group B"])


def is_commercial_motor_vehicle(weight_lb: float) -> bool:
    """Whether parts 390 to 396 count the vehicle (rating or actual weight, the greater)."""
    return weight_lb >= _figure(truck_rules()["commercial motor vehicle"])


def _weight_class(truck: Truck) -> Threshold:
    number = weight_class(truck.gvwr_lb)
    rule = truck_rules()[f"class {number}"]
    text = f"Rated {truck.gvwr_lb:,.0f} lb: class {number}"
    return Threshold("weight class", True, text, rule.origin.cited)


def _commercial(weight_lb: float) -> Threshold:
    return _by_weight(
        truck_rules()["commercial motor vehicle"],
        is_commercial_motor_vehicle(weight_lb),
        weight_lb,
        "counts as a commercial motor vehicle between states, and in most states at home: "
        "inspections, driver file, hours (60 in 7 days or 70 in 8: add the days before)",
        "no commercial motor vehicle by weight (what it tows counts too: add it)",
    )


def _license(weight_lb: float) -> Threshold:
    return _by_weight(
        truck_rules()["license group B"],
        needs_license_group_b(weight_lb),
        weight_lb,
        "commercial driver's license, group B",
        "no commercial driver's license by weight (with a trailer of more than 10,000 lb add it)",
    )


def _by_weight(rule: TruckRule, reached: bool, weight_lb: float, yes: str, no: str) -> Threshold:
    text = (
        f"{weight_lb:,.0f} lb (rating or actual, the greater) against {_figure(rule):,.0f} lb: "
        f"{yes if reached else no}"
    )
    return Threshold(rule.rule_id, reached, text, rule.origin.cited)


def _tank_vehicle(truck: Truck, weight_lb: float, placarded: bool) -> Threshold:
    rule = truck_rules()["tank vehicle"]
    capacities = [tank.capacity_gal for tank in truck.compartments]
    large = [gal for gal in capacities if gal > _figure(rule)]
    tanks = "tank" if len(large) == 1 else "tanks"
    sizes = (
        f"{len(large)} {tanks} over {_figure(rule):g} gal hold {sum(large):,.0f} gal together, "
        f"against {rule.second_figure:,.0f}"
    )
    reached = is_tank_vehicle(capacities, weight_lb)
    section = rule.origin.cited
    if reached:
        text = f"{sizes}: tank vehicle, endorsement N"
    elif sum(large) >= (rule.second_figure or 0.0):
        text = f"{sizes}, but under 26,001 lb: no tank endorsement"
        section = truck_rules()["below part 383"].origin.cited
        if placarded:
            text += " unless placarded, which it is: ask"
    else:
        text = f"{sizes}: no tank vehicle"
    return Threshold(rule.rule_id, reached, text, section)


def _dilute_class_9(truck: Truck) -> Threshold:
    rule = truck_rules()["materials of trade, packages"]
    largest = max((tank.capacity_gal for tank in truck.compartments), default=0.0)
    reached = largest > _figure(rule)
    against = f"Largest compartment {largest:,.0f} gal against {_figure(rule):g}"
    text = (
        f"{against}: too large for the exception for dilute Class 9, if a mix is Class 9 at all"
        if reached
        else f"{against}: within the exception for Class 9 diluted to {rule.second_figure:g} %; "
        f"a tank that uses it shows its identification number on two opposite sides"
    )
    marked = truck_rules()["materials of trade, marking"].origin.cited
    section = rule.origin.cited if reached else f"{rule.origin.cited}; {marked}"
    return Threshold(rule.rule_id, reached, text, section)


def _figure(rule: TruckRule) -> float:
    assert rule.figure is not None, f"{rule.rule_id} has no figure"
    return rule.figure
