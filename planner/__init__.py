"""Daily route and tank-mix planner for lawn-spray crews.

The public names below are imported when they are first used, so that `import planner` costs
nothing; `planner/docs/python.md` shows them at work.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from planner.api import (
        audit_plan,
        check_workbook,
        compare_fleets,
        edit_plan,
        load_plan,
        open_day,
        plan_day,
        publish,
        record_day,
        replan_day,
        stops_frame,
    )
    from planner.chain import PlannedDay
    from planner.problems import PlannerError
    from planner.routing.problem import Effort, StopToken

_HOME = {
    "Effort": "planner.routing.problem",
    "PlannedDay": "planner.chain",
    "PlannerError": "planner.problems",
    "StopToken": "planner.routing.problem",
    "audit_plan": "planner.api",
    "check_workbook": "planner.api",
    "compare_fleets": "planner.api",
    "edit_plan": "planner.api",
    "load_plan": "planner.api",
    "open_day": "planner.api",
    "plan_day": "planner.api",
    "publish": "planner.api",
    "record_day": "planner.api",
    "replan_day": "planner.api",
    "stops_frame": "planner.api",
}

__all__ = [
    "Effort",
    "PlannedDay",
    "PlannerError",
    "StopToken",
    "audit_plan",
    "check_workbook",
    "compare_fleets",
    "edit_plan",
    "load_plan",
    "open_day",
    "plan_day",
    "publish",
    "record_day",
    "replan_day",
    "stops_frame",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'planner' has no attribute '{name}'")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
