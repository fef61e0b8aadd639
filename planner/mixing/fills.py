"""How much goes into each compartment at a fill, and what an order draws out of them.

Rules 8, 10 and 11 of docs/rules.md, for the schedule. The engines have two quicker copies
(planner/routing/exact/tanks.py, planner/routing/compiled/fills.py), which tests hold to this one;
the audit has its own.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

WHOLE_GALLON_SLACK = 1e-6
"""A need this little over a whole gallon is float noise, not a reason to add a gallon."""


@dataclass(frozen=True)
class Level:
    """One compartment and what is in it. mix_id: today's mix, None = not to be filled or drawn;
    density_lb_per_gal: of what is in it or will be."""

    compartment_id: str
    mix_id: str | None
    capacity_gal: float
    heel_gal: float
    gal: float
    density_lb_per_gal: float

    @property
    def pumpable_gal(self) -> float:
        """Gallons over the heel."""
        return max(0.0, self.gal - self.heel_gal)


def weight_lb(levels: Sequence[Level]) -> float:
    """Pounds in all compartments."""
    return sum(level.gal * level.density_lb_per_gal for level in levels)


def fill_gallons(
    levels: Sequence[Level],
    spray_gal: Mapping[str, float],
    hose_gal: Mapping[str, float],
    margin_percent: float,
    payload_lb: float,
) -> tuple[float, ...]:
    """Gallons to add to each level, in their order.

    levels: every compartment of the truck, those of one mix in drawing order. spray_gal, hose_gal:
    per mix that may be made here, what is drawn until its next fill. payload_lb: pounds that the
    rating leaves for all compartments. Needs that do not fit are still returned up to capacity:
    whether a load is allowed is for the caller (and the audit) to say.
    """
    bare = [0.0] * len(levels)
    full = [0.0] * len(levels)
    for mix_id in sorted(spray_gal.keys() | hose_gal.keys()):
        rows = [row for row, level in enumerate(levels) if level.mix_id == mix_id]
        hose = hose_gal.get(mix_id, 0.0)
        spray = spray_gal.get(mix_id, 0.0)
        on_board = sum(levels[row].pumpable_gal for row in rows)
        if on_board >= spray + hose - WHOLE_GALLON_SLACK:
            continue
        _pour(levels, rows, spray + hose - on_board, bare)
        _pour(levels, rows, spray * (1 + margin_percent / 100) + hose - on_board, full)
    spare_lb = payload_lb - weight_lb(levels)
    spare_lb -= sum(gal * level.density_lb_per_gal for gal, level in zip(bare, levels, strict=True))
    for row, level in enumerate(levels):
        extra = full[row] - bare[row]
        if extra <= 0:
            continue
        if extra * level.density_lb_per_gal > spare_lb:
            extra = max(0.0, math.floor(spare_lb / level.density_lb_per_gal))
        bare[row] += extra
        spare_lb -= extra * level.density_lb_per_gal
    return tuple(bare)


def _pour(levels: Sequence[Level], rows: Sequence[int], gal: float, into: list[float]) -> None:
    """Spread pumpable gallons over the rows in drawing order; a dry heel is filled first."""
    for row in rows:
        level = levels[row]
        if gal <= WHOLE_GALLON_SLACK:
            return
        room = max(0.0, level.capacity_gal - level.gal)
        dry_heel = max(0.0, level.heel_gal - level.gal)
        if room <= dry_heel:
            continue
        add = min(math.ceil(gal + dry_heel - WHOLE_GALLON_SLACK), room)
        into[row] = add
        gal -= add - dry_heel


def draw(
    levels: Sequence[Level], mix_id: str, gal: float
) -> tuple[tuple[Level, ...], tuple[tuple[str, float], ...]]:
    """Levels after `gal` of the mix are pumped out, and (compartment, gallons) in drawing order.

    What the compartments do not hold over their heels is taken from the last of them all the
    same, so that a plan that runs dry shows a level below the heel instead of hiding it.
    """
    after = list(levels)
    taken: list[tuple[str, float]] = []
    rows = [row for row, level in enumerate(levels) if level.mix_id == mix_id]
    left = gal
    for place, row in enumerate(rows):
        if left <= 0:
            break
        last = place == len(rows) - 1
        take = left if last else min(left, after[row].pumpable_gal)
        if take <= 0:
            continue
        after[row] = replace(after[row], gal=after[row].gal - take)
        taken.append((after[row].compartment_id, take))
        left -= take
    return tuple(after), tuple(taken)
