"""A RoutingProblem as flat arrays for compiled code.

Rows: orders, sites, trucks and places as in the problem; loadings of all trucks in one list; mixes
and lines numbered here. Stop orders are numbers as in planner/routing/exact/route_cost.py: an order
is its row, a refill is the number of orders + the row of its site, lunch is -1.
"""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from math import inf
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from planner.routing.compiled import columns as c
from planner.routing.compiled.group_arrays import group_arrays
from planner.routing.compiled.machine_code import handed_over
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.route_preferences import UNTOLD, told_spans
from planner.routing.exact.tanks import Tanks
from planner.routing.problem import RoutingProblem, TruckSpec

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@handed_over
class DayArrays(NamedTuple):
    """A day; columns are said in columns.py. Unlimited = inf. tuning: steers the search.

    all_made: every site makes every mix. order, order_at, window: orders; group, member,
    choice: those whose days depend on each other. site, site_place (matrix
    row), site_makes (site, mix), near_sites (profile, place, rank): sites; the last row of
    site_makes is no site and makes nothing. legs: drive. truck, truck_at, line, part. wish (order,
    truck): price of giving an order to a truck, inf = it may not do it. load, load_part: every
    loading of every truck; load_rows (loading, mix, drawing order): compartments, -1 = no more;
    load_usable (loading, mix) gallons; load_line (loading, mix), -1 = not on board.
    """

    tuning: Floats
    setup_min: float
    margin: float
    least_setup_min: float
    least_flow: float
    all_made: bool
    order: Floats
    order_at: Whole
    window: Floats
    group: Whole
    member: Whole
    choice: Whole
    site: Floats
    site_place: Whole
    site_makes: Flags
    near_sites: Whole
    legs: Floats
    truck: Floats
    truck_at: Whole
    wish: Floats
    line: Floats
    part: Floats
    load: Floats
    load_part: Floats
    load_rows: Whole
    load_usable: Floats
    load_line: Whole


def day_arrays(problem: RoutingProblem) -> DayArrays:
    """The arrays of a problem in which every truck has a loading."""
    on_the_road = any(truck.start is not None for truck in problem.trucks)
    tables = DayTables(problem) if on_the_road else None
    idle_money = [
        0.0
        if tables is None or truck.start is None
        else TruckDay(tables, row, truck.loadings[0]).idle_cost
        for row, truck in enumerate(problem.trucks)
    ]
    mixes = _mixes(problem)
    return DayArrays(**_shared(problem, mixes), **_fleet(problem, mixes, idle_money))


def route_arrays(day: TruckDay) -> DayArrays:
    """The arrays of one truck with one loading, for orders that it can do: row 0 of a fleet of one,
    with the mixes on board only."""
    tables, problem = day.tables, day.tables.problem
    mixes = _mixes(problem)
    if tables.arrays is None or tables.arrays[0] is not problem:
        tables.arrays = problem, _shared(problem, mixes, tables.arrays and tables.arrays[1])
    shared = tables.arrays[1]
    on_board = [mix_id for mix_id in mixes if mix_id in day.mixes]
    columns = [mixes[mix_id] for mix_id in on_board]
    # Mixes of orders that it cannot do are never looked at.
    place = np.zeros(len(mixes), dtype=np.int64)
    place[columns] = range(len(columns))
    order_at = shared["order_at"].copy()
    order_at[:, c.MIX] = place[order_at[:, c.MIX]]
    price = problem.preferences.truck_price
    alone = replace(
        problem,
        trucks=(replace(day.truck, loadings=(day.loading,)),),
        preferences=replace(
            problem.preferences, truck_price=None if price is None else price[day.row : day.row + 1]
        ),
    )
    mine = {"order_at": order_at, "site_makes": shared["site_makes"][:, columns].copy()}
    fleet = _fleet(alone, {mix_id: k for k, mix_id in enumerate(on_board)}, [day.idle_cost])
    return DayArrays(**(shared | mine | fleet))


def _shared(
    problem: RoutingProblem, mixes: dict[str, int], known: dict[str, Any] | None = None
) -> dict[str, Any]:
    """What all trucks share. known: of a problem with the same places and drives."""
    orders, sites = problem.orders, problem.sites
    spans = [
        [(-inf, inf)]
        if order.windows is None
        else sorted((window.open_min, window.close_min) for window in order.windows)
        for order in orders
    ]
    ends = list(itertools.accumulate(len(one) for one in spans))
    group_of = {name: row for row, group in enumerate(problem.groups) for name in group.order_ids}
    makes = [[site.mixes is None or mix_id in site.mixes for mix_id in mixes] for site in sites]
    return {
        "tuning": np.array([float(getattr(problem.tuning, name)) for name in c.TUNED]),
        "setup_min": float(problem.setup_min_per_visit),
        "margin": 1.0 + problem.fill_margin_percent / 100.0,
        "least_setup_min": min(site.setup_min for site in sites),
        "least_flow": min(site.fill_gal_per_min for site in sites),
        "all_made": all(site.mixes is None for site in sites),
        "order": _order_floats(problem),
        "order_at": _whole(
            [
                (
                    order.place,
                    mixes[order.mix_id],
                    end - len(one),
                    end,
                    group_of.get(order.order_id, -1),
                )
                for order, one, end in zip(orders, spans, ends, strict=True)
            ],
            5,
        ),
        "window": _floats([span for one in spans for span in one], 2),
        **group_arrays(problem),
        "site": _floats(
            [
                (
                    -inf if site.open_min is None else site.open_min,
                    inf if site.close_min is None else site.close_min,
                    site.setup_min,
                    site.fill_gal_per_min,
                )
                for site in sites
            ],
            4,
        ),
        "site_place": np.array([site.place for site in sites], dtype=np.int64),
        "site_makes": np.array([*makes, [False] * len(mixes)], dtype=np.bool_),
        "near_sites": _near_sites(problem) if known is None else known["near_sites"],
        "legs": _legs(problem) if known is None else known["legs"],
    }


def _legs(problem: RoutingProblem) -> Floats:
    """day.legs."""
    there = problem.drive_min, problem.drive_miles
    back = (drive.transpose(0, 2, 1) for drive in there)
    return np.stack([*there, *back], axis=-1).astype(np.float64, copy=False)


def _fleet(
    problem: RoutingProblem, mixes: dict[str, int], idle_money: Sequence[float]
) -> dict[str, Any]:
    """What is of each truck and loading. idle_money: by truck, of a day without orders."""
    return {
        "truck": _truck_floats(problem, idle_money),
        "truck_at": _truck_rows(problem),
        "wish": np.ascontiguousarray(_wish(problem).T),
        "line": _lines(problem, mixes),
        "part": _parts(problem),
        **_loadings(problem, mixes),
    }


def _whole(rows: Sequence[tuple[int, ...]], columns: int) -> Whole:
    return np.array(rows, dtype=np.int64).reshape(-1, columns)


def _floats(rows: Sequence[tuple[float, ...]], columns: int) -> Floats:
    return np.array(rows, dtype=np.float64).reshape(-1, columns)


def _order_floats(problem: RoutingProblem) -> Floats:
    """day.order."""
    told = told_spans(problem) or [UNTOLD] * len(problem.orders)
    xy = problem.preferences.xy_miles
    return _floats(
        [
            (
                order.gal,
                order.price,
                order.hose_run_ft,
                *span,
                *((0.0, 0.0) if xy is None else xy[order.place]),
                -inf,
            )
            for order, span in zip(problem.orders, told, strict=True)
        ],
        9,
    )


def _truck_floats(problem: RoutingProblem, idle_money: Sequence[float]) -> Floats:
    """day.truck."""
    preferences = problem.preferences
    per_squared_min = preferences.per_squared_hour / 3600.0
    rows = []
    for truck, idle in zip(problem.trucks, idle_money, strict=True):
        start = truck.start
        dearest = truck.pay_per_min + truck.overtime_pay_per_min
        dearest += 2.0 * per_squared_min * (truck.latest_return_min - truck.shift_start_min)
        rows.append(
            (
                truck.shift_start_min,
                truck.shift_end_min,
                truck.latest_return_min,
                truck.lunch_min,
                truck.lunch_earliest_min,
                truck.lunch_latest_min,
                truck.payload_lb,
                truck.pay_per_min,
                truck.overtime_pay_per_min,
                truck.cost_per_mile,
                dearest,
                truck.shift_start_min + truck.prepare_min if start is None else start.time_min,
                0.0 if start is None else start.miles,
                idle,
                preferences.per_refill,
                per_squared_min,
                0.0 if preferences.xy_miles is None else preferences.per_mile_apart,
                float(told_spans(problem) is not None),
                truck.day_min,
                *_loading(problem, truck),
            )
        )
    return _floats(rows, 22)


def _loading(problem: RoutingProblem, truck: TruckSpec) -> tuple[float, float, float]:
    """What the departure's fill takes: set-up, gallons a minute, and whether beside the clock."""
    if truck.loads is None or truck.start is not None:
        return 0.0, inf, 0.0
    yard = next(site for site in problem.sites if site.site_id == truck.yard_id)
    return yard.setup_min, yard.fill_gal_per_min, float(truck.loads == "evening")


def _wish(problem: RoutingProblem) -> Floats:
    """day.wish by truck and order."""
    trucks, orders = problem.trucks, problem.orders
    prices = problem.preferences.truck_price
    wish = np.zeros((len(trucks), len(orders))) if prices is None else prices.astype(np.float64)
    allowed = [[truck.truck_id in order.allowed_trucks for order in orders] for truck in trucks]
    return np.where(np.array(allowed, dtype=np.bool_).reshape(wish.shape), wish, inf)


def _truck_rows(problem: RoutingProblem) -> Whole:
    """day.truck_at."""
    site_row = {site.site_id: row for row, site in enumerate(problem.sites)}
    rows, first = [], 0
    for truck, like in zip(problem.trucks, _likeness(problem), strict=True):
        yard, start = site_row[truck.yard_id], truck.start
        rows.append(
            (
                yard,
                truck.profile,
                like,
                len(truck.compartments),
                first,
                len(truck.loadings),
                problem.sites[yard].place if start is None else start.place,
                yard if start is None else len(problem.sites),
                int(start is not None),
                int(start is not None and start.lunched),
                truck.day,
            )
        )
        first += len(truck.loadings)
    return _whole(rows, 11)


def _mixes(problem: RoutingProblem) -> dict[str, int]:
    """Rows of the mixes that are ordered; others are only carried."""
    named = dict.fromkeys(order.mix_id for order in problem.orders)
    return {mix_id: row for row, mix_id in enumerate(named)}


def _near_sites(problem: RoutingProblem) -> Whole:
    """Site rows by drive there and back."""
    places = np.array([site.place for site in problem.sites], dtype=np.int64)
    away = problem.drive_min[:, :, places] + problem.drive_min[:, places, :].transpose(0, 2, 1)
    return np.ascontiguousarray(
        np.argsort(away, axis=2, kind="stable")[:, :, : problem.tuning.refill_sites_near]
    )


def _likeness(problem: RoutingProblem) -> list[int]:
    """Trucks that differ by name only share a number."""
    known: dict[object, int] = {}
    numbers = []
    for truck, row in zip(problem.trucks, _wish(problem), strict=True):
        key = (replace(truck, truck_id=""), tuple(row))
        numbers.append(known.setdefault(key, len(known)))
    return numbers


def _lines(problem: RoutingProblem, mixes: dict[str, int]) -> Floats:
    lines = np.ones((len(problem.trucks), max(len(truck.lines) for truck in problem.trucks), 5))
    for row, truck in enumerate(problem.trucks):
        for place, line in enumerate(truck.lines):
            minutes = line.hose_gal / line.gun_gal_per_min
            # A mix that is not ordered is unlike each that is.
            held = line.start_mix
            known = -1 if held is None else mixes.get(held, len(mixes))
            lines[row, place] = (line.hose_ft, line.hose_gal, minutes, line.gun_gal_per_min, known)
    return lines


def _parts(problem: RoutingProblem) -> Floats:
    most = max(len(truck.compartments) for truck in problem.trucks)
    parts = np.zeros((len(problem.trucks), most, 2))
    for row, truck in enumerate(problem.trucks):
        for place, part in enumerate(truck.compartments):
            parts[row, place] = (part.capacity_gal, part.heel_gal)
    return parts


def _loadings(problem: RoutingProblem, mixes: dict[str, int]) -> dict[str, Any]:
    total = sum(len(truck.loadings) for truck in problem.trucks)
    most = max(len(truck.compartments) for truck in problem.trucks)
    load, part = np.zeros((total, 4)), np.zeros((total, most, 2))
    rows = np.full((total, len(mixes), most), -1, dtype=np.int64)
    usable = np.zeros((total, len(mixes)))
    line = np.full((total, len(mixes)), -1, dtype=np.int64)
    at = 0
    for truck in problem.trucks:
        lines = {spec.line_id: place for place, spec in enumerate(truck.lines)}
        for loading in truck.loadings:
            tanks = Tanks(problem, truck, loading)
            first = loading.cleaning_min if truck.loads == "morning" else 0.0
            beside = loading.cleaning_min - first
            cost = truck.cost_per_day + truck.pay_per_min * beside
            load[at] = (cost, float(tanks.weight_binds), first, truck.paid_least_min - beside)
            part[at, : len(tanks.start), 0] = tanks.start
            part[at, : len(tanks.start), 1] = tanks.density
            for mix_id, parts, gal in zip(
                tanks.mixes, tanks.rows_of, tanks.usable_gal, strict=True
            ):
                k = mixes.get(mix_id)
                if k is not None:
                    rows[at, k, : len(parts)] = parts
                    usable[at, k] = gal
                    line[at, k] = lines[truck.compartments[parts[0]].line_id]
            at += 1
    return {
        "load": load,
        "load_part": part,
        "load_rows": rows,
        "load_usable": usable,
        "load_line": line,
    }
