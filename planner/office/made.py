"""A plan of the office, and what the journal keeps of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.by_hand.hand_rows import rows_of_plan
from planner.plan.audit import Violation
from planner.plan.model import Plan

Body = dict[str, Any]
"""What a plan is made from, as the journal keeps it: rows, unserved, engine, seed, effort,
trucks_out."""


@dataclass(frozen=True)
class Made:
    """A plan of the office with what the audit found. trucks_out: taken out of the day."""

    plan: Plan
    violations: tuple[Violation, ...]
    trucks_out: tuple[str, ...]

    @property
    def body(self) -> Body:
        """For the journal: the same plan comes out of it on the same tables."""
        rows = rows_of_plan(self.plan)
        return {
            "rows": [
                [row.truck, row.does, row.what, row.mix, row.pinned]
                + ([] if row.fill_to_gal is None else [row.fill_to_gal])
                for row in rows
            ],
            "unserved": [[row.order_id, row.code, row.reason] for row in self.plan.unserved],
            "engine": self.plan.engine,
            "seed": self.plan.seed,
            "effort": self.plan.effort,
            "trucks_out": list(self.trucks_out),
        }
