"""A stop ends every engine with the best plan so far, wherever it comes: little is worked out after
it, every rule is kept, and every order is served or has a reason.

Stops come by the count of how often they were asked for, and at every progress call; no clock.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from planner.mixing.recipes import StockLimit
from planner.routing import effort as effort_module
from planner.routing.compiled import python_api
from planner.routing.engines import engine_named, ortools_engine
from planner.routing.engines.search_engine import STANDS
from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import walk
from planner.routing.loading import assign
from planner.routing.problem import Effort, RoutingProblem, Solution, SolveOptions, StopToken
from planner.routing.search import first_run
from planner.routing.tuning import Tuning
from planner.routing.unserved.reasons import UNSERVED_CODES
from tests.routing_cases import random_problem

PLACED_AFTER, PRICED_AFTER = 8, 400
"""Refills placed and stop orders priced once the stop is set, at most: a second even of long days
without machine code."""


def full_day(*, limits: bool = False) -> RoutingProblem:
    """More orders than fit, so that every step has work to do. limits: with a store that runs out
    and one hose at each site."""
    problem = random_problem(3, orders=16, trucks=2, tight=True, gal=(12.0, 24.0))
    if not limits:
        return problem
    mixes = {order.mix_id for order in problem.orders}
    return replace(
        problem,
        sites=tuple(replace(site, trucks_at_once=1) for site in problem.sites),
        stock=(StockLimit("P", "Product", "gal", 90.0, dict.fromkeys(mixes, 1.0)),),
    )


class After(StopToken):
    """Set once it was asked so often."""

    def __init__(self, asked: int) -> None:
        super().__init__()
        self.left = asked
        self.worked: Counter[str] = Counter()

    @property
    def is_set(self) -> bool:
        """Counts the question."""
        self.left -= 1
        return self.left < 0

    def watch(self, patch: pytest.MonkeyPatch) -> None:
        """Count what is worked out after it is set."""

        def counted(what: str, function: Any) -> Any:
            def call(*args: Any, **named: Any) -> Any:
                self.worked[what] += self.left < 0
                return function(*args, **named)

            return call

        place = python_api.place_refills
        for module in list(sys.modules.values()):
            if getattr(module, "place_refills", None) is place:
                patch.setattr(module, "place_refills", counted("placed", place))
        patch.setattr(TruckDay, "cost", counted("priced", TruckDay.cost))
        patch.setattr(assign, "LOOK_S", 0.001)


def check(problem: RoutingProblem, answer: Solution) -> int:
    """Every rule is kept, every order is somewhere; how many are served."""
    done: list[str] = []
    for truck, given in zip(problem.trucks, answer.routes, strict=True):
        walked = walk(problem, truck, given.loading, given.stops)
        assert walked.feasible, walked.fault
        done += [stop.ref for stop in given.stops if stop.kind == "order"]
    assert sorted([*done, *answer.unserved]) == sorted(o.order_id for o in problem.orders)
    assert {code for code, _ in answer.unserved.values()} <= set(UNSERVED_CODES)
    return len(done)


@pytest.mark.parametrize("limits", [False, True])
@pytest.mark.parametrize("name", ["nearest-fit", "ortools"])
def test_a_stop_at_any_question(name: str, limits: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    problem = full_day(limits=limits)
    whole = After(10**9)
    engine_named(name).solve(problem, SolveOptions(Effort(count=2), stop=whole))
    every = 10**9 - whole.left
    assert every > 50
    for asked in (0, 1, every // 3, 2 * every // 3, every - 2):
        stop = After(asked)
        with monkeypatch.context() as patch:
            stop.watch(patch)
            answer = engine_named(name).solve(problem, SolveOptions(Effort(count=2), stop=stop))
        check(problem, answer)
        assert stop.left < 0, asked
        assert stop.worked["placed"] <= PLACED_AFTER, asked
        assert stop.worked["priced"] <= PRICED_AFTER, asked


def test_the_progress_goes_on_while_a_plan_is_looked_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without machine code that lasts a minute, while the search is compiled."""
    monkeypatch.setattr(effort_module, "TELL_EVERY_S", 0.0)
    told, looked = list[str](), list[int]()

    def look(draft: object, over: Callable[[], bool]) -> None:
        before = len(told)
        assert not over()
        assert not over()
        looked.append(len(told) - before)

    monkeypatch.setattr(ortools_engine, "serve_what_fits", look)
    options = SolveOptions(Effort(count=1), progress=lambda share, text: told.append(text))
    engine_named("ortools").solve(full_day(), options)
    assert looked == [2]
    assert all(told)


@pytest.mark.parametrize("name", ["nearest-fit", "ortools", "search"])
def test_a_stop_by_who_listens_to_the_progress(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(effort_module, "TELL_EVERY_S", 0.0)
    problem = full_day()
    if name == "search":
        pytest.importorskip("numba")
        # Compiled before: what a stop does while that lasts is another test's.
        engine_named(name).solve(problem, SolveOptions(Effort(count=1)))
    calls = 0

    def count(share: float, text: str) -> None:
        nonlocal calls
        calls += 1

    engine_named(name).solve(problem, SolveOptions(Effort(count=2), progress=count))
    assert calls >= 2
    for at in sorted({0, 1, calls // 2, calls - 1}):
        stop, told = StopToken(), 0

        def listen(share: float, text: str, at: int = at, stop: StopToken = stop) -> None:
            nonlocal told
            if told == at:
                stop.set()
            told += 1

        answer = engine_named(name).solve(
            problem, SolveOptions(Effort(count=40), progress=listen, stop=stop)
        )
        served = check(problem, answer)
        if name == "search":
            # Its first step puts every order in.
            assert served >= 6
        if answer.unserved and name != "nearest-fit":
            assert {code for code, _ in answer.unserved.values()} == {"STOPPED"}


def test_an_exception_of_who_listens_is_not_swallowed() -> None:
    def broken(share: float, text: str) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        engine_named("ortools").solve(full_day(), SolveOptions(Effort(count=4), progress=broken))


def compile_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a first run whose compiler never ends."""
    pytest.importorskip("numba")
    monkeypatch.setattr(first_run, "kept_code", lambda: None)
    monkeypatch.setattr(first_run, "_COMMAND", "import time; time.sleep(600)")


def stopped_when(told: str, effort: Effort) -> tuple[Solution, str]:
    """The full day's answer when the stop comes as soon as the progress ends so; engine's name."""
    stop, engine = StopToken(), engine_named("search")

    def listen(share: float, text: str) -> None:
        if text.endswith(told):
            stop.set()

    answer = engine.solve(full_day(), SolveOptions(effort, progress=listen, stop=stop))
    return answer, engine.name


def test_a_stop_while_the_search_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """OR-Tools' plan, by its name, without waiting for a compiler that never ends."""
    compile_for_ever(monkeypatch)
    stop = StopToken()

    def listen(share: float, text: str) -> None:
        assert stop.is_set or "compiling" in text
        stop.set()

    problem, engine = full_day(), engine_named("search")
    answer = engine.solve(problem, SolveOptions(Effort(count=4), progress=listen, stop=stop))
    assert check(problem, answer) >= 6
    assert engine.name == "ortools"


def test_or_tools_plan_stands_before_the_search_is_compiled(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A stop that comes late in the compiling finds the plan that OR-Tools alone would make."""
    compile_for_ever(monkeypatch)
    taken, _ = stopped_when(STANDS.format("OR-Tools"), Effort(count=4))
    alone = engine_named("ortools").solve(full_day(), SolveOptions(Effort(count=4)))
    assert taken.routes == alone.routes


def test_a_day_too_large_for_or_tools_is_planned_by_nearest_fit_meanwhile(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """OR-Tools' model of a day of hundreds of orders takes more than a gigabyte."""
    compile_for_ever(monkeypatch)
    few = Effort(count=4, tuning=Tuning(search_ortools_orders=1))
    taken, name = stopped_when(STANDS.format("nearest-fit"), few)
    assert check(full_day(), taken) >= 6
    assert name == "nearest-fit"


def test_who_listens_ends_the_compiling_by_an_exception(monkeypatch: pytest.MonkeyPatch) -> None:
    compile_for_ever(monkeypatch)

    def broken(share: float, text: str) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        engine_named("search").solve(full_day(), SolveOptions(Effort(count=4), progress=broken))
