"""Three derivations of one day, made apart, beside each other: what the engine was promised (the
plain evaluator), what the crew gets (the schedule) and what the audit derives again."""

from __future__ import annotations

from planner.day.day import Day
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan, TruckPlan
from planner.routing.exact.walk import Walk, walk
from planner.routing.problem import Route, RoutingProblem, Solution, StopKind
from tests.random_days import random_day, straight_travel
from tests.random_plans import solve_random

SECOND_MIN = 1 / 60
HUNDREDTH_GAL = 0.01
CENT = 0.01


def disagreements(seed: int, size: str, engine: str, count: int) -> list[str]:
    """What differs, in words, on a random day planned by an engine: nothing, or a bug."""
    day = random_day(seed, size)
    problem, answer, plan = solve_random(day, engine, count)
    return [*_priced(problem, answer, plan), *_audited(day, plan)]


def _audited(day: Day, plan: Plan) -> list[str]:
    """What the audit finds, in the plan and as the file keeps it, rounded."""
    travel = straight_travel(day)
    found = [*audit(plan, day, travel), *audit(from_json(to_json(plan)), day, travel)]
    return [str(row) for row in found]


def _priced(problem: RoutingProblem, answer: Solution, plan: Plan) -> list[str]:
    """Evaluator and schedule: to the second, the hundredth of a gallon and the cent."""
    found = []
    plans = {truck.truck_id: truck for truck in plan.trucks}
    for truck, given in zip(problem.trucks, answer.routes, strict=True):
        walked = walk(problem, truck, given.loading, given.stops)
        if not walked.feasible:
            found.append(f"{truck.truck_id}: {walked.fault}")
        elif given.stops:
            written = _written(plans[truck.truck_id])
            found += [
                f"{truck.truck_id} {what}: evaluator {ours}, schedule {written[what]}"
                for what, ours in _promised(given, walked, list(plans[truck.truck_id].end_gal))
                if abs(ours - written[what]) > _noise(what)
            ]
    return found


def _noise(what: tuple[str, ...]) -> float:
    """How far two figures may be apart: half of what must be right."""
    return {"gal": HUNDREDTH_GAL, "cost": CENT}.get(what[-1], SECOND_MIN) / 2


def _promised(
    given: Route, walked: Walk, compartments: list[str]
) -> list[tuple[tuple[str, ...], float]]:
    """Figures of the evaluator, by what they are of."""
    figures: list[tuple[tuple[str, ...], float]] = []
    refills = 0
    for stop, timing in zip(given.stops, walked.timings, strict=True):
        name = (str(stop.kind), stop.ref)
        if stop.kind is not StopKind.ORDER:
            refills += stop.kind is StopKind.REFILL
            number = str(refills) if stop.kind is StopKind.REFILL else ""
            name = (str(stop.kind), number)
            figures += [
                ((*name, "arrive"), timing.arrive_min),
                ((*name, "begin"), timing.begin_min),
            ]
        figures.append(((*name, "leave"), timing.leave_min))
        if stop.kind is not StopKind.LUNCH:
            figures.append(((*name, "gal"), timing.gal))
    figures += [(("return",), walked.return_min), (("miles",), walked.miles)]
    figures.append((("cost",), walked.cost))
    figures += [
        ((name, "left", "gal"), gal) for name, gal in zip(compartments, walked.end_gal, strict=True)
    ]
    return figures


def _written(truck: TruckPlan) -> dict[tuple[str, ...], float]:
    """Figures of the schedule, by what they are of."""
    figures: dict[tuple[str, ...], float] = {}
    refills = 0
    for stop in truck.stops:
        for work in stop.orders:
            figures["order", work.order_id, "leave"] = work.end_min
            figures["order", work.order_id, "gal"] = work.gal
        if stop.kind in ("refill", "lunch"):
            refills += stop.kind == "refill"
            name = (stop.kind, str(refills) if stop.kind == "refill" else "")
            figures[*name, "arrive"] = stop.arrive_min
            figures[*name, "begin"] = stop.begin_min
            figures[*name, "leave"] = stop.leave_min
            figures[*name, "gal"] = sum(fill.gal for fill in stop.fills)
    figures["return",] = truck.stops[-1].arrive_min
    figures["miles",] = truck.totals.drive_miles
    figures["cost",] = truck.totals.cost
    for name, gal in truck.end_gal.items():
        figures[name, "left", "gal"] = gal
    return figures
