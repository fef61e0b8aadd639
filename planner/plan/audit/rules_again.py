"""What only a plan that was made again in its day can break (rules 20 to 24)."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan.audit.case import TruckCase
from planner.plan.audit.violation import Violation
from planner.plan.model import Plan


def check_done_comes_first(case: TruckCase) -> Iterator[Violation]:
    """Stops that are done are the first of a truck's, and stand only in a plan made again."""
    for row, stop in enumerate(case.planned.stops):
        if stop.done and case.again is None:
            yield case.found("AGAIN-DONE", row, "is done, yet the plan was not made again")
        elif stop.done and row >= case.done:
            yield case.found("AGAIN-DONE", row, "is done, yet a stop before it is not")


def check_trucks_that_are_down(case: TruckCase) -> Iterator[Violation]:
    """A truck that is down does nothing more but drive home."""
    if case.again is None or case.truck.truck_id not in case.again.down:
        return
    for row, stop in case.fresh():
        if not case.done or stop.kind != "return":
            yield case.found("AGAIN-DOWN", row, f"a {stop.kind} of a truck that is down")


def check_what_was_skipped(plan: Plan) -> Iterator[Violation]:
    """An order that was left out for the day stands nowhere in the plan."""
    skipped = {*plan.laid_later, *(plan.again.skipped if plan.again is not None else ())}
    found = {work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders}
    found |= {row.order_id for row in (*plan.held, *plan.unserved)}
    for order_id in sorted(skipped & found):
        yield Violation(
            "AGAIN-SKIPPED", None, None, f"order {order_id} was to be left out, and is in the plan"
        )
