"""Engines: one file each, behind planner.routing.problem.Engine."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.routing.problem import Engine
    from planner.routing.shared.limits import SharedLimits

ENGINES = {
    "search": "anneals; compiled once on a machine",
    "ortools": "needs no compiling",
    "nearest-fit": "the plain yardstick; needs no compiling",
}
"""The one list of engines, the default first: name as in plan.json and on the command line -> what
it is."""
ENGINE_NAMES = tuple(ENGINES)


def engine_named(name: str, threads: int = 2) -> SharedLimits:
    """The engine of that name, or the one that serves for it here: its own name tells which; its
    plans keep the limits that trucks share. threads: cores it may use at once (the plan does not
    depend on it). Raises KeyError for another name."""
    from planner.routing.shared.limits import SharedLimits

    # The yardstick stays plain.
    return SharedLimits(_one_engine(name, threads), last_word=name != "nearest-fit")


def why_not(name: str) -> str:
    """Why an engine's stand-in served, in words."""
    if find_spec("numba") is None:
        return "numba is not installed"
    from planner.routing.search.first_run import why_not_compiled

    said = why_not_compiled()
    return f"it cannot be compiled: {said}" if said else "stopped before it was compiled"


def _one_engine(name: str, threads: int) -> Engine:
    # Imported here: OR-Tools takes half a second to load, and nearest-fit must do without it.
    if name == "search":
        if find_spec("numba") is None:
            # No wheel for this machine: the engine that needs no compiler serves.
            return _one_engine("ortools", threads)
        from planner.routing.engines.search_engine import SearchEngine

        return SearchEngine(threads)
    if name == "ortools":
        from planner.routing.engines.ortools_engine import OrtoolsEngine

        return OrtoolsEngine()
    if name == "nearest-fit":
        from planner.routing.engines.nearest_fit import NearestFit

        return NearestFit()
    raise KeyError(name)
