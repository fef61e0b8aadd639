"""What fills and draws do to a truck's compartments, on bare lists of gallons.

The arithmetic is that of planner/mixing/fills.py (rules 8, 10 and 11 of docs/rules.md), which the
schedule uses; this copy exists because an engine asks for it a few hundred thousand times a day
and frozen values cost ten times as much. test_routing_tanks holds the two together.
"""

import math
from collections.abc import Sequence

from planner.mixing.fills import WHOLE_GALLON_SLACK
from planner.routing.problem import Loading, RoutingProblem, TruckSpec

SHORT = -1.0
"""fill(): the needs are more than the compartments of a mix hold."""
TOO_HEAVY = -2.0
"""fill(): the needs alone are over the weight rating."""
SLACK_GAL = 1e-6
SLACK_LB = 1e-6


class Tanks:
    """The compartments of one truck under one loading; mixes and compartments by their rows.

    rows_of: compartments of each mix in drawing order. usable_gal: of each mix, between heel and
    brim. start: gallons before the departure's fill (0 after a cleaning).
    """

    def __init__(self, problem: RoutingProblem, truck: TruckSpec, loading: Loading) -> None:
        parts = truck.compartments
        self.mixes = tuple(dict.fromkeys(mix for mix in loading.mix_of if mix is not None))
        self.rows_of = [
            tuple(row for row, mix in enumerate(loading.mix_of) if mix == mix_id)
            for mix_id in self.mixes
        ]
        cleaned = {entry.compartment_id for entry in loading.cleaning}
        self.capacity = [part.capacity_gal for part in parts]
        self.heel = [part.heel_gal for part in parts]
        self.start: list[float] = []
        self.density: list[float] = []
        for part, mix_id in zip(parts, loading.mix_of, strict=True):
            keeps = part.compartment_id not in cleaned and mix_id in (None, part.start_mix)
            self.start.append(part.start_gal if keeps else 0.0)
            held = mix_id if mix_id is not None else part.start_mix
            self.density.append(0.0 if held is None else problem.density_lb_per_gal[held])
        self.usable_gal = [
            sum(self.capacity[row] - self.heel[row] for row in rows) for rows in self.rows_of
        ]
        self.payload_lb = truck.payload_lb
        self.margin = 1.0 + problem.fill_margin_percent / 100.0
        self.weight_binds = (
            sum(
                (capacity if mix is not None else start) * density
                for capacity, start, density, mix in zip(
                    self.capacity, self.start, self.density, loading.mix_of, strict=True
                )
            )
            > self.payload_lb
        )
        """Whether a truck full to the brim would be too heavy."""

    def pumpable(self, levels: Sequence[float], mix: int) -> float:
        """Gallons of a mix over the heels."""
        gal = 0.0
        for row in self.rows_of[mix]:
            over = levels[row] - self.heel[row]
            if over > 0.0:
                gal += over
        return gal

    def draw(self, levels: list[float], drawn: list[float]) -> None:
        """Take `drawn` gallons of each mix out, and set `drawn` back to nothing."""
        for mix, gal in enumerate(drawn):
            if gal <= 0.0:
                continue
            rows = self.rows_of[mix]
            for row in rows[:-1]:
                take = min(gal, max(0.0, levels[row] - self.heel[row]))
                levels[row] -= take
                gal -= take
            levels[rows[-1]] -= gal
            drawn[mix] = 0.0

    def fill(
        self,
        levels: list[float],
        makes: Sequence[int],
        spray_gal: Sequence[float],
        hose_gal: Sequence[float],
    ) -> float:
        """Top up for what is sprayed and goes into hoses until the next fill (by mix row); returns
        the gallons added, or SHORT or TOO_HEAVY (levels are then of no use)."""
        bare = [0.0] * len(levels)
        full: list[float] | None = None
        for mix in makes:
            need = spray_gal[mix] + hose_gal[mix]
            if need <= 0.0:
                continue
            on_board = self.pumpable(levels, mix)
            if on_board >= need - WHOLE_GALLON_SLACK:
                continue
            if full is None:
                full = [0.0] * len(levels)
            rows = self.rows_of[mix]
            if self._pour(levels, rows, need - on_board, bare) > SLACK_GAL:
                return SHORT
            target = spray_gal[mix] * self.margin + hose_gal[mix]
            self._pour(levels, rows, target - on_board, full)
        spare_lb = self.payload_lb
        for row, gal in enumerate(levels):
            spare_lb -= (gal + bare[row]) * self.density[row]
        if spare_lb < -SLACK_LB:
            return TOO_HEAVY
        if full is None:
            return 0.0
        added = 0.0
        for row, gal in enumerate(bare):
            extra = full[row] - gal
            if extra > 0.0:
                pounds = self.density[row]
                if extra * pounds > spare_lb:
                    extra = max(0.0, math.floor(spare_lb / pounds))
                gal += extra
                spare_lb -= extra * pounds
            levels[row] += gal
            added += gal
        return added

    def _pour(
        self, levels: Sequence[float], rows: Sequence[int], gal: float, into: list[float]
    ) -> float:
        """Spread pumpable gallons over the rows, heel first; returns what found no room."""
        for row in rows:
            if gal <= WHOLE_GALLON_SLACK:
                return 0.0
            level = levels[row]
            room = max(0.0, self.capacity[row] - level)
            dry_heel = max(0.0, self.heel[row] - level)
            if room <= dry_heel:
                continue
            add = min(math.ceil(gal + dry_heel - WHOLE_GALLON_SLACK), room)
            into[row] = add
            gal -= add - dry_heel
        return gal
