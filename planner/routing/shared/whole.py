"""Orders that are done in parts: all of them or none, in turn on each truck (rule 39)."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from planner.routing.problem import (
    OrderTask,
    Route,
    RoutingProblem,
    Solution,
    StopKind,
    StopToken,
)
from planner.routing.shared.store import draft_of


def cut_out(problem: RoutingProblem, answer: Solution, gone: Collection[str]) -> Solution:
    """An answer without some of its orders, refills put anew; also when planning was stopped."""
    draft = draft_of(problem, answer, StopToken())
    for row in range(len(draft.days)):
        mine = [one for one in draft.orders_of(row) if problem.orders[one].order_id in gone]
        if mine:
            draft.take_out(row, mine)
            draft.tidy(row)
    anyhow = {one.order_id: ("", "") for one in problem.orders}
    said = {name: why for name, why in answer.unserved.items() if name not in gone}
    return Solution(draft.answer(anyhow).routes, said)


def parts_in_turn(routes: Iterable[Route], problem: RoutingProblem) -> Iterator[Route]:
    """Routes in which each truck does its parts of an order in the order of their numbers. Parts
    are alike, save for the times that a running day's customers were told."""
    rank = {one.order_id: row for row, one in enumerate(problem.orders) if one.part_of}
    if problem.preferences.told is not None:
        rank = {}
    whole = {one.order_id: one.part_of for one in problem.orders}
    for route in routes:
        stops = list(route.stops)
        mine: dict[str, list[int]] = {}
        for at, stop in enumerate(stops):
            if stop.kind is StopKind.ORDER and stop.ref in rank:
                mine.setdefault(whole[stop.ref], []).append(at)
        for places in mine.values():
            refs = sorted((stops[at] for at in places), key=lambda stop: rank[stop.ref])
            for at, stop in zip(places, refs, strict=True):
                stops[at] = stop
        yield replace(route, stops=tuple(stops))


def torn_orders(
    problem: RoutingProblem, unserved: Mapping[str, tuple[str, str]]
) -> dict[str, tuple[str, str]]:
    """Why all parts are left out of orders of which one is."""
    why: dict[str, str] = {}
    for one in problem.orders:
        if one.part_of and one.order_id in unserved:
            why.setdefault(one.part_of, unserved[one.order_id][1].removeprefix(_whole(one)))
    return {
        one.order_id: ("WHOLE", _whole(one) + why[one.part_of])
        for one in problem.orders
        if one.part_of in why
    }


def _whole(order: OrderTask) -> str:
    return f"order {order.part_of} is done whole or not at all, and of a part of it: "
