"""A plan that a person changed, wired: its loading and stops are taken as they are, every clock
time and gallon is worked out again, and the audit looks at the result."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from planner.again.plan import rest_problem, sent_home
from planner.again.take_over import rest_of, taken_over_before
from planner.by_hand.answer import changed_plan, hand_answer
from planner.by_hand.sheet import HandRow, StopOrderError, rows_of_plan, rows_of_sheet
from planner.chain import PlannedDay, open_plan
from planner.day.day import Day
from planner.plan.assemble import MadeAgain, Origin, Scheduler, make_plan
from planner.plan.audit import Auditor, Violation
from planner.plan.model import Plan, TruckPlan
from planner.prepare import PreparedDay, prepare_day, routing_problem
from planner.roads.travel import Travel
from planner.routing.problem import (
    Loading,
    Route,
    RoutingProblem,
    Solution,
    StopKind,
    filled_to,
)


@dataclass(frozen=True)
class Changed:
    """before: the plan.json as it is, audited; after: with the change, worked out again and
    audited; out: orders that the plan did and the change leaves out."""

    before: PlannedDay
    after: PlannedDay
    out: tuple[str, ...]


@dataclass(frozen=True)
class HandChange:
    """plan: of the changed stop order; violations: what the audit found in it; out: orders that the
    earlier plan does and it leaves out."""

    plan: Plan
    violations: tuple[Violation, ...]
    out: tuple[str, ...]


class ReadyDay:
    """A day kept ready for one change after another: what a change does not touch is neither worked
    out nor audited again. The answers are those of a day opened anew.

    roads: description and warning of where the drive times come from; plan: of the day, needed for
    one that was planned again: what was done by then stays.
    """

    def __init__(
        self,
        day: Day,
        travel_by_truck: Mapping[str, Travel],
        roads: tuple[str, str],
        plan: Plan | None = None,
    ) -> None:
        self._roads = roads
        self.taken = None if plan is None else taken_over_before(day, plan)
        if self.taken is None:
            self._rest = day
            self._scheduler = Scheduler(prepare_day(day), travel_by_truck)
        else:
            self._rest = rest_of(day, self.taken)
            # A truck that has not left departs when its shift begins in the rest of the day.
            trucks = day.workbook.trucks | self._rest.workbook.trucks
            whole = replace(day, workbook=replace(day.workbook, trucks=trucks))
            prepared = replace(prepare_day(day, self.taken.done), day=whole)
            self._scheduler = Scheduler(prepared, travel_by_truck, self.taken.underway)
        self._auditor = Auditor(day, travel_by_truck, roads)

    def change(self, rows: Sequence[HandRow], earlier: Plan) -> HandChange:
        """What the rows of a stop order mean. earlier: the plan that they change. Raises
        StopOrderError with every problem."""
        made, out = changed_plan(rows, earlier, self._scheduler, self._roads)
        return HandChange(made, self._auditor.audit(made), out)

    def problem(
        self,
        kept: Mapping[str, str] = MappingProxyType({}),
        without: Collection[str] = (),
        earlier: Plan | None = None,
    ) -> RoutingProblem:
        """What is not done of the day, as numbers for an engine. kept: orders that stay on their
        truck; without: trucks that are taken out of the day; earlier: its compartments are filled
        no further (rule 40)."""
        book = self._rest.workbook
        trucks = {name: truck for name, truck in book.trucks.items() if name not in without}
        rest = replace(self._rest, workbook=replace(book, trucks=trucks))
        travel = self._scheduler.travel_by_truck
        if self.taken is None:
            problem = routing_problem(self.prepared, travel, rest, kept=kept, pinned=kept)
            return problem if earlier is None else filled_to(problem, _fill_to_gal(earlier))
        return rest_problem(self.prepared, rest, self.taken, travel, kept, list(kept))

    def routes(self, plan: Plan, problem: RoutingProblem) -> tuple[Route, ...]:
        """What the trucks of a problem still have to do in a plan, of the problem's orders."""
        prepared = self.prepared
        held = {hold.order_id for hold in prepared.held}
        underway = self._scheduler.underway
        rows = rows_of_plan(plan)
        meant = hand_answer(rows, plan, prepared.day, prepared.apart, held, underway)
        if meant.answer is None:
            raise StopOrderError(meant.problems)
        free = {order.order_id for order in problem.orders}
        found = {route.truck_id: route for route in meant.answer.routes}
        return tuple(
            replace(
                route,
                stops=tuple(
                    stop
                    for stop in route.stops
                    if stop.kind is not StopKind.ORDER or stop.ref in free
                ),
            )
            for route in (found[truck.truck_id] for truck in problem.trucks)
        )

    def answered(
        self, answer: Solution, earlier: Plan, engine: str
    ) -> tuple[Plan, tuple[Violation, ...]]:
        """An engine's answer to problem() as the day's plan, audited. earlier: the plan before."""
        home = {
            name: Route(name, Loading((), ()), ()) for name in self.prepared.day.workbook.trucks
        }
        most = _fill_to_gal(earlier)
        routes = home | {
            route.truck_id: replace(route, fill_to=tuple(most.get(route.truck_id, {}).items()))
            for route in sent_home(answer).routes
        }
        made = make_plan(
            self.prepared,
            replace(answer, routes=tuple(routes.values())),
            self._scheduler.travel_by_truck,
            Origin(earlier.seed, earlier.effort, engine, *self._roads),
            None if self.taken is None else MadeAgain(self.taken.again, self.taken.underway),
            self._scheduler,
        )
        served = {
            work.order_id for truck in made.trucks for stop in truck.stops for work in stop.orders
        }
        pinned = tuple(name for name in earlier.pinned if name in served)
        made = replace(made, pinned=pinned, ahead=earlier.ahead)
        return made, self._auditor.audit(made)

    @property
    def prepared(self) -> PreparedDay:
        """What the day allows."""
        return self._scheduler.prepared

    def scheduled(self, route: Route) -> TruckPlan:
        """One truck's day with that loading and stop order."""
        return self._scheduler.truck_plan(route.truck_id, route, {})

    def truck(self, route: Route, plan: Plan) -> tuple[TruckPlan, tuple[Violation, ...]]:
        """One truck's day with that loading and stop order beside the others of a plan, and what
        the audit finds in it; waiting for others at a water point is left out."""
        made = self.scheduled(route)
        return made, tuple(self._auditor.of_truck(made, plan.again))

    def audit(self, plan: Plan) -> tuple[Violation, ...]:
        """Every rule that a plan of the day breaks."""
        return self._auditor.audit(plan)


def _fill_to_gal(plan: Plan) -> dict[str, dict[str, float]]:
    return {truck.truck_id: truck.fill_to_gal for truck in plan.trucks if truck.fill_to}


def open_changed(
    plan_file: Path, workbook: Path, extract: Path | None, stops: Path | None
) -> Changed:
    """The plan with a changed stop order (CSV or .xlsx), or, without one, with its own loading
    and stops. Raises StopOrderError with every problem; WorkbookError, RoadError, PlanFileError.
    """
    before = open_plan(plan_file, workbook, extract)
    if stops is None:
        return _changed(before, rows_of_plan(before.plan, plan_file.name))
    rows, problems = rows_of_sheet(stops)
    if problems:
        raise StopOrderError(problems)
    return _changed(before, rows)


def recomputed(planned: PlannedDay) -> PlannedDay | None:
    """The plan with every clock time and gallon worked out again from its own loading and stops;
    None when these make no plan."""
    try:
        return _changed(planned, rows_of_plan(planned.plan)).after
    except StopOrderError:
        return None


def _changed(before: PlannedDay, rows: Sequence[HandRow]) -> Changed:
    day, roads = before.day, before.roads
    ready = ReadyDay(day, roads.travel_by_truck, roads.source, before.plan)
    change = ready.change(rows, before.plan)
    return Changed(before, PlannedDay(change.plan, day, roads, change.violations), change.out)
