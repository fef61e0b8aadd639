"""The end of every engine's work: serve what still fits, and say why the rest does not."""

from __future__ import annotations

from collections.abc import Callable

from planner.routing.problem import Solution
from planner.routing.repair.draft import GAIN, Draft
from planner.routing.repair.improve import exchange, rescue
from planner.routing.unserved.reasons import reasons
from planner.routing.unserved.relax import as_planned, put_found


def final_pass(draft: Draft, over: Callable[[], bool]) -> Solution:
    """The draft as an answer. Before that, unserved orders are looked at once more, as thoroughly
    as their reasons are, so that no reason says of an order that it could have been served. over:
    asked whether to stop looking for other loadings."""
    serve_what_fits(draft, over)
    return draft.answer(reasons(draft))


def serve_what_fits(draft: Draft, over: Callable[[], bool]) -> None:
    """Every unserved order that saves money when it is put in, as thoroughly as one can look."""
    draft.last_chance()
    rescue(draft, over)
    exchange(draft, over)
    while _serve_as_planned(draft):
        exchange(draft, over)


def _serve_as_planned(draft: Draft) -> bool:
    """Take in what fits for its price, also where a truck must be loaded another way for it.
    Returns whether anything was."""
    busy, before = True, draft.total
    while busy:
        busy = False
        for order in draft.unserved[: draft.tuning.unserved_in_detail]:
            if draft.stop.is_set:
                return False
            found = as_planned(draft, order)
            if found is None or found.more >= draft.prices[order] - GAIN:
                continue
            put_found(draft, found)
            busy = True
    return draft.total < before
