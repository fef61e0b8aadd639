"""What every engine's answer must keep, and what the OR-Tools engine promises on top."""

from __future__ import annotations

import functools
import math
import threading
from dataclasses import replace

import pytest

from planner.plan.audit.rules_day import ENGINES as AUDITED_ENGINES
from planner.routing.engines import ENGINE_NAMES, engine_named
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.walk import full_walk, walk
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions, StopKind
from planner.routing.unserved.reasons import UNSERVED_CODES
from tests.routing_cases import gone_out, random_problem, wished
from tests.test_routing_refills import price_apart

CASES = [
    random_problem(seed, orders=size, trucks=trucks, limited=seed % 4 == 3, tight=seed % 3 == 0)
    for seed, (size, trucks) in enumerate([(5, 1), (9, 2), (14, 2), (20, 3), (24, 3), (16, 4)] * 2)
]
CASES += [gone_out(CASES[row], row) for row in (1, 2, 4, 5)]
CASES += [wished(CASES[row], row) for row in (3, 13, 15)]


def quiet(share: float, text: str) -> None:
    assert 0.0 <= share <= 1.0
    assert text


def solve(name: str, problem: RoutingProblem, count: int = 8, seed: int = 1) -> Solution:
    return engine_named(name).solve(problem, SolveOptions(Effort(count=count), seed, quiet))


@functools.cache
def solved(name: str, row: int) -> Solution:
    """The answer to a case, for every test that looks at it."""
    return solve(name, CASES[row])


def money(problem: RoutingProblem, answer: Solution) -> float:
    """Cost of the trucks and prices of what is left out."""
    total = sum(order.price for order in problem.orders if order.order_id in answer.unserved)
    for truck, done in zip(problem.trucks, answer.routes, strict=True):
        total += walk(problem, truck, done.loading, done.stops).cost
    return total


@pytest.mark.parametrize("name", ENGINE_NAMES)
@pytest.mark.parametrize("row", range(len(CASES)))
def test_answers_keep_every_rule(name: str, row: int) -> None:
    """Outside reference: the rules worked apart in test_routing_refills (ours)."""
    problem = CASES[row]
    answer = solved(name, row)
    tables = DayTables(problem)
    served = []
    for at, (truck, done) in enumerate(zip(problem.trucks, answer.routes, strict=True)):
        assert done.truck_id == truck.truck_id
        found = walk(problem, truck, done.loading, done.stops)
        assert found.feasible, (found.fault, found.fault_stop)
        if done.stops:
            day = TruckDay(tables, at, done.loading)
            apart = price_apart(problem, day, tables.numbers(done.stops))
            assert apart == pytest.approx(found.cost, abs=1e-6)
            assert done.loading in truck.loadings
        served += [stop.ref for stop in done.stops if stop.kind is StopKind.ORDER]
    every = sorted(order.order_id for order in problem.orders)
    assert sorted([*served, *answer.unserved]) == every
    for code, words in answer.unserved.values():
        assert code in UNSERVED_CODES
        assert words


@pytest.mark.parametrize("row", range(len(CASES)))
def test_ortools_is_never_dearer_than_nearest_fit(row: int) -> None:
    problem = CASES[row]
    plain = money(problem, solved("nearest-fit", row))
    assert money(problem, solved("ortools", row)) <= plain + 1e-6


@pytest.mark.parametrize("name", ENGINE_NAMES)
def test_same_problem_seed_and_count_give_the_same_answer(name: str) -> None:
    problem = CASES[4]
    first = solve(name, problem, count=4, seed=5)
    assert solve(name, problem, count=4, seed=5) == first


@pytest.mark.parametrize("name", ENGINE_NAMES)
def test_refills_are_partial_where_less_is_needed(name: str) -> None:
    """A last refill pours what the rest of the day needs, not a full truck (worked by hand: 60 gal
    of one mix for a 30-gal compartment asks for a second and third fill below the brim)."""
    problem = random_problem(2, orders=6, trucks=1)
    truck = problem.trucks[0]
    parts = tuple(
        replace(
            part,
            capacity_gal=30.0 if part.compartment_id == "1" else 10.0,
            heel_gal=0.0,
            start_gal=0.0,
            start_mix=None,
        )
        for part in truck.compartments
    )
    truck = replace(
        truck,
        compartments=parts,
        payload_lb=9999.0,
        lunch_min=0.0,
        shift_end_min=1200.0,
        latest_return_min=1200.0,
        loadings=(replace(truck.loadings[0], mix_of=("WEED", None, None)),),
    )
    orders = tuple(
        replace(order, mix_id="WEED", gal=11.0, windows=None, hose_run_ft=0.0)
        for order in problem.orders
    )
    problem = replace(problem, trucks=(truck,), orders=orders)
    answer = solve(name, problem)
    assert not answer.unserved
    tables = DayTables(problem)
    day = TruckDay(tables, 0, answer.routes[0].loading)
    found = full_walk(day, tables.numbers(answer.routes[0].stops))
    poured = [
        timing.gal
        for stop, timing in zip(answer.routes[0].stops, found.timings, strict=True)
        if stop.kind is StopKind.REFILL
    ]
    assert len(poured) >= 2
    assert all(0.0 < gal < 30.0 for gal in poured)


def test_engines_work_in_a_thread_and_by_seconds() -> None:
    """Signals belong to the main thread; elsewhere the engine must do without."""
    answers: list[Solution] = []

    def work() -> None:
        engine = engine_named("ortools")
        answers.append(engine.solve(CASES[1], SolveOptions(Effort(seconds=0.3), progress=quiet)))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert money(CASES[1], answers[0]) < math.inf


def test_an_empty_day_and_a_fleet_that_can_do_nothing() -> None:
    problem = CASES[0]
    for name in ENGINE_NAMES:
        assert solve(name, replace(problem, orders=())).unserved == {}
        helpless = replace(problem.trucks[0], loadings=())
        answer = solve(name, replace(problem, trucks=(helpless,)))
        assert len(answer.unserved) == len(problem.orders)
        assert answer.routes[0].stops == ()


def test_unknown_engine() -> None:
    with pytest.raises(KeyError):
        engine_named("magic")


def test_the_audit_knows_every_engine() -> None:
    """It keeps a list of its own; the plan of an engine that is not in it cannot be written."""
    assert {*ENGINE_NAMES, "by hand"} == AUDITED_ENGINES, "ENGINES of plan/audit/rules_day.py"
