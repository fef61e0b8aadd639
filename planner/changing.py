"""A plan that a person changed, wired: its loading and stops are taken as they are, every clock
time and gallon is worked out again, and the audit looks at the result."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from planner.by_hand.change import changed_plan
from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow, rows_of_plan, rows_of_sheet
from planner.chain import PlannedDay, open_plan
from planner.day.day import Day
from planner.plan.assemble import Scheduler
from planner.plan.audit import Auditor, Violation
from planner.plan.model import Plan, TruckPlan
from planner.prepare import PreparedDay, prepare_day
from planner.problems import Problem
from planner.roads.travel import Travel
from planner.routing.problem import Route


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

    roads: description and warning of where the drive times come from.
    """

    def __init__(
        self, day: Day, travel_by_truck: Mapping[str, Travel], roads: tuple[str, str]
    ) -> None:
        self._roads = roads
        self._scheduler = Scheduler(prepare_day(day), travel_by_truck)
        self._auditor = Auditor(day, travel_by_truck)

    def change(self, rows: Sequence[HandRow], earlier: Plan) -> HandChange:
        """What the rows of a stop order mean. earlier: the plan that they change. Raises
        StopOrderError with every problem."""
        made, out = changed_plan(rows, earlier, self._scheduler, self._roads)
        return HandChange(made, self._auditor.audit(made), out)

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
    if before.plan.again is not None:
        message = "the plan was made again in its day, and what is done in it cannot be changed"
        cure = "say what changes to `planner plan --again` (--skip, --add, --truck, --open)"
        raise StopOrderError([Problem("plan.json", None, None, "HAND-7", message, "", cure)])
    day, roads = before.day, before.roads
    source = (roads.roads.description, roads.roads.warning)
    change = ReadyDay(day, roads.travel_by_truck, source).change(rows, before.plan)
    return Changed(before, PlannedDay(change.plan, day, roads, change.violations), change.out)
