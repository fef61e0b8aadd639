"""A checked day as a RoutingProblem, with what crews and customers would like as prices."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.life import leaving_out_price, worth
from planner.day.orders import Order
from planner.roads.sphere import FT_PER_DEG, FT_PER_MILE
from planner.roads.travel import Travel
from planner.routing.problem import (
    CompartmentSpec,
    LineSpec,
    Loading,
    OrderTask,
    Preferences,
    RoutingProblem,
    SiteTask,
    StockLimit,
    TruckSpec,
    TruckStanding,
    TruckStart,
)


class MixNumbers(Protocol):
    """What is asked of a recipe here."""

    @property
    def carrier_gal_per_1000_ft2(self) -> float:
        """Finished mix per 1,000 ft2."""

    @property
    def density_lb_per_gal(self) -> float:
        """Pounds per gallon of finished mix."""


def build_problem(
    day: Day,
    recipes: Mapping[str, MixNumbers],
    order_windows: Mapping[str, tuple[Window, ...] | None],
    held_ids: Collection[str],
    travel_by_truck: Mapping[str, Travel],
    loadings_by_truck: Mapping[str, tuple[Loading, ...]],
    kept: Mapping[str, str] = MappingProxyType({}),
    pinned: Collection[str] = (),
    told: Mapping[str, Window] = MappingProxyType({}),
    out: Mapping[str, TruckStanding] = MappingProxyType({}),
    stock: tuple[StockLimit, ...] = (),
    busy_until: Mapping[str, Sequence[float]] = MappingProxyType({}),
    weather_open: Mapping[str, tuple[Window, ...] | None] = MappingProxyType({}),
) -> RoutingProblem:
    """The day without its held orders.

    recipes: by mix id; those of today's orders and of leftovers are needed. order_windows: by
    order id, customer's and weather's windows together. travel_by_truck: trucks with the same
    drives share one profile of the matrices; places are the ids of sites and properties. kept:
    order id -> the truck that did it in a plan that this one should stay near to; pinned: those of
    them that no other truck may do. told: order id -> when its customer
    expects the crew to begin. out: trucks that are out already; each has the one loading of its
    standing. stock: products that the day can run out of. busy_until: by site, when trucks leave it
    whose fill there is a fact. weather_open: by order id, what its label's weather leaves of the
    day. Raises KeyError when a recipe, a window or a place is missing.
    """
    book = day.workbook
    due = [order for order_id, order in day.orders.items() if order_id not in held_ids]
    stand = [standing.place_id for standing in out.values()]
    places = list(dict.fromkeys([*book.sites, *(order.property_id for order in due), *stand]))
    row_of = {place_id: row for row, place_id in enumerate(places)}
    travels: list[Travel] = []
    profile_of: dict[str, int] = {}
    for truck_id in book.trucks:
        travel = travel_by_truck[truck_id]
        known = [row for row, other in enumerate(travels) if _alike(other, travel)]
        profile_of[truck_id] = known[0] if known else len(travels)
        if not known:
            travels.append(travel)
    # Of an order that is begun every part is worth doing.
    share: dict[str, float] = {}
    for order in due:
        share[order.part_of] = share.get(order.part_of, 0.0) + order.share
    tasks = tuple(
        OrderTask(
            order_id=order.order_id,
            place=row_of[order.property_id],
            mix_id=order.mix_id,
            gal=order.area_ft2 / 1000.0 * recipes[order.mix_id].carrier_gal_per_1000_ft2,
            windows=order_windows[order.order_id],
            hose_run_ft=book.properties[order.property_id].hose_run_ft,
            allowed_trucks=_allowed(order, book.trucks, kept[order.order_id])
            if order.order_id in pinned
            else _allowed(order, book.trucks),
            price=leaving_out_price(
                order, book.properties[order.property_id], book.settings, day.date
            ),
            worth=worth(order, book.settings),
            weather=weather_open.get(order.order_id),
            part_of="" if share[order.part_of] < 1.0 - 1e-6 else order.part_of,
            unlicensed_trucks=order.unlicensed_trucks,
            shut=tuple(_shut(day, order)),
        )
        for order in due
    )
    sites = tuple(
        SiteTask(
            site_id=site.site_id,
            place=row_of[site.site_id],
            setup_min=site.setup_min,
            fill_gal_per_min=site.fill_gal_per_min,
            open_min=site.open_min,
            close_min=site.close_min,
            mixes=site.mixes,
            trucks_at_once=site.trucks_at_once,
            busy_until=tuple(busy_until.get(site.site_id, ())),
        )
        for site in book.sites.values()
    )
    return RoutingProblem(
        trucks=tuple(
            _truck_spec(
                truck,
                profile_of[truck.truck_id],
                book.settings.overtime_factor,
                loadings_by_truck[truck.truck_id],
                out.get(truck.truck_id),
                row_of,
            )
            for truck in book.trucks.values()
        ),
        orders=tasks,
        sites=sites,
        density_lb_per_gal={
            mix_id: recipe.density_lb_per_gal for mix_id, recipe in recipes.items()
        },
        drive_min=_stacked(travels, places, "minutes"),
        drive_miles=_stacked(travels, places, "miles"),
        setup_min_per_visit=book.settings.setup_min_per_visit,
        fill_margin_percent=book.settings.fill_margin_percent,
        preferences=preferences_of(day, due, places, kept, told),
        stock=stock,
    )


def _allowed(order: Order, trucks: Collection[str], pin: str | None = None) -> frozenset[str]:
    """Trucks that may do the order. pin: a person's choice, where the table does not bar it."""
    allowed = frozenset(
        truck_id
        for truck_id in trucks
        if (order.only_trucks is None or truck_id in order.only_trucks)
        and truck_id not in order.never_trucks
    )
    return allowed & {pin} or allowed if pin is not None else allowed


def _shut(day: Day, order: Order) -> Iterator[tuple[str, str]]:
    """Trucks that the tables allow for the order and papers keep from it (rule 35), with why."""
    for name, why in day.barred.items():
        if order.allows(name):
            yield name, f"{name} stays in the yard ({why.replace('; ', ' and ')})"
    for name in day.workbook.trucks:
        if name in order.license_only and order.allows(name):
            yield name, f"nobody on {name} has {order.license_asked}"


def _truck_spec(
    truck: Truck,
    profile: int,
    overtime_factor: float,
    loadings: tuple[Loading, ...],
    out: TruckStanding | None,
    row_of: Mapping[str, int],
) -> TruckSpec:
    pay_per_min = truck.pay_per_hour * truck.crew / 60.0
    after_min = truck.closing_min
    return TruckSpec(
        truck_id=truck.truck_id,
        yard_id=truck.yard_id,
        profile=profile,
        shift_start_min=truck.shift_start_min,
        shift_end_min=truck.shift_end_min - after_min,
        latest_return_min=truck.latest_return_min,
        lunch_min=truck.lunch_min,
        lunch_earliest_min=truck.lunch_earliest_min or 0.0,
        lunch_latest_min=truck.lunch_latest_min or 0.0,
        payload_lb=truck.payload_lb,
        pay_per_min=pay_per_min,
        overtime_pay_per_min=pay_per_min * (overtime_factor - 1.0),
        cost_per_day=truck.cost_per_day + after_min * pay_per_min,
        cost_per_mile=truck.cost_per_mile,
        lines=tuple(
            LineSpec(
                line.line_id,
                line.hose_ft,
                line.hose_gal,
                line.gun_gal_per_min,
                start_mix=(truck if out is None else out).hose_mix[line.line_id],
            )
            for line in truck.lines
        ),
        compartments=tuple(
            CompartmentSpec(
                compartment_id=part.compartment_id,
                capacity_gal=part.capacity_gal,
                heel_gal=part.heel_gal,
                line_id=part.line_id,
                position=part.position,
                start_gal=part.leftover_gal if out is None else out.level_gal[part.compartment_id],
                start_mix=part.last_mix if out is None else out.inside[part.compartment_id],
                reserved_for=part.reserved_for,
            )
            for part in truck.compartments
        ),
        loadings=loadings if out is None else (replace(out.loading, cleaning=()),),
        start=None
        if out is None
        else TruckStart(
            place=row_of[out.place_id], time_min=out.free_min, miles=out.miles, lunched=out.lunched
        ),
        prepare_min=truck.inspection_min,
        loads=truck.yard_loading,
        paid_least_min=max(0.0, truck.paid_hours_least * 60.0 - after_min),
    )


def _alike(one: Travel, other: Travel) -> bool:
    """Whether all drives are the same."""
    return one is other or (
        one.place_ids == other.place_ids
        and np.array_equal(one.minutes, other.minutes)
        and np.array_equal(one.miles, other.miles)
    )


def _stacked(travels: list[Travel], places: list[str], what: str) -> np.ndarray:
    """One square array per profile, rows and columns in the order of places."""
    size = len(places)
    stack = np.zeros((len(travels), size, size))
    for profile, travel in enumerate(travels):
        rows = travel.index()
        pick = [rows[place_id] for place_id in places]
        stack[profile] = getattr(travel, what)[np.ix_(pick, pick)]
    return stack


def preferences_of(
    day: Day,
    due: Sequence[Order],
    places: Sequence[str],
    kept: Mapping[str, str],
    told: Mapping[str, Window] = MappingProxyType({}),
) -> Preferences:
    """The day's preferences. due: the orders to route, in the problem's order; places: ids of
    sites and properties, in the order of the matrices' rows. kept: order id -> the truck that it
    had in an earlier plan; orders that are not in it keep none. told: order id -> the span in which
    its customer expects the crew to begin."""
    settings = day.workbook.settings
    return Preferences(
        truck_price=_truck_price(day, due, kept),
        told=tuple(told.get(order.order_id) for order in due) if told else None,
        told_price=(settings.told_price,) * len(due) if told else None,
        per_refill=settings.refill_price,
        per_squared_hour=settings.balance_price,
        per_mile_apart=settings.compact_price,
        xy_miles=flat_miles(day, places),
    )


def _truck_price(
    day: Day, due: Sequence[Order], kept: Mapping[str, str]
) -> NDArray[np.float64] | None:
    book = day.workbook
    price = np.zeros((len(book.trucks), len(due)))
    names = list(book.trucks)
    for column, order in enumerate(due):
        usual = book.properties[order.property_id].usual_truck
        for wanted, each in (
            (usual, book.settings.usual_truck_price),
            (kept.get(order.order_id), book.settings.keep_price),
        ):
            # What no truck in service can fulfill would be paid whatever is planned.
            if wanted in book.trucks:
                away = each * order.share
                price[:, column] += [0.0 if name == wanted else away for name in names]
    return price if price.any() else None


def flat_miles(day: Day, places: Sequence[str]) -> NDArray[np.float64]:
    """East and north of the places' middle in miles, array (place, 2): a flat map, good to a few
    feet in a mile over a branch's area."""
    book = day.workbook
    points = [book.sites.get(name) or book.properties[name] for name in places]
    lat = np.array([point.lat for point in points])
    lon = np.array([point.lon for point in points])
    if not len(points):
        return np.zeros((0, 2))
    mile_deg = FT_PER_DEG / FT_PER_MILE
    east = (lon - lon.mean()) * np.cos(np.radians(lat.mean())) * mile_deg
    return np.column_stack((east, (lat - lat.mean()) * mile_deg))
