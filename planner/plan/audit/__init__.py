"""The audit: re-derives every rule of planner/docs/rules.md from the tables and a plan, and trusts
nothing else. It shares no arithmetic with the schedule or the engines."""

from planner.plan.audit.case import Violation
from planner.plan.audit.check_plan import Auditor, audit

__all__ = ["Auditor", "Violation", "audit"]
