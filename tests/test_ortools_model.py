"""OR-Tools' model of days that it would end on with an error."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

from planner.day.clock import Window
from planner.routing.engines.ortools_model import SearchLimit, sequences
from planner.routing.exact.route_cost import DayTables, TruckDay
from tests.routing_cases import random_problem


def test_windows_and_hours_outside_the_day_leave_out_what_has_them() -> None:
    """A window that is over before midnight, and a site that closes before it opens: OR-Tools
    raised 'CP Solver fail' on both."""
    problem = random_problem(3, orders=6, trucks=2)
    orders = [replace(order, windows=None, hose_run_ft=0.0) for order in problem.orders]
    orders[0] = replace(orders[0], windows=(Window(-300.0, -200.0),))
    sites = [problem.sites[0], replace(problem.sites[1], open_min=None, close_min=-5.0)]
    problem = replace(problem, orders=tuple(orders), sites=(*sites, *problem.sites[2:]))
    tables = DayTables(problem)
    days = [TruckDay(tables, row, truck.loadings[0]) for row, truck in enumerate(problem.trucks)]
    found = sequences(tables, days, SearchLimit(200, lambda: False))
    assert found is not None
    served = [order for sequence in found for order in sequence]
    assert 0 not in served
    assert served


def test_nothing_is_written_beside_the_planners_own_words() -> None:
    """OR-Tools warned on stderr that a search without its own time limit may run forever."""
    code = (
        "from planner.routing.engines import engine_named; from planner.routing.problem import "
        "Effort, SolveOptions; from tests.routing_cases import random_problem; "
        "engine_named('ortools').solve(random_problem(1, 5, 1), SolveOptions(Effort(count=1)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert ran.stderr == ""
