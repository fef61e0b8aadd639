"""Refill stops and lunch are put where they cost least, and the price of a stop order is right."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from planner.day.clock import Window
from planner.routing.compiled.day_arrays import route_arrays
from planner.routing.compiled.machine_code import in_machine_code
from planner.routing.compiled.python_api import Arrays, as_views, place_refills
from planner.routing.compiled.refills import place_refills as program
from planner.routing.compiled.scratch import new_scratch
from planner.routing.exact.route_cost import LUNCH, DayTables, TruckDay
from planner.routing.problem import RoutingProblem
from tests.few import few
from tests.random_problems import problem_of_random_day
from tests.routing_cases import gone_out, random_problem, wished


def price_apart(problem: RoutingProblem, day: TruckDay, stops: Sequence[int]) -> float:
    """docs/rules.md 8-15 worked stop by stop and gallon by gallon, written apart from the engine;
    uses only planner.mixing.fills, which is the rules' own arithmetic. inf = not allowed."""
    from planner.mixing.fills import Level, draw, fill_gallons, weight_lb

    truck, loading = day.truck, day.loading
    orders, sites = problem.orders, problem.sites
    count = len(orders)
    line_of_mix: dict[str, str] = {}
    levels = []
    for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        same = mix_id == part.start_mix or mix_id is None
        held = mix_id or part.start_mix
        if mix_id:
            line_of_mix[mix_id] = part.line_id
        levels.append(
            Level(
                part.compartment_id,
                mix_id,
                part.capacity_gal,
                part.heel_gal,
                part.start_gal if same else 0.0,
                problem.density_lb_per_gal[held] if held else 0.0,
            )
        )
    lines = {line.line_id: line for line in truck.lines}
    filled_levels = tuple(levels)

    start = truck.start
    in_hose = {line.line_id: line.start_mix for line in truck.lines if line.start_mix is not None}

    def hose_uses() -> list[tuple[float, float]]:
        held = in_hose.copy()
        uses = []
        for stop in stops:
            if not 0 <= stop < count:
                uses.append((0.0, 0.0))
                continue
            mix = orders[stop].mix_id
            line = lines[line_of_mix[mix]]
            if held.get(line.line_id) == mix:
                uses.append((0.0, 0.0))
            else:
                minutes = line.hose_gal / line.gun_gal_per_min if line.line_id in held else 0.0
                uses.append((line.hose_gal, minutes))
            held[line.line_id] = mix
        return uses

    uses = hose_uses()

    def topped_up(levels: tuple[Level, ...], at: int, site_id: str) -> tuple[Level, ...] | None:
        site = next(s for s in sites if s.site_id == site_id)
        spray: dict[str, float] = {}
        hose: dict[str, float] = {}
        for mix in line_of_mix:
            if site.mixes is not None and mix not in site.mixes:
                continue
            spray[mix] = hose[mix] = 0.0
            for ahead in range(at, len(stops)):
                stop = stops[ahead]
                if stop >= count:
                    made = sites[stop - count].mixes
                    if made is None or mix in made:
                        break
                elif stop != LUNCH and orders[stop].mix_id == mix:
                    spray[mix] += orders[stop].gal
                    hose[mix] += uses[ahead][0]
        added = fill_gallons(levels, spray, hose, problem.fill_margin_percent, truck.payload_lb)
        after = tuple(
            Level(
                x.compartment_id,
                x.mix_id,
                x.capacity_gal,
                x.heel_gal,
                x.gal + gal,
                x.density_lb_per_gal,
            )
            for x, gal in zip(levels, added, strict=True)
        )
        return after if weight_lb(after) <= truck.payload_lb + 1e-6 else None

    after: tuple[Level, ...] | None = filled_levels
    now, here, miles, lunched = truck.shift_start_min, sites[0].place, 0.0, False
    if start is not None:
        now, here, miles, lunched = start.time_min, start.place, start.miles, start.lunched
    else:
        after = topped_up(filled_levels, 0, truck.yard_id)
    if after is None:
        return math.inf
    wish = 0.0
    for at, stop in enumerate(stops):
        if stop == LUNCH:
            begin = max(now, truck.lunch_earliest_min)
            if (at == 0 and start is None) or lunched or begin > truck.lunch_latest_min:
                return math.inf
            lunched, now = True, begin + truck.lunch_min
            continue
        site = sites[stop - count] if stop >= count else None
        there = site.place if site else orders[stop].place
        now += problem.drive_min[0, here, there]
        miles += problem.drive_miles[0, here, there]
        here = there
        if site:
            if site.open_min is not None:
                now = max(now, site.open_min)
            refilled = topped_up(after, at + 1, site.site_id)
            if refilled is None:
                return math.inf
            poured = sum(x.gal for x in refilled) - sum(x.gal for x in after)
            after = refilled
            wish += problem.preferences.per_refill
            now += site.setup_min + poured / site.fill_gal_per_min
            if site.close_min is not None and now > site.close_min + 1e-9:
                return math.inf
            continue
        task = orders[stop]
        if task.mix_id not in line_of_mix or truck.truck_id not in task.allowed_trucks:
            return math.inf
        line = lines[line_of_mix[task.mix_id]]
        if line.hose_ft < task.hose_run_ft:
            return math.inf
        before = stops[at - 1] if at else None
        visit = before is not None and 0 <= before < count and orders[before].place == there
        work = uses[at][1] + task.gal / line.gun_gal_per_min
        work += 0.0 if visit else problem.setup_min_per_visit
        if task.windows is not None:
            fits = [
                max(now, window.open_min)
                for window in task.windows
                if max(now, window.open_min) + work <= window.close_min + 1e-9
            ]
            if not fits:
                return math.inf
            now = min(fits)
        wish += told_price(problem, stop, now)
        now += work
        need = task.gal + uses[at][0]
        if sum(x.pumpable_gal for x in after if x.mix_id == task.mix_id) < need - 1e-5:
            return math.inf
        after, _ = draw(after, task.mix_id, need)
    now += problem.drive_min[0, here, sites[0].place]
    miles += problem.drive_miles[0, here, sites[0].place]
    if now > truck.latest_return_min + 1e-9:
        return math.inf
    owed = truck.lunch_min > 0 and truck.shift_start_min < truck.lunch_latest_min
    if owed and now > truck.lunch_latest_min and not lunched:
        return math.inf
    paid = now - truck.shift_start_min - (truck.lunch_min if lunched else 0.0)
    done = [stop for stop in stops if 0 <= stop < count]
    wish += problem.preferences.per_squared_hour * (paid / 60.0) ** 2
    wish += orders_price(problem, day.row, done)
    return wish + (
        truck.cost_per_day
        + truck.pay_per_min * (paid + loading.cleaning_min)
        + truck.overtime_pay_per_min * max(0.0, now - truck.shift_end_min)
        + truck.cost_per_mile * miles
    )


def told_price(problem: RoutingProblem, order: int, begin_min: float) -> float:
    """Price of beginning then; what customers were told, worked apart from the engine."""
    spans = problem.preferences.told
    span = None if spans is None else spans[order]
    if span is None or span.open_min - 1e-9 <= begin_min <= span.close_min + 1e-9:
        return 0.0
    return problem.preferences.told_price[order]


def orders_price(problem: RoutingProblem, truck_row: int, done: list[int]) -> float:
    """Price of the truck having these orders: whose they are, and how far apart they lie."""
    wishes, price = problem.preferences, 0.0
    if wishes.truck_price is not None:
        price += float(wishes.truck_price[truck_row, done].sum())
    if wishes.xy_miles is not None and done:
        points = wishes.xy_miles[[problem.orders[order].place for order in done]]
        away = np.linalg.norm(points - points.mean(axis=0), axis=1)
        price += wishes.per_mile_apart * float(away.sum())
    return price


def placements(
    problem: RoutingProblem, day: TruckDay, sequence: Sequence[int], pairs: bool
) -> Iterator[list[int]]:
    """The sequence with none, one or (pairs) two refills before every order, and lunch anywhere.

    A refill straight after the departure or another refill must make a mix that was not made
    there: a stop that cannot fill anything would only be an excuse for an early lunch.
    """
    count = len(problem.orders)
    sites = range(len(problem.sites))
    used = {problem.orders[order].mix_id for order in sequence}

    is_out = day.truck.start is not None

    def worth(before: int | None, after: int) -> bool:
        made = problem.sites[after].mixes
        already = frozenset() if before is None else problem.sites[before].mixes
        if already is None:
            return False
        return any(mix not in already and (made is None or mix in made) for mix in used)

    gaps: list[tuple[int, ...]] = [(), *((count + site,) for site in sites)]
    if pairs:
        gaps += [
            (count + one, count + two)
            for one, two in itertools.permutations(sites, 2)
            if worth(one, two)
        ]
    begin = None if is_out else 0
    first = [gap for gap in gaps if not gap or (len(gap) == 1 and worth(begin, gap[0] - count))]
    if is_out:
        first += [gap for gap in gaps if len(gap) == 2]
    for choice in itertools.product(first, *([gaps] * (len(sequence) - 1))):
        if sum(map(len, choice)) > 4:
            continue
        stops = [
            stop for gap, order in zip(choice, sequence, strict=True) for stop in (*gap, order)
        ]
        yield stops
        if day.truck.lunch_min > 0:
            for at in range(0 if is_out else 1, len(stops) + 1):
                yield [*stops[:at], LUNCH, *stops[at:]]


def best_by_trying_all(
    problem: RoutingProblem, day: TruckDay, sequence: list[int], pairs: bool
) -> float:
    return min(
        (price_apart(problem, day, stops) for stops in placements(problem, day, sequence, pairs)),
        default=math.inf,
    )


def case(
    seed: int, limited: bool, *, out: bool = False, wish: bool = False
) -> tuple[RoutingProblem, TruckDay, list[int]]:
    """out: the truck is out already; wish: with wishes, but for times that customers were told,
    which the placement of refills does not see."""
    problem = random_problem(seed, orders=8, limited=limited, tight=seed % 3 == 0, gal=(6.0, 24.0))
    if out:
        problem = gone_out(problem, 2 * seed)
    if wish:
        problem = wished(problem, seed, told=False)
    loadings = problem.trucks[0].loadings
    day = TruckDay(DayTables(problem), 0, loadings[seed % len(loadings)])
    sequence = [row for row in range(8) if day.can[row]][: 3 if limited else 4]
    return problem, day, sequence


@pytest.mark.parametrize(
    ("limited", "out", "wish", "cases"),
    [
        (False, False, False, few(40, of=200)),
        (True, False, False, few(25, of=150)),
        (False, True, True, few(25, of=100)),
        (True, True, False, few(16, of=60)),
    ],
)
def test_placement_against_trying_all(limited: bool, out: bool, wish: bool, cases: int) -> None:
    """Two hundred cases: proved, and as engines do it, which may be dearer. out: the truck is out
    already; wish: with the prices of wishes.

    Outside reference: plain enumeration, priced by the recursion above (ours, written apart).
    """
    solved = refilled = dearer = 0
    for seed in range(cases):
        problem, day, sequence = case(seed, limited, out=out, wish=wish)
        if seed >= few(5, of=30):
            # Enumerating four orders takes a second each, three a tenth of that.
            sequence = sequence[:3]
        if not sequence:
            continue
        expected = best_by_trying_all(problem, day, sequence, pairs=limited)
        for prove in (True, False):
            found = place_refills(day, sequence, prove=prove)
            if found is None:
                assert expected == math.inf, (seed, prove)
                continue
            cost, stops = found
            assert day.cost(stops) == pytest.approx(cost, abs=1e-6), (seed, stops)
            if prove:
                assert cost == pytest.approx(expected, abs=1e-6), (seed, sequence)
            dearer += cost > expected + 1e-6
            solved += 1
            refilled += any(stop >= len(problem.orders) for stop in stops)
    assert solved > 0.6 * cases
    assert refilled > 0.25 * cases
    # Of a truck that is out among sites that make some mixes only, fewer ways are looked at.
    assert dearer <= (0.05 if out and limited else 0.02) * solved


def test_a_proof_of_days_with_waiting() -> None:
    """A way with fewer miles stays in when a later window absorbs the minutes that it costs more:
    minutes saved before that window save no pay, miles always do."""
    proved = 0
    for seed in range(0, 200, 2):
        problem, day, sequence = case(seed, limited=False)
        if len(sequence) < 4:
            continue
        factor = np.random.default_rng(seed).uniform(0.2, 3.0, problem.drive_miles.shape)
        truck = problem.trucks[0]
        parts = tuple(
            replace(part, capacity_gal=min(part.capacity_gal, 26.0), start_gal=0.0)
            for part in truck.compartments
        )
        truck = replace(
            truck,
            cost_per_mile=2.0,
            compartments=parts,
            lunch_min=0.0,
            payload_lb=9e4,
            shift_end_min=1100.0,
            latest_return_min=1200.0,
        )
        orders = list(problem.orders)
        for at, row in enumerate(sequence):
            windows = (Window(760.0, 1000.0),) if at == 3 else None
            orders[row] = replace(orders[row], gal=min(orders[row].gal, 22.0), windows=windows)
        problem = replace(
            problem,
            trucks=(truck,),
            orders=tuple(orders),
            drive_miles=problem.drive_miles * factor,
        )
        day = TruckDay(DayTables(problem), 0, day.loading)
        if not all(day.can[row] for row in sequence):
            continue
        expected = min(day.cost(stops) for stops in placements(problem, day, sequence, False))
        found = place_refills(day, sequence, prove=True)
        assert (math.inf if found is None else found[0]) == pytest.approx(expected), seed
        proved += found is not None
    assert proved > 30


def two_refills_at_most(day: TruckDay, sequence: list[int]) -> float:
    """Least cost of the sequence with up to two refills and lunch anywhere, by trying all."""
    sites = range(day.orders, day.orders + len(day.sites))
    gaps = list(itertools.product(range(len(sequence)), sites))
    best = math.inf
    for count in range(3):
        for chosen in itertools.combinations(gaps, count):
            stops = sequence.copy()
            for gap, site in reversed(chosen):
                stops.insert(gap, site)
            best = min(best, day.cost(stops))
            if day.truck.lunch_min > 0:
                for at in range(0 if day.is_out else 1, len(stops) + 1):
                    best = min(best, day.cost([*stops[:at], LUNCH, *stops[at:]]))
    return best


def test_longer_sequences_of_random_days() -> None:
    """Seven orders with leftovers, hours of sites, windows and two yards, against up to two refills
    by trying all: a proof is never dearer, and equal where it stops twice at most."""
    equal = 0
    cases = few(20, of=30)
    for seed in range(cases):
        problem = problem_of_random_day(seed, "medium")
        if problem is None:
            continue
        tables = DayTables(problem)
        for row, truck in enumerate(problem.trucks):
            day = TruckDay(tables, row, truck.loadings[0])
            sequence = [order for order in range(len(problem.orders)) if day.can[order]][:7]
            expected = two_refills_at_most(day, sequence) if sequence else day.idle_cost
            found = place_refills(day, sequence, prove=True)
            cost = math.inf if found is None else found[0]
            assert cost <= expected + 1e-6
            if found is None or sum(stop >= day.orders for stop in found[1]) <= 2:
                assert cost == pytest.approx(expected, abs=1e-6), (seed, row)
                equal += cost < math.inf
    assert equal > 1.3 * cases


def test_machine_code_places_the_same() -> None:
    """The same functions on the same arrays, compiled and not: stop orders to the letter."""
    pytest.importorskip("numba")
    for seed in range(40):
        _, day, sequence = case(seed, seed % 2 == 0, out=seed % 3 == 0, wish=seed % 5 == 0)
        arrays = route_arrays(day)
        found = []
        for view, place in ((as_views, program), (same, in_machine_code(program))):
            work = new_scratch(arrays, len(sequence))
            work.sequence[: len(sequence)] = sequence
            cost, size = place(view(arrays), view(work), 0, 0, len(sequence), math.inf)
            found.append((pytest.approx(cost, abs=1e-9), work.placed[:size].tolist()))
        assert found[0] == found[1], seed


def same(arrays: Arrays) -> Arrays:
    return arrays


def test_cost_agrees_with_the_rules_worked_apart() -> None:
    """Every placement of small cases priced by both, feasible or not."""
    compared = 0
    for seed in range(30):
        problem, day, sequence = case(seed, limited=seed % 2 == 0, out=seed % 3 == 0)
        if seed % 5 > 2:
            problem = wished(problem, seed)
            day = TruckDay(DayTables(problem), 0, day.loading)
        for stops in itertools.islice(placements(problem, day, sequence, pairs=False), 0, 4000, 4):
            expected = price_apart(problem, day, stops)
            assert day.cost(stops) == pytest.approx(expected, abs=1e-6), (seed, stops, day.fault)
            compared += expected < math.inf
    assert compared > 200
