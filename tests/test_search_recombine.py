"""The best day out of truck-days seen, against trying every combination of them."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from ortools.linear_solver import pywraplp

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.engines import search_engine
from planner.routing.problem import Effort, SolveOptions, Tuning
from planner.routing.search.cover import CoverPiece, cheapest_cover
from planner.routing.search.recombine import SeenDays, best_day
from tests.bench.instances import as_problem, bench_day
from tests.few import ALL

ORDERS, TRUCKS = 6, 3


@pytest.mark.parametrize("seed", range(8))
def test_the_best_day_is_the_best_of_all_combinations(seed: int) -> None:
    """Two trucks alike and one with a price of its own for staying at home and going out."""
    rng = np.random.default_rng(seed)
    problem = as_problem(bench_day(ORDERS, TRUCKS, 1))
    orders = tuple(replace(one, price=float(rng.integers(20, 90))) for one in problem.orders)
    other = replace(problem.trucks[0], truck_id="X", cost_per_day=5.0)
    day = day_arrays(replace(problem, orders=orders, trucks=(other, *problem.trucks[1:])))
    seen = [SeenDays(day, 100), SeenDays(day, 100)]
    for number in range(14):
        done = np.sort(rng.choice(ORDERS, rng.integers(1, 5), replace=False))
        kind = int(day.truck_at[number % TRUCKS, c.LIKENESS])
        key = kind, 0, done.tobytes()
        seen[number % 2].days[key] = float(rng.integers(30, 60) * len(done)), done.tolist()
    known = [(key[0], *value) for one in seen for key, value in one.days.items()]
    choices = [
        [(0.0, []), *((money, stops) for kind, money, stops in known if kind == row_kind)]
        for row_kind in day.truck_at[:, c.LIKENESS].tolist()
    ]
    price = np.array([one.price for one in orders])

    def money_of(days: tuple[tuple[float, list[int]], ...]) -> float:
        served = [order for _, stops in days for order in stops]
        if len(served) > len(set(served)):
            return np.inf
        left_out = np.delete(price, served).sum() if served else price.sum()
        return float(sum(money for money, _ in days) + left_out)

    least = min(map(money_of, product(*choices)))
    assert best_day(day, seen, least - 0.01, 10_000) is None
    found = best_day(day, seen, least + 0.01, 10_000)
    assert found is not None
    money = {(kind, tuple(stops)): cost for kind, cost, stops in known}
    kinds = day.truck_at[:, c.LIKENESS].tolist()
    chosen = [(money[kind, tuple(s)], s) for kind, s in zip(kinds, found[1], strict=True) if s]
    assert money_of(tuple(chosen)) == pytest.approx(least, abs=1e-6)


def test_a_program_that_gives_up_leaves_the_plan_as_it_is(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Prices are not asked for: OR-Tools would tell whoever waits that there are none."""
    day = day_arrays(as_problem(bench_day(ORDERS, TRUCKS, 1)))
    seen = SeenDays(day, 100)
    seen.days[int(day.truck_at[0, c.LIKENESS]), 0, np.arange(ORDERS).tobytes()] = (1.0, [0])
    assert best_day(day, [seen], 1e9, 10_000) is not None
    monkeypatch.setattr(pywraplp.Solver, "Solve", lambda _: pywraplp.Solver.ABNORMAL)
    assert best_day(day, [seen], 1e9, 10_000) is None
    assert capfd.readouterr().err == ""


def test_it_looks_only_so_often() -> None:
    """One truck-day that does all orders cheaply, among dear ones for a single order."""
    day = day_arrays(as_problem(bench_day(ORDERS, TRUCKS, 1)))
    seen, kind = SeenDays(day, 100), int(day.truck_at[0, c.LIKENESS])
    for done in ([4], list(range(ORDERS)), [2]):
        key = kind, 0, np.array(done, dtype=np.int64).tobytes()
        seen.days[key] = 7.0 if len(done) == ORDERS else 100.0, done
    found = best_day(day, [seen, seen], 1e3, 100)
    assert found is not None
    assert sorted(found[1]) == [[], [], list(range(ORDERS))]
    assert best_day(day, [seen], 1e3, 0) is None


# SCIP takes seconds for the seeds left out.
@pytest.mark.parametrize("seed", range(12) if ALL else (1, 3, *range(5, 12)))
def test_a_cover_costs_as_little_as_an_integer_program_says(seed: int) -> None:
    """Reference: SCIP, through OR-Tools, on the same choice as a set partitioning problem."""
    rng = np.random.default_rng(seed)
    orders, trucks, unused = 24, {0: 3, 1: 2}, {0: 0.0, 1: 4.0}
    pieces = [
        CoverPiece(float(rng.integers(40, 90)), frozenset([order]), None) for order in range(24)
    ]
    for _ in range(260):
        near = (rng.integers(orders) + rng.integers(0, 9, rng.integers(2, 9))) % orders
        kind, money = int(rng.integers(2)), float(rng.integers(5, 40))
        pieces.append(CoverPiece(money, frozenset(near.tolist()), kind))
    solver = pywraplp.Solver.CreateSolver("SCIP")
    takes = [solver.BoolVar("") for _ in pieces]
    for order in range(orders):
        solver.Add(
            sum(x for x, piece in zip(takes, pieces, strict=True) if order in piece.orders) == 1
        )
    out = {
        kind: sum(x for x, piece in zip(takes, pieces, strict=True) if piece.kind == kind)
        for kind in trucks
    }
    for kind, count in trucks.items():
        solver.Add(out[kind] <= count)
    home = sum(unused[kind] * (count - out[kind]) for kind, count in trucks.items())
    solver.Minimize(home + sum(x * piece.over for x, piece in zip(takes, pieces, strict=True)))
    assert solver.Solve() == solver.OPTIMAL
    least = solver.Objective().Value()

    def cover(below: float) -> list[int] | None:
        return cheapest_cover(pieces, orders, trucks, unused, below, 10_000_000)

    found = cover(least + 0.5)
    assert found is not None
    assert sorted(order for at in found for order in pieces[at].orders) == list(range(orders))
    left = Counter(trucks)
    left.subtract(kind for at in found if (kind := pieces[at].kind) is not None)
    assert min(left.values()) >= 0
    money = sum(unused[kind] * count for kind, count in left.items())
    assert money + sum(pieces[at].over for at in found) == pytest.approx(least)
    assert cover(least - 0.5) is None


def test_the_oldest_are_forgotten_and_the_cheapest_of_alike_is_kept() -> None:
    """A plan is seen with only loading, size, stops and money of each truck."""
    day = day_arrays(as_problem(bench_day(ORDERS, TRUCKS, 1)))
    seen = SeenDays(day, 2)

    class Plan:
        truck = np.zeros((TRUCKS, 3), dtype=np.int64)
        stops = np.zeros((TRUCKS, 8), dtype=np.int64)
        money = np.zeros((TRUCKS, 6))

    for stops, cost in (([0, 1], 9.0), ([2, 3], 5.0), ([3, 2], 4.0), ([2, 3], 6.0), ([4, 5], 7.0)):
        Plan.truck[0, [c.LOAD, c.SIZE]] = day.truck_at[0, c.FIRST_LOAD], 2
        Plan.stops[0, :2], Plan.money[0, c.COST] = stops, cost
        seen.see(Plan)  # type: ignore[arg-type]
    assert list(seen.days.values()) == [(4.0, [3, 2]), (7.0, [4, 5])]


@pytest.mark.parametrize(("orders_most", "times"), [(ORDERS, 4), (ORDERS - 1, 1)])
def test_a_large_day_is_put_together_at_the_end_only(
    monkeypatch: pytest.MonkeyPatch, orders_most: int, times: int
) -> None:
    asked: list[float] = []
    monkeypatch.setattr(search_engine, "best_day", lambda *given: asked.append(given[2]))
    effort = Effort(count=2, tuning=Tuning(search_recombine_orders=orders_most))
    problem = replace(as_problem(bench_day(ORDERS, TRUCKS, 1)), tuning=effort.tuning)
    search_engine.SearchEngine(threads=1).solve(problem, SolveOptions(effort))
    assert len(asked) == times
