"""The audit's own holds beside the planner's, for tests of rules on orders."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import cast

from planner.compliance.holds import Hold
from planner.day.day import Day
from planner.plan.audit.rules_holds import Holds, check_holds
from planner.plan.audit.strength import Strength, StrengthError, strength
from planner.plan.audit.weather import openings
from planner.plan.model import NotDone, Plan


def audited_codes(day: Day, found: Sequence[Hold]) -> list[str]:
    """What the audit says against exactly these holds, as text; nothing when it agrees."""
    strengths: dict[str, Strength] = {}
    for mix in day.workbook.mixes.values():
        try:
            strengths[mix.mix_id] = strength(day.workbook, mix)
        except StrengthError:
            continue
    held = tuple(NotDone(hold.order_id, hold.code, hold.reason) for hold in found)
    plan = cast(Plan, SimpleNamespace(held=held, trucks=()))
    return [str(row) for row in check_holds(plan, day, Holds(day, strengths, openings(day)))]
