"""Refill stops for callers in Python: the one program of refills.py, as plain Python on views of
the arrays, or as machine code where this process has some anyway (the same stops either way)."""

import contextlib
from collections.abc import Collection, Sequence
from math import inf
from typing import Any, NamedTuple, TypeVar

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import route_arrays
from planner.routing.compiled.kept_code import kept_code
from planner.routing.compiled.machine_code import can_compile, in_machine_code, is_compiled
from planner.routing.compiled.refills import place_refills as program
from planner.routing.compiled.scratch import CAREFUL, PROVE, new_scratch
from planner.routing.exact.route_cost import TruckDay

Arrays = TypeVar("Arrays", bound=NamedTuple)


def place_refills(
    day: TruckDay,
    sequence: Sequence[int],
    under_cost: float = inf,
    *,
    avoid: Collection[int] = (),
    prove: bool = False,
) -> tuple[float, list[int]] | None:
    """Cheapest cost below under_cost and its stop order for orders in this sequence (rows of
    problem.orders), or None when there is none. avoid: rows of sites where the truck must not stop.
    prove: the cheapest for certain, which takes much longer."""
    if not sequence:
        return (day.idle_cost, []) if under_cost > day.idle_cost else None
    if any(not day.can[order] for order in sequence):
        return None
    arrays = route_arrays(day)
    if avoid:
        arrays = arrays._replace(site=arrays.site.copy())
        arrays.site[list(avoid), c.CLOSES] = -inf
    if prove:
        # As many as there are: every site is looked at.
        arrays = arrays._replace(near_sites=np.zeros((1, 1, len(arrays.site)), dtype=np.int64))
    work = new_scratch(arrays, len(sequence), PROVE if prove else CAREFUL)
    work.sequence[: len(sequence)] = sequence
    place = in_machine_code(program) if is_compiled() else program
    view = _same if is_compiled() else as_views
    cost, stops = place(view(arrays), view(work), 0, 0, len(sequence), float(under_cost))
    return None if cost == inf else (cost, work.placed[:stops].tolist())


def use_kept_machine_code() -> None:
    """Place refills by machine code from here on where an earlier run has left it on this machine;
    compiling it anew would take longer than most days take without."""
    # A numba that is there and cannot be imported is as none.
    with contextlib.suppress(ImportError, OSError):
        if can_compile() and kept_code() is not None:
            in_machine_code(program)


def _same(arrays: Arrays) -> Arrays:
    return arrays


def as_views(arrays: Arrays) -> Arrays:
    """The same memory as Python's own views, which give Python's own numbers: arithmetic with
    numpy's single numbers takes several times as long."""
    views: dict[str, Any] = {
        name: memoryview(value)  # type: ignore[arg-type]
        for name, value in arrays._asdict().items()
        if isinstance(value, np.ndarray)
    }
    return arrays._replace(**views)
