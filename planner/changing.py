"""A plan that a person changed, wired: its loading and stops are taken as they are, every clock
time and gallon is worked out again, and the audit looks at the result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from planner.by_hand.change import changed_plan
from planner.by_hand.codes import StopOrderError
from planner.by_hand.hand_rows import HandRow, rows_of_plan, rows_of_sheet
from planner.chain import PlannedDay, open_plan
from planner.plan.audit import audit
from planner.problems import Problem


@dataclass(frozen=True)
class Changed:
    """before: the plan.json as it is, audited; after: with the change, worked out again and
    audited; out: orders that the plan did and the change leaves out."""

    before: PlannedDay
    after: PlannedDay
    out: tuple[str, ...]


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
    made, out = changed_plan(rows, before.plan, day, roads.travel_by_truck, source)
    after = PlannedDay(made, day, roads, audit(made, day, roads.travel_by_truck))
    return Changed(before, after, out)
