"""A calendar of several yards, branch by branch: each yard with its trucks and the lawns that are
nearest to it is laid by itself, on any machine, and the parts become one calendar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, cast

from planner.roads.travel import Roads
from planner.weeks.lay import Horizon, make_calendar
from planner.weeks.model import Calendar


@dataclass(frozen=True)
class BranchTask:
    """options: further arguments of make_calendar; the same task gives the same calendar."""

    horizon: Horizon
    options: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class _NamedRoads:
    """What a calendar says of its roads; the roads themselves need not travel."""

    description: str
    warning: str


def branches(horizon: Horizon) -> tuple[Horizon, ...]:
    """A horizon per yard with trucks. A lawn goes to the nearest yard whose trucks may do all of
    its orders; where no yard has such, to the nearest."""
    book, roads = horizon.day.workbook, horizon.roads
    fleet: dict[str, list[str]] = {}
    for name, truck in book.trucks.items():
        fleet.setdefault(truck.yard_id, []).append(name)
    wanted: dict[str, list[frozenset[str]]] = {}
    for order in book.orders.values():
        able = frozenset(book.trucks if order.only_trucks is None else order.only_trucks)
        wanted.setdefault(order.property_id, []).append(able - order.never_trucks)

    def away(yard: str, home: str) -> tuple[bool, float]:
        travel = roads.travel_by_truck[fleet[yard][0]]
        rows = travel.index()
        cannot = any(able.isdisjoint(fleet[yard]) for able in wanted[home])
        far = float(travel.minutes[rows[yard], rows[home]]) if home in rows else 0.0
        return cannot, far

    yard_of = {home: min(fleet, key=lambda yard: away(yard, home)) for home in wanted}
    found = []
    named = cast("Roads", _NamedRoads(*roads.source))
    for yard, trucks in fleet.items():
        orders = {
            name: one for name, one in book.orders.items() if yard_of[one.property_id] == yard
        }
        part = replace(book, orders=orders, trucks={name: book.trucks[name] for name in trucks})
        day = replace(
            horizon.day,
            workbook=part,
            orders={name: one for name, one in horizon.day.orders.items() if name in orders},
            ahead={name: one for name, one in horizon.day.ahead.items() if name in orders},
        )
        ways = {name: roads.travel_by_truck[name] for name in trucks}
        own = replace(roads, roads=named, travel_by_truck=ways)
        found.append(replace(horizon, day=day, roads=own))
    return tuple(found)


def lay_branch(task: BranchTask) -> Calendar:
    """The calendar of one branch, on one core."""
    return make_calendar(
        task.horizon, progress=lambda _share, _text: None, threads=1, **task.options
    )


def merged(parts: Sequence[Calendar], horizon: Horizon) -> Calendar:
    """The branches' calendars as that of the whole horizon."""
    book = horizon.day.workbook
    trucks, orders = list(book.trucks), list(book.orders)
    shares = [share for part in parts for share in part.shares]
    waiting = [row for part in parts for row in part.waiting]
    return replace(
        parts[0],
        trucks=tuple(trucks),
        shares=tuple(sorted(shares, key=lambda one: (one.date, trucks.index(one.truck_id)))),
        closed={
            day: why
            for day, why in parts[0].closed.items()
            if all(day in part.closed for part in parts)
        },
        waiting=tuple(sorted(waiting, key=lambda row: orders.index(row.order_id))),
        told={name: day for part in parts for name, day in part.told.items()},
        engine=", ".join(sorted({part.engine for part in parts})),
        cost=sum(part.cost for part in parts),
        miles=sum(part.miles for part in parts),
        late_cost=sum(part.late_cost for part in parts),
    )
