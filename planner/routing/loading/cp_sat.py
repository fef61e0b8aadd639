"""One way to ask CP-SAT: the same model, the same answer, and a stop ends it at once."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor, wait
from math import inf
from typing import Any

from planner.routing.problem import StopToken

LOOK_S = 0.05


def solved(model: Any, effort: float, seed: int, stop: StopToken) -> Any:
    """The solver with its solution, None when there is none. effort: CP-SAT's own deterministic
    time (one is three to five seconds): the same day, the same answer."""
    solver, status = asked(model, effort, seed, stop)
    return solver if status in ("OPTIMAL", "FEASIBLE") else None


def asked(
    model: Any, effort: float, seed: int, stop: StopToken, until: float = inf
) -> tuple[Any, str]:
    """As solved(), with what became of it: OPTIMAL, FEASIBLE, INFEASIBLE or UNKNOWN. until: of
    time.monotonic(), at which it ends, too. Raises ValueError for a model that is none."""
    # Half a second to import: only where it is asked.
    from ortools.sat.python import cp_model

    # CP-SAT's classes are not typed for strict checking; Any goes no further than the callers.
    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed % 2**31
    solver.parameters.max_deterministic_time = effort
    # Ctrl-C belongs to whoever called the engine.
    solver.parameters.catch_sigint_signal = False
    # In a thread of its own, since Python hears no signal while CP-SAT works.
    with ThreadPoolExecutor(1) as pool:
        status = pool.submit(solver.solve, model)
        while not wait([status], LOOK_S).done:
            if stop.is_set or time.monotonic() >= until:
                solver.stop_search()
    name: str = solver.status_name(status.result())
    if name == "MODEL_INVALID":
        raise ValueError(model.validate())
    return solver, name
