"""What stands on the office's day page."""

from __future__ import annotations

from dataclasses import dataclass

from planner.day.day import Day
from planner.day.fleet import Compartment, Truck
from planner.papers.lookup import mix_name, place_text
from planner.papers.pictures import Segment, TimeAxis, level_line, time_bar
from planner.plan.model import NotDone, Plan, TruckPlan


@dataclass(frozen=True)
class LevelChart:
    """Gallons in one compartment over the day. points: of the line; heel_share: 0 to 1."""

    compartment: Compartment
    mix: str
    points: str
    fills: int
    end_gal: float


@dataclass(frozen=True)
class TruckCard:
    """One truck at a glance. goes_out: whether it has stops; most_weight_lb: of the day."""

    truck: Truck
    truck_plan: TruckPlan
    goes_out: bool
    leaves_min: float
    back_min: float
    most_weight_lb: float
    bar: tuple[Segment, ...]
    charts: tuple[LevelChart, ...]


@dataclass(frozen=True)
class NotDoneLine:
    """A held or unserved order with its customer and mix."""

    entry: NotDone
    customer: str
    address: str
    mix: str
    priority: int | None


@dataclass(frozen=True)
class NoticeLine:
    """Somebody who must be told, or a lawn sign to place, at one stop."""

    truck_id: str
    seq: int
    begin_min: float
    customer: str
    address: str
    notice: str
    sign: bool


@dataclass(frozen=True)
class DayPage:
    """The office's view of the day."""

    cards: tuple[TruckCard, ...]
    held: tuple[NotDoneLine, ...]
    unserved: tuple[NotDoneLine, ...]
    notices: tuple[NoticeLine, ...]


def day_page(plan: Plan, day: Day, axis: TimeAxis) -> DayPage:
    """Trucks side by side, orders not done, and who must be told."""
    return DayPage(
        cards=tuple(_card(truck_plan, day, axis) for truck_plan in plan.trucks),
        held=tuple(_not_done(entry, day) for entry in plan.held),
        unserved=tuple(_not_done(entry, day) for entry in plan.unserved),
        notices=_notices(plan, day),
    )


def _card(truck_plan: TruckPlan, day: Day, axis: TimeAxis) -> TruckCard:
    truck = day.workbook.trucks[truck_plan.truck_id]
    stops = truck_plan.stops
    return TruckCard(
        truck=truck,
        truck_plan=truck_plan,
        goes_out=any(stop.kind == "visit" for stop in stops),
        leaves_min=stops[0].leave_min if stops else truck.shift_start_min,
        back_min=stops[-1].arrive_min if stops else truck.shift_start_min,
        most_weight_lb=max((stop.weight_lb_after for stop in stops), default=0.0),
        bar=time_bar(stops, axis),
        charts=tuple(
            LevelChart(
                compartment=row,
                mix=mix_name(day, mix_id),
                points=level_line(truck_plan, row, axis),
                fills=sum(
                    fill.compartment_id == row.compartment_id
                    for stop in stops
                    for fill in stop.fills
                ),
                end_gal=truck_plan.end_gal.get(row.compartment_id, 0.0),
            )
            for row in truck.compartments
            if (mix_id := truck_plan.loading.get(row.compartment_id)) is not None
        ),
    )


def _not_done(entry: NotDone, day: Day) -> NotDoneLine:
    order = day.workbook.orders.get(entry.order_id)
    if order is None:
        return NotDoneLine(entry, "", "", "", None)
    place = place_text(day, order.property_id)
    mix = mix_name(day, order.mix_id)
    return NotDoneLine(entry, place.title, place.address, mix, order.priority)


def _notices(plan: Plan, day: Day) -> tuple[NoticeLine, ...]:
    lines = []
    for truck_plan in plan.trucks:
        for stop in truck_plan.stops:
            at = day.workbook.properties.get(stop.place_id)
            if stop.kind != "visit" or at is None or not at.notice:
                continue
            lines.append(
                NoticeLine(
                    truck_plan.truck_id,
                    stop.seq,
                    stop.begin_min,
                    at.customer,
                    place_text(day, stop.place_id).address,
                    at.notice,
                    at.sign,
                )
            )
    return tuple(lines)
