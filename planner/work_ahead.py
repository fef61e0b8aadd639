"""Orders ahead, wired: made ready, put into the engine's finished plan, and the day with them."""

from collections.abc import Collection, Mapping

from planner.day.roll import with_orders_ahead
from planner.prepare import PreparedDay, prepare_day, routing_problem
from planner.roads.travel import Travel
from planner.routing.problem import Solution, StopToken
from planner.routing.shared.ahead import take_ahead


def work_ahead(
    prepared: PreparedDay,
    answer: Solution,
    travel_by_truck: Mapping[str, Travel],
    kept: Mapping[str, str],
    pinned: Collection[str],
    stop: StopToken,
) -> tuple[PreparedDay, Solution, tuple[str, ...]]:
    """A finished answer with what the trucks can take of the orders ahead, the day that holds
    these, and their names. kept, pinned: as in the routing problem of the answer."""
    day = prepared.day
    reached = [travel.index() for travel in travel_by_truck.values()]
    names = {
        name
        for name, order in day.ahead.items()
        if all(order.property_id in rows for rows in reached)
    }
    names = _harmless(prepared, names)
    if not names:
        return prepared, answer, ()
    wide = prepare_day(with_orders_ahead(day, names))
    problem = routing_problem(wide, travel_by_truck, kept=kept, pinned=pinned)
    names -= {hold.order_id for hold in wide.held}
    most = day.workbook.settings.work_ahead_price
    answer, taken = take_ahead(problem, answer, names, most, stop)
    return (prepare_day(with_orders_ahead(day, taken)) if taken else prepared), answer, taken


def _harmless(prepared: PreparedDay, names: set[str]) -> set[str]:
    """The orders beside which no rule keeps back an order of the day that it does not keep back
    without them (a label's days between, a yearly most)."""
    day = prepared.day
    if not names:
        return names
    wide = prepare_day(with_orders_ahead(day, names))
    changed = {hold.order_id for hold in wide.held if hold.order_id in day.orders}
    changed ^= {hold.order_id for hold in prepared.held}
    places = {day.orders[name].property_id for name in changed}
    return {name for name in names if day.ahead[name].property_id not in places}
