"""What a reason says would make room does make room.

For every room that a reason names, over random days: the room is made in the tables (a later end of
the shift, a longer hose, a wider window, one more compartment or truck ...) and the day is planned
again from the earlier plan. Claimed, and checked for each of them:

1. The engines' own last look at an order (Draft.last_chance) takes the order in, beside everything
   that was served before, for less than it costs to leave it out.
2. The audit finds nothing in the plan, nor in the reasons of the plan before.
3. The engines' improvement from there never gives the money back.

A longer run over other days: `python -m tests.bench.bench_offers 5000 5300`.

Not claimed: that an engine started from nothing finds a plan with the order, or that no other
unserved order would make better use of the room.
"""

from __future__ import annotations

import functools
import random
from collections.abc import Mapping
from dataclasses import replace
from math import inf

import pytest

from planner.day.day import Day, day_of
from planner.day.orders import WeatherHour
from planner.plan.assemble import Origin, make_plan
from planner.plan.audit import audit
from planner.prepare import prepare_day
from planner.routing.compiled.python_api import place_refills
from planner.routing.engines.nearest_fit import nearest_fit, serve_what_fits
from planner.routing.exact.route_cost import DayTables
from planner.routing.problem import Loading, RoutingProblem, StopKind, StopToken
from planner.routing.repair.draft import Draft, nothing_loaded
from planner.routing.repair.improve import improve
from planner.routing.unserved.reasons import Reason, explained
from planner.routing.unserved.relax import FoundRoom
from tests.made_room import extra_name, part_names, tightened, with_room_made
from tests.random_days import random_day, straight_travel
from tests.random_problems import problem_of

SEEDS = (*range(120), 963)
"""963: when it is offered, the truck has sprayed what was left aboard, and is lighter for it."""


@functools.cache
def planned(seed: int) -> tuple[Day, Draft, dict[str, Reason]]:
    """A random day, every second with short shifts, its plan and why orders are not served."""
    day = random_day(seed, "small" if seed % 3 else "medium")
    if seed % 2:
        day = tightened(day, 0.4 + 0.1 * (seed % 3))
    draft = nearest_fit(DayTables(problem_of(day)), StopToken())
    serve_what_fits(draft, lambda: False)
    return day, draft, explained(draft)


def loading_in(problem: RoutingProblem, row: int, wanted: tuple[str | None, ...]) -> Loading:
    """The truck's loading of that kind, or one that carries at least as much of each of its mixes
    on the same line (near copies are not listed)."""
    truck = problem.trucks[row]
    for loading in truck.loadings:
        if loading.mix_of == wanted:
            return loading

    def gal(mix_of: tuple[str | None, ...]) -> dict[tuple[str, str], float]:
        sums: dict[tuple[str, str], float] = {}
        for part, mix_id in zip(truck.compartments, mix_of, strict=True):
            if mix_id is not None:
                key = mix_id, part.line_id
                sums[key] = sums.get(key, 0.0) + part.capacity_gal - part.heel_gal
        return sums

    need = gal(wanted)
    for loading in truck.loadings:
        has = gal(loading.mix_of)
        if all(has.get(key, 0.0) >= amount for key, amount in need.items()):
            return loading
    raise AssertionError(f"{truck.truck_id} cannot be loaded with {wanted}")


def earlier_plan(day: Day, old: Draft, order_id: str, found: FoundRoom) -> Draft:
    """The earlier plan in the day with the room made. A truck that the room loads another way gets
    that loading and goes on with all that it did."""
    problem = problem_of(day)
    rows = {order.order_id: row for row, order in enumerate(problem.orders)}
    sites = {site.site_id: row for row, site in enumerate(problem.sites)}
    room = found.room
    names = [truck.truck_id for truck in old.tables.problem.trucks]
    loads, stops = [], []
    for row, truck in enumerate(problem.trucks):
        if truck.truck_id not in names:
            assert truck.truck_id == extra_name(room)
            assert room.loading is not None
            loads.append(loading_in(problem, row, room.loading.mix_of))
            stops.append([])
            continue
        was = names.index(truck.truck_id)
        wanted = old.days[was].loading.mix_of
        if was == found.row and room.loading is not None and not room.one_more:
            wanted = room.loading.mix_of
        idle = not old.stops[was] and was != found.row
        loads.append(nothing_loaded(truck) if idle else loading_in(problem, row, wanted))
        refs = old.tables.stops(old.stops[was])
        stops.append(
            [
                -1
                if stop.kind is StopKind.LUNCH
                else rows[stop.ref]
                if stop.kind is StopKind.ORDER
                else len(rows) + sites[stop.ref]
                for stop in refs
            ]
        )
    draft = Draft(DayTables(problem), loads)
    for row, sequence in enumerate(stops):
        cost = draft.days[row].cost(sequence)
        loaded_anew = row == found.row and room.loading is not None and not room.one_more
        if cost == inf or (loaded_anew and sequence):
            placed = place_refills(draft.days[row], [s for s in sequence if 0 <= s < len(rows)])
            assert placed is not None, f"{found.room} breaks {problem.trucks[row].truck_id}"
            cost, sequence = placed
        draft.put(row, sequence, cost)
    return draft


def violations(day: Day, draft: Draft, told: Mapping[str, tuple[str, str]]) -> list[str]:
    """What the audit finds in the draft as a plan. told: reasons, by order."""
    names = [draft.tables.problem.orders[row].order_id for row in draft.unserved]
    words = dict.fromkeys(names, ("STOPPED", "not asked for")) | told
    travel = straight_travel(day)
    plan = make_plan(
        prepare_day(day),
        draft.answer(words),
        travel,
        Origin(1, "count 1", "nearest-fit", "straight lines", ""),
    )
    return [str(found) for found in audit(plan, day, travel)]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_room_that_is_named_serves_the_order(seed: int) -> None:
    day, old, why = planned(seed)
    reasons = {name: (one.code, one.text) for name, one in why.items()}
    assert violations(day, old, reasons) == [], reasons
    served = {
        old.tables.problem.orders[order].order_id
        for row in range(len(old.days))
        for order in old.orders_of(row)
    }
    for order_id, reason in why.items():
        for found in reason.rooms:
            roomy = with_room_made(day, order_id, found.room, reason.text)
            draft = earlier_plan(roomy, old, order_id, found)
            rows = {o.order_id: row for row, o in enumerate(draft.tables.problem.orders)}
            mine = [rows[name] for name in part_names(order_id, found.room)]
            before = draft.total
            draft.last_chance(mine)
            told = f"{order_id}: {reason.text}: {found.room}"
            assert not set(mine) & set(draft.unserved), told
            assert not {rows[name] for name in served} & set(draft.unserved), told
            assert draft.total < before, told
            assert violations(roomy, draft, {}) == [], told
            better = improve(draft, 3, random.Random(seed), lambda at: 1.0, lambda: False)
            assert better.total <= draft.total, told


@pytest.mark.parametrize("seed", range(5300, 5312))
def test_no_hour_is_offered_that_the_weather_closes(seed: int) -> None:
    """The wind leaves 6 to 7 AM. A customer who is there all day has no window to make longer."""
    day = random_day(seed, "small")
    rows = [
        WeatherHour(day.date, hour, area, 3.0 if hour == 6 else 60.0, None, 62.0, 0.0, 0.0)
        for hour in range(24)
        for area in ("", "north")
    ]
    day = day_of(replace(day.workbook, weather=tuple(rows)), day.date)
    draft = nearest_fit(DayTables(problem_of(day)), StopToken())
    serve_what_fits(draft, lambda: False)
    for order_id, reason in explained(draft).items():
        if day.orders[order_id].windows is None:
            assert all(found.room.window is None for found in reason.rooms), reason.text


def test_the_random_days_name_every_kind_of_room() -> None:
    """Else 'every room' would say little."""
    seen: dict[str, int] = {}
    for seed in SEEDS:
        for reason in planned(seed)[2].values():
            for found in reason.rooms:
                for kind in found.room.kind:
                    seen[kind] = seen.get(kind, 0) + 1
    for kind in ("one_more", "compartment", "allowed", "hose", "later_min", "window", "payload_lb"):
        assert seen.get(kind, 0) >= 3, seen
