"""Rows of a stop order -> the answer that they mean, or everything that makes them none; and the
plan that follows, every clock time and gallon worked out again.

What breaks a rule (too heavy, too late, held, a mix beside one that it must not meet) is taken
as it is: the audit says so. Only what cannot be computed at all is a problem here.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from planner.by_hand.sheet import LOAD, LUNCH, ORDER, OUT_BY_HAND, REFILL, HandRow, StopOrderError
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.mixing.separation import Separation
from planner.plan.assemble import MadeAgain, Origin, Scheduler, make_plan
from planner.plan.done_part import Underway
from planner.plan.model import Plan
from planner.problems import Problem
from planner.routing.loading.allowed import loading_as_it_is
from planner.routing.problem import Route, Solution, StopKind, StopRef
from planner.tables.text import did_you_mean

_KINDS = {ORDER: StopKind.ORDER, REFILL: StopKind.REFILL, LUNCH: StopKind.LUNCH}


@dataclass(frozen=True)
class HandAnswer:
    """What the rows mean. pinned: orders given to their truck for good; out: orders that the
    earlier plan did and these rows do not. answer is None when there are problems."""

    answer: Solution | None
    pinned: tuple[str, ...]
    out: tuple[str, ...]
    problems: tuple[Problem, ...]


def hand_answer(
    rows: Sequence[HandRow],
    earlier: Plan,
    day: Day,
    apart: Separation,
    held_ids: Collection[str],
    underway: Mapping[str, Underway] = MappingProxyType({}),
) -> HandAnswer:
    """The loading and stop orders of the rows. earlier: the plan that was changed; a truck
    without any load row is loaded as there. held_ids: orders that a rule keeps back. underway:
    trucks that were out when the day was planned again; rows tell what they do from then on."""
    problems = [*_names(rows, day), *_twice(rows), *_shape(rows), *_mixes(rows, day)]
    problems += [*_gallons(rows, day), *_done(rows, underway)]
    loads, most = _loads(rows, earlier, day), _fill_to(rows, earlier)
    if not problems:
        problems += _not_loaded(rows, loads, day)
    if problems:
        return HandAnswer(None, (), (), tuple(problems))
    done = {row.what for row in rows if row.does == ORDER and row.truck}
    before, behind = _served(earlier), _orders_done(underway)
    done |= behind
    turns = _load_turns(earlier)
    trucks = tuple(
        replace(
            _truck_answer(rows, truck, loads[truck_id], day, apart, underway.get(truck_id)),
            load_turn=turns.get(truck_id, len(turns)),
            fill_to=most.get(truck_id, ()),
        )
        for truck_id, truck in day.workbook.trucks.items()
    )
    unserved = {
        order_id: _why(order_id, earlier, before)
        for order_id in day.orders
        if order_id not in done and order_id not in held_ids
    }
    pinned = tuple(row.what for row in rows if row.does == ORDER and row.truck and row.pinned)
    pinned = (*(name for name in earlier.pinned if name in behind), *pinned)
    out = tuple(order_id for order_id in unserved if order_id in before)
    return HandAnswer(Solution(trucks, unserved), pinned, out, ())


def _load_turns(plan: Plan) -> dict[str, int]:
    """The order in which a plan's trucks are loaded (rule 38)."""
    begins = {one.truck_id: one.stops[0].begin_min for one in plan.trucks if one.stops}
    return {name: turn for turn, name in enumerate(sorted(begins, key=lambda one: begins[one]))}


def _served(plan: Plan) -> frozenset[str]:
    return frozenset(
        work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders
    )


def _why(order_id: str, earlier: Plan, before: Collection[str]) -> tuple[str, str]:
    if order_id in before:
        return OUT_BY_HAND, "taken out by hand"
    for entry in earlier.unserved:
        if entry.order_id == order_id:
            return entry.code, entry.reason
    return OUT_BY_HAND, "not in the plan that was changed by hand, and not put in since"


def _names(rows: Sequence[HandRow], day: Day) -> Iterator[Problem]:
    """HAND-1, HAND-3: names that the tables or the day do not know."""
    book = day.workbook
    for row in rows:
        truck = book.trucks.get(row.truck)
        if row.truck and truck is None:
            cure = did_you_mean(row.truck, book.trucks, "write a truck that is in service")
            yield row.problem("truck", "HAND-3", "no such truck is in service", cure)
        if row.does == ORDER and row.what and row.what not in day.orders:
            yield _no_order(row, day)
        if row.does == REFILL and row.what and row.what not in book.sites:
            cure = did_you_mean(row.what, book.sites, "write a site")
            yield row.problem("what", "HAND-3", "there is no such site", cure)
        if row.does != LOAD:
            continue
        names = [one.compartment_id for one in truck.compartments] if truck is not None else []
        if truck is not None and row.what and row.what not in names:
            cure = did_you_mean(row.what, names, "write one of its compartments")
            yield row.problem("what", "HAND-3", "the truck has no such compartment", cure)
        if row.mix and row.mix not in book.mixes:
            cure = did_you_mean(row.mix, book.mixes, "write a mix")
            yield row.problem("mix", "HAND-3", "there is no such mix", cure)


def _no_order(row: HandRow, day: Day) -> Problem:
    order = day.workbook.orders.get(row.what)
    if order is None:
        cure = did_you_mean(row.what, day.orders, "write an order that is due on the day")
        return row.problem("what", "HAND-1", "there is no such order", cure)
    due = (
        f"{order.due_from} to {order.due_to}"
        if order.due_to != order.due_from
        else f"{order.due_from}"
    )
    cure = f"change its day in orders, or take the row out (the plan is for {day.date})"
    return row.problem("what", "HAND-1", f"the order is due {due}", cure)


def _twice(rows: Sequence[HandRow]) -> Iterator[Problem]:
    """HAND-2: an order or a compartment in two rows."""
    first: dict[tuple[str, ...], HandRow] = {}
    for row in rows:
        if not row.what or row.does not in (ORDER, LOAD):
            continue
        key = (ORDER, row.what) if row.does == ORDER else (LOAD, row.truck, row.what)
        if key in first:
            what = "order" if row.does == ORDER else "compartment"
            yield row.problem(
                "what",
                "HAND-2",
                f"the {what} is also in {first[key].where}",
                "leave one of the two",
            )
        first.setdefault(key, row)


def _shape(rows: Sequence[HandRow]) -> Iterator[Problem]:
    """HAND-5: rows with too little or too much in them."""
    wants = {ORDER: "order", REFILL: "site where it refills", LOAD: "compartment"}
    for row in rows:
        if row.does != ORDER and not row.truck:
            yield row.problem("truck", "HAND-5", "the row names no truck", "write its truck")
        if row.does in wants and not row.what:
            yield row.problem(
                "what",
                "HAND-5",
                f"the row names no {wants[row.does]}",
                f"write the {wants[row.does]}",
            )
        if row.pinned and (row.does != ORDER or not row.truck):
            cure = "clear the cell"
            yield row.problem("pinned", "HAND-5", "only an order of a truck can be pinned", cure)


def _gallons(rows: Sequence[HandRow], day: Day) -> Iterator[Problem]:
    """HAND-5: gallons (rule 40) where no compartment is loaded, or more than it holds."""
    for row in rows:
        if row.fill_to_gal is None:
            continue
        truck = day.workbook.trucks.get(row.truck)
        tanks = {one.compartment_id: one for one in truck.compartments} if truck is not None else {}
        if row.does != LOAD:
            message = "only a compartment that is loaded has gallons"
            yield row.problem("fill_to_gal", "HAND-5", message, "clear the cell")
        elif row.what in tanks and row.fill_to_gal > tanks[row.what].capacity_gal:
            message = f"compartment {row.what} holds {tanks[row.what].capacity_gal:g} gal"
            yield row.problem(
                "fill_to_gal", "HAND-5", message, "write no more than that, or nothing"
            )


def _mixes(rows: Sequence[HandRow], day: Day) -> Iterator[Problem]:
    """HAND-6: an order's mix is changed in the orders table, where its area and limits are."""
    for row in rows:
        order = day.orders.get(row.what) if row.does == ORDER else None
        if order is not None and row.mix and row.mix != order.mix_id:
            message = f"the order's mix is {order.mix_id}"
            yield row.problem("mix", "HAND-6", message, "change it in the orders table")


def _orders_done(underway: Mapping[str, Underway]) -> frozenset[str]:
    return frozenset(
        work.order_id for out in underway.values() for stop in out.done for work in stop.orders
    )


def _done(rows: Sequence[HandRow], underway: Mapping[str, Underway]) -> Iterator[Problem]:
    """HAND-8: what was done when the day was planned again, and what is on board, stays."""
    done = _orders_done(underway)
    for row in rows:
        out = underway.get(row.truck)
        if row.does == ORDER and row.what in done:
            message = f"order {row.what} is done already"
            yield row.problem("what", "HAND-8", message, "take the row out")
        if row.does == LOAD and out is not None:
            on_board = out.planned.loading.get(row.what)
            if (row.mix or None) != on_board:
                message = f"truck {row.truck} is out with {on_board or 'nothing'} in {row.what}"
                yield row.problem("mix", "HAND-8", message, "leave the row as it was")
            if row.fill_to_gal != out.planned.fill_to_gal.get(row.what):
                message = f"truck {row.truck} is out"
                yield row.problem("fill_to_gal", "HAND-8", message, "leave the cell as it was")


def _loads(rows: Sequence[HandRow], earlier: Plan, day: Day) -> dict[str, dict[str, str | None]]:
    """Truck -> compartment -> mix or None."""
    told: dict[str, dict[str, str | None]] = {}
    for row in rows:
        if row.does == LOAD:
            told.setdefault(row.truck, {})[row.what] = row.mix or None
    planned = {truck.truck_id: truck.loading for truck in earlier.trucks}
    return {
        truck_id: {
            one.compartment_id: told.get(truck_id, planned.get(truck_id, {})).get(
                one.compartment_id
            )
            for one in truck.compartments
        }
        for truck_id, truck in day.workbook.trucks.items()
    }


def _fill_to(rows: Sequence[HandRow], earlier: Plan) -> dict[str, tuple[tuple[str, float], ...]]:
    """Truck -> compartments and how far they may be filled (rule 40)."""
    most = {truck.truck_id: truck.fill_to_gal for truck in earlier.trucks}
    for row in rows:
        if row.does == LOAD:
            mine = most.setdefault(row.truck, {})
            mine.pop(row.what, None)
            if row.fill_to_gal is not None:
                mine[row.what] = row.fill_to_gal
    return {truck_id: tuple(sorted(mine.items())) for truck_id, mine in most.items()}


def _not_loaded(
    rows: Sequence[HandRow], loads: dict[str, dict[str, str | None]], day: Day
) -> Iterator[Problem]:
    """HAND-4: an order on a truck that does not carry its mix."""
    for row in rows:
        if row.does != ORDER or not row.truck:
            continue
        mix_id = day.orders[row.what].mix_id
        load = loads[row.truck]
        if mix_id in load.values():
            continue
        carried = ", ".join(dict.fromkeys(one for one in load.values() if one)) or "nothing"
        empty = [name for name, one in load.items() if one is None]
        free = f" (empty: {', '.join(empty)})" if empty else ""
        yield row.problem(
            "truck",
            "HAND-4",
            f"order {row.what} needs {mix_id}, and the truck is loaded with {carried}",
            f"load {mix_id} in one of its compartments{free}, or give the order to another truck",
        )


def _truck_answer(
    rows: Sequence[HandRow],
    truck: Truck,
    load: dict[str, str | None],
    day: Day,
    apart: Separation,
    out: Underway | None,
) -> Route:
    # Who stood through the lunch hour has had lunch there, whatever the rows say of it.
    lunched = out is not None and out.standing.lunch_begin_min is not None
    stops = tuple(
        StopRef(_KINDS[row.does], row.what)
        for row in rows
        if row.truck == truck.truck_id and row.does in _KINDS
        if not (lunched and row.does == LUNCH)
    )
    # Without an order there is nothing to leave the yard for: refills and lunch go with the rest.
    if not any(stop.kind is StopKind.ORDER for stop in stops):
        stops = ()
    if out is not None:
        return Route(truck.truck_id, out.standing.loading, stops)
    mix_of = tuple(load[one.compartment_id] for one in truck.compartments)
    return Route(truck.truck_id, loading_as_it_is(day.workbook, truck, apart, mix_of), stops)


BY_HAND: Final = ", changed by hand"
"""Stands behind the engine's name in a plan that a person changed."""


def changed_plan(
    rows: Sequence[HandRow], earlier: Plan, scheduler: Scheduler, roads: tuple[str, str]
) -> tuple[Plan, tuple[str, ...]]:
    """The plan of the rows, and the orders that the earlier plan did and it leaves out. scheduler:
    of the day; roads: description and warning of where the travel comes from. Rules may be broken
    in it; raises StopOrderError with every reason for which there can be no such plan."""
    prepared = scheduler.prepared
    held_ids = {hold.order_id for hold in prepared.held}
    underway = scheduler.underway
    meant = hand_answer(rows, earlier, prepared.day, prepared.apart, held_ids, underway)
    if meant.answer is None:
        raise StopOrderError(meant.problems)
    done = {stop.ref for truck in meant.answer.routes for stop in truck.stops}
    plan = make_plan(
        # What a person gave to a truck against a rule stands there, and the audit says so.
        replace(prepared, held=tuple(row for row in prepared.held if row.order_id not in done)),
        meant.answer,
        scheduler.travel_by_truck,
        Origin(
            seed=earlier.seed,
            effort=earlier.effort,
            engine=earlier.engine.removesuffix(BY_HAND) + BY_HAND,
            roads=roads[0],
            roads_warning=roads[1],
        ),
        None if earlier.again is None else MadeAgain(earlier.again, underway),
        scheduler,
    )
    return replace(plan, pinned=meant.pinned, ahead=earlier.ahead), meant.out
