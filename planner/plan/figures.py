"""Figures of a plan for people: the weight on each axle at a truck's departures, where the
tables say how it lies; how much the trucks' areas overlap, and how far a truck's orders lie
apart.

Axles are a caution, no rule: the plan keeps the gross rating (rule 11), and a scale decides.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from planner.day.day import Day, Workbook
from planner.day.fleet import Truck
from planner.mixing.recipes import recipe
from planner.plan.model import Plan, Stop, TruckPlan
from planner.routing.build import flat_miles
from planner.shapes import covered_and_shared


@dataclass(frozen=True)
class AxleWeights:
    """Pounds on the axles when a truck leaves the yard or a refill (stop seq), with the ratings."""

    seq: int
    front_lb: float
    rear_lb: float
    front_gawr_lb: float
    rear_gawr_lb: float

    @property
    def over(self) -> bool:
        """Whether an axle carries more than its rating."""
        return self.front_lb > self.front_gawr_lb or self.rear_lb > self.rear_gawr_lb

    @property
    def text(self) -> str:
        """'Front axle 5,100 of 5,500 lb, rear 9,000 of 11,000 lb', with a warning when over."""
        text = (
            f"Front axle {self.front_lb:,.0f} of {self.front_gawr_lb:,.0f} lb, rear "
            f"{self.rear_lb:,.0f} of {self.rear_gawr_lb:,.0f} lb"
        )
        return f"{text}: OVER ITS RATING, load less or elsewhere" if self.over else text


def axle_weights(workbook: Workbook, truck_plan: TruckPlan) -> tuple[AxleWeights, ...]:
    """Weights at departure and after each refill; () where the tables do not give the truck's front
    weight, both ratings and the share of every compartment. Raises KeyError for an unknown truck
    or mix, MixingError for a mix that cannot be worked out."""
    truck = workbook.trucks[truck_plan.truck_id]
    if (
        truck.front_empty_lb is None
        or truck.front_gawr_lb is None
        or truck.rear_gawr_lb is None
        or any(tank.rear_share_percent is None for tank in truck.compartments)
    ):
        return ()
    rinsed = {entry.compartment_id for entry in truck_plan.cleaning}
    levels = {
        tank.compartment_id: 0.0 if tank.compartment_id in rinsed else tank.leftover_gal
        for tank in truck.compartments
    }
    densities = _densities(workbook, truck, truck_plan)
    found = []
    for stop in truck_plan.stops:
        _apply(levels, stop)
        if stop.kind in ("depart", "refill"):
            rear_lb = truck.ready_lb - truck.front_empty_lb
            front_lb = truck.front_empty_lb
            for tank in truck.compartments:
                load_lb = levels[tank.compartment_id] * densities[tank.compartment_id]
                share = (tank.rear_share_percent or 0.0) / 100
                rear_lb += load_lb * share
                front_lb += load_lb * (1 - share)
            found.append(
                AxleWeights(stop.seq, front_lb, rear_lb, truck.front_gawr_lb, truck.rear_gawr_lb)
            )
    return tuple(found)


def _densities(workbook: Workbook, truck: Truck, truck_plan: TruckPlan) -> Mapping[str, float]:
    found = {}
    for tank in truck.compartments:
        mix_id = truck_plan.loading.get(tank.compartment_id) or tank.last_mix
        found[tank.compartment_id] = (
            workbook.settings.water_lb_per_gal
            if mix_id is None
            else recipe(workbook, mix_id).density_lb_per_gal
        )
    return found


def _apply(levels: dict[str, float], stop: Stop) -> None:
    for fill in stop.fills:
        levels[fill.compartment_id] = fill.level_after_gal
    for work in stop.orders:
        for draw in (*work.compartments, *work.hose_compartments):
            levels[draw.compartment_id] -= draw.gal


@dataclass(frozen=True)
class Compactness:
    """overlap_mi2: ground inside the convex hulls of the properties of two trucks or more;
    overlap_share: of all ground inside any hull, 0 to 1; middle_miles: straight miles of an order
    from the middle (mean) of its truck's orders, mean over the orders."""

    overlap_mi2: float
    overlap_share: float
    middle_miles: float


def compactness(plan: Plan, day: Day) -> Compactness:
    """Of the plan's visits. Places are laid on a flat map; refills and yards do not count, for they
    are where they are. Orders at properties that the day does not have are passed over."""
    places = list(day.workbook.properties)
    xy = dict(zip(places, flat_miles(day, places), strict=True))
    points = [
        np.array(
            [xy[stop.place_id] for stop in truck.stops for _ in stop.orders if stop.place_id in xy]
        )
        for truck in plan.trucks
    ]
    points = [one for one in points if len(one)]
    covered, shared = covered_and_shared(points)
    away = [np.hypot(*(one - one.mean(axis=0)).T) for one in points]
    return Compactness(
        overlap_mi2=shared,
        overlap_share=shared / covered if covered > 0 else 0.0,
        middle_miles=float(np.concatenate(away).mean()) if away else 0.0,
    )
