"""Fills of a mix with water-soluble packets, made so that the packets come out even.

Packets are not opened or cut, so papers and records have a fill that whole ones make, as near to
the plan's as its compartment and the truck's rating allow. What is over rides along, and the next
fill of the compartment needs less. The plan itself keeps its gallons.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from planner.day.day import Workbook
from planner.day.fleet import Truck
from planner.mixing.measures import measured_fill
from planner.mixing.packets import gal_of_a_packet
from planner.mixing.recipes import Recipe, recipes
from planner.plan.model import Fill, Plan, Stop, TruckPlan


def with_whole_packets(plan: Plan, book: Workbook) -> Plan:
    """The plan with such fills; itself where no product comes in packets. Raises KeyError for a
    truck or mix that the workbook does not have."""
    if not any(product.packet for product in book.products.values()):
        return plan
    kitchen = recipes(book)
    gal_of = {
        name: gal
        for name, made in kitchen.items()
        if (gal := gal_of_a_packet(book, made)) is not None
    }
    trucks = tuple(_whole(one, book, kitchen, gal_of) for one in plan.trucks)
    return replace(plan, trucks=trucks)


def _whole(
    truck_plan: TruckPlan,
    book: Workbook,
    kitchen: Mapping[str, Recipe],
    gal_of: Mapping[str, float],
) -> TruckPlan:
    truck = book.trucks[truck_plan.truck_id]
    over: dict[str, float] = {}
    heavier = 0.0
    stops: list[Stop] = []
    for at, stop in enumerate(truck_plan.stops):
        fills = []
        for fill in stop.fills:
            packet_gal = gal_of.get(fill.mix_id)
            if packet_gal is None or stop.done:
                fills.append(fill)
                continue
            density = fill.weight_lb / fill.gal
            free_lb = truck.gvwr_lb - max(s.weight_lb_after for s in truck_plan.stops[at:])
            before = fill.level_before_gal + over.get(fill.compartment_id, 0.0)
            name = fill.compartment_id
            most = truck_plan.fill_to_gal.get(name, truck.compartment(name).capacity_gal)
            more = max(0.0, free_lb - heavier) / density
            room = min(most, fill.level_after_gal + more) - before
            gal = _packets(fill.level_after_gal - before, room, packet_gal) * packet_gal
            extra = before + gal - fill.level_after_gal
            heavier += (extra - over.get(fill.compartment_id, 0.0)) * density
            over[fill.compartment_id] = extra
            fills.append(_fill(fill, before, gal, truck, book, kitchen[fill.mix_id]))
        weight = stop.weight_lb_after + (0.0 if stop.done else heavier)
        stops.append(replace(stop, fills=tuple(fills), weight_lb_after=weight))
    ends = {name: gal + over.get(name, 0.0) for name, gal in truck_plan.end_gal.items()}
    return replace(truck_plan, stops=tuple(stops), end_gal=ends)


def _packets(gal: float, room_gal: float, packet_gal: float) -> int:
    """As many as make the gallons; one less where they do not fit."""
    count = math.ceil(gal / packet_gal - 1e-6)
    return max(0, min(count, math.floor(room_gal / packet_gal + 1e-6)))


def _fill(
    fill: Fill, before_gal: float, gal: float, truck: Truck, book: Workbook, recipe: Recipe
) -> Fill:
    share = gal / fill.gal
    tank = truck.compartment(fill.compartment_id)
    told = measured_fill(book, recipe, tank, before_gal, gal)
    return replace(
        fill,
        gal=gal,
        water_gal=fill.water_gal * share,
        level_before_gal=before_gal,
        level_after_gal=before_gal + gal,
        weight_lb=fill.weight_lb * share,
        products=tuple(replace(one, amount=one.amount * share) for one in fill.products),
        metered_water_gal=told.water_gal,
        measured=tuple(replace(one, amount=told.amounts[one.product_id]) for one in fill.measured),
    )
