"""A day made ready once: recipes, holds, windows, what must be kept apart, and the day as numbers.

Planning, planning again and changing by hand all begin here, so that the three cannot differ.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from planner.compliance.edges import leave_edges, without_strips
from planner.compliance.holds import Hold, holds
from planner.compliance.weather import Forecast, weather_windows
from planner.day.clock import Window, intersect
from planner.day.day import Day
from planner.day.roll import Roll, roll_of
from planner.mixing.recipes import Recipe, order_gal, recipes, stock_limits
from planner.mixing.separation import Separation, separation
from planner.roads.travel import Travel
from planner.routing.build import build_problem
from planner.routing.loading.allowed import loadings
from planner.routing.problem import RoutingProblem, TruckStanding


@dataclass(frozen=True)
class PreparedDay:
    """recipes: by mix id; held: orders that a rule keeps back; windows: of every order of the day,
    by order id, None = any time; weather_open: what their labels' weather leaves of the day; apart:
    which mixes must not meet; roll: where every order of the tables stands."""

    day: Day
    recipes: Mapping[str, Recipe]
    held: tuple[Hold, ...]
    windows: Mapping[str, tuple[Window, ...] | None]
    weather_open: Mapping[str, tuple[Window, ...] | None]
    apart: Separation
    roll: Roll

    @property
    def free(self) -> dict[str, tuple[Window, ...] | None]:
        """Windows of the orders that no rule keeps back."""
        held = {hold.order_id for hold in self.held}
        return {name: spans for name, spans in self.windows.items() if name not in held}


def prepare_day(day: Day, done: Collection[str] = ()) -> PreparedDay:
    """Everything about a day that does not depend on loadings and stop orders. done: orders that
    are sprayed already (see planner.compliance.holds.holds)."""
    day = without_edges(day)
    forecast = Forecast(day.weather)
    weather_open = {
        name: weather_windows(day, order, forecast) for name, order in day.orders.items()
    }
    return PreparedDay(
        day=day,
        recipes=recipes(day.workbook),
        held=holds(day, done, forecast),
        windows={
            name: intersect(order.windows, weather_open[name]) for name, order in day.orders.items()
        },
        weather_open=weather_open,
        apart=separation(day.workbook),
        roll=roll_of(day),
    )


def without_edges(day: Day) -> Day:
    """The day with its orders' areas less the strips that stay unsprayed (rule 34)."""
    book = leave_edges(day.workbook, day.date)
    orders, ahead = (
        {name: without_strips(book, order, day.date) for name, order in some.items()}
        for some in (day.orders, day.ahead)
    )
    if book is day.workbook and orders == day.orders:
        return day
    return replace(day, workbook=book, orders=orders, ahead=ahead)


def routing_problem(
    prepared: PreparedDay,
    travel_by_truck: Mapping[str, Travel],
    rest: Day | None = None,
    *,
    kept: Mapping[str, str] = MappingProxyType({}),
    pinned: Collection[str] = (),
    told: Mapping[str, Window] = MappingProxyType({}),
    out: Mapping[str, TruckStanding] = MappingProxyType({}),
    taken_out: Mapping[str, float] = MappingProxyType({}),
    busy_until: Mapping[str, Sequence[float]] = MappingProxyType({}),
) -> RoutingProblem:
    """The day's free orders as numbers for an engine. rest: what is left of a running day, with the
    trucks that go on; out: where those stand that are out already; taken_out: of each product, by
    fills that are done. The others as in planner.routing.build."""
    day = rest or prepared.day
    book = day.workbook
    windows = {name: spans for name, spans in prepared.free.items() if name in day.orders}
    need_gal: dict[str, float] = {}
    for order_id in windows:
        order = day.orders[order_id]
        need_gal[order.mix_id] = need_gal.get(order.mix_id, 0.0) + order_gal(book, order)
    return build_problem(
        day,
        prepared.recipes,
        windows,
        frozenset(day.orders.keys() - windows.keys()),
        travel_by_truck,
        {
            truck_id: (out[truck_id].loading,)
            if truck_id in out
            else loadings(book, truck, prepared.apart, need_gal)
            for truck_id, truck in book.trucks.items()
        },
        kept=kept,
        pinned=pinned,
        told=told,
        out=out,
        stock=stock_limits(book, prepared.recipes, taken_out),
        busy_until=busy_until,
        weather_open=prepared.weather_open,
    )
