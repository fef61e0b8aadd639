"""What the checks of one truck look at, gathered once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Compartment, Truck
from planner.plan.audit.ledger import Ledger
from planner.plan.audit.strength import Strength
from planner.plan.audit.violation import Violation
from planner.plan.model import TruckPlan
from planner.roads.travel import Travel


@dataclass(frozen=True)
class TruckCase:
    """One truck of the tables beside its plan. windows: order id -> when it may be done, None =
    any time; strengths: of each mix of the tables that can be worked out."""

    day: Day
    truck: Truck
    planned: TruckPlan
    travel: Travel
    ledger: Ledger
    strengths: Mapping[str, Strength]
    windows: Mapping[str, tuple[Window, ...] | None]

    def found(self, code: str, row: int | None, message: str) -> Violation:
        """A violation of this truck; row: of its stops."""
        seq = None if row is None else self.planned.stops[row].seq
        return Violation(code, self.truck.truck_id, seq, message)

    def loaded(self, mix_id: str) -> list[Compartment]:
        """Compartments loaded with the mix, in drawing order (by position)."""
        return sorted(
            (
                tank
                for tank in self.truck.compartments
                if self.planned.loading.get(tank.compartment_id) == mix_id
            ),
            key=lambda tank: tank.position,
        )

    def made_at(self, site_id: str, mix_id: str) -> bool:
        """Whether the mix may be made at a site."""
        mixes = self.day.workbook.sites[site_id].mixes
        return mixes is None or mix_id in mixes

    def load_lb(self, levels: Mapping[str, float]) -> float:
        """Pounds in the compartments."""
        total = 0.0
        for compartment_id, gal in levels.items():
            mix_id = self.ledger.inside[compartment_id]
            if mix_id is not None:
                total += gal * self.strengths[mix_id].weight_lb
        return total
