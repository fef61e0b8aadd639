"""What the checks of one truck look at, gathered once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Compartment, Truck
from planner.plan.audit.ledger import Ledger
from planner.plan.audit.strength import Strength
from planner.plan.audit.violation import Violation
from planner.plan.model import Again, Stop, TruckPlan
from planner.roads.travel import Travel


@dataclass(frozen=True)
class TruckCase:
    """One truck of the tables beside its plan. windows: order id -> when it may be done, None =
    any time; strengths: of each mix of the tables that can be worked out. again: of a plan that was
    made again in its day."""

    day: Day
    truck: Truck
    planned: TruckPlan
    travel: Travel
    ledger: Ledger
    strengths: Mapping[str, Strength]
    windows: Mapping[str, tuple[Window, ...] | None]
    again: Again | None = None

    @property
    def done(self) -> int:
        """How many of its first stops are done: no rule measures those again (rule 21)."""
        return sum(stop.done for stop in self.planned.stops)

    @property
    def depart_min(self) -> float:
        """When its crew reports (rules 12 and 35); one that had not left when the day was planned
        again does so no earlier than that (rule 23)."""
        if self.again is None or self.done:
            return self.truck.shift_start_min
        return max(self.truck.shift_start_min, self.goes_on_min)

    @property
    def loads_from_min(self) -> float:
        """When it is inspected, and cleaned if loaded in the morning: the first fill (rule 38)."""
        inspected = max(self.depart_min, self.truck.shift_start_min + self.truck.inspection_min)
        if self.truck.yard_loading == "morning":
            inspected += sum(entry.minutes for entry in self.planned.cleaning)
        return inspected

    @property
    def first_fill_min(self) -> float:
        """Minutes that the departure's fills take at the yard, whenever they are made."""
        yard = self.day.workbook.sites[self.truck.yard_id]
        gal = sum(fill.gal for fill in self.planned.stops[0].fills)
        timed = self.truck.yard_loading is not None and gal > 0
        return yard.setup_min + gal / yard.fill_gal_per_min if timed else 0.0

    @property
    def goes_on_min(self) -> float:
        """Before this minute it sets out for no stop that was planned again."""
        if self.again is None:
            return 0.0
        return max(self.again.at_min, self.again.free_min.get(self.truck.truck_id, 0.0))

    def fresh(self) -> Iterator[tuple[int, Stop]]:
        """Row and stop of all that is not done."""
        for row, stop in enumerate(self.planned.stops):
            if not stop.done:
                yield row, stop

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

    def brim_gal(self, tank: Compartment) -> float:
        """Gallons up to which it may be filled: its capacity, or less where the office said so."""
        said = [
            one.gal for one in self.planned.fill_to if one.compartment_id == tank.compartment_id
        ]
        return min([tank.capacity_gal, *said])

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
