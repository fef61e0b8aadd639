"""A truck's day replayed as a ledger: what goes into and out of each compartment, and what each
hose holds, entry by entry, from the plan's own figures."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from planner.day.fleet import Compartment, Line, Truck
from planner.plan.model import Fill, TruckPlan, Work

HAIR_GAL = 1e-9
"""A leftover this little over the heel is float noise."""


class Kind(StrEnum):
    """Why gallons move."""

    FILL = "fill"
    HOSE = "hose"
    SPRAY = "spray"


@dataclass(frozen=True)
class LedgerEntry:
    """Gallons into (positive) or out of a compartment. stop: row of the truck's stops; order_id:
    '' for a fill; levels: of every compartment after the entry."""

    stop: int
    kind: Kind
    order_id: str
    compartment_id: str
    gal: float
    levels: dict[str, float]


@dataclass(frozen=True)
class HoseDuty:
    """What a work owes its hose. hose_gal: to be drawn beyond the spraying; displaced_mix_id:
    what the hose held, None = nothing yet or the same mix."""

    hose_gal: float
    displaced_mix_id: str | None


@dataclass(frozen=True)
class Ledger:
    """start: gallons before the first fill; entries: in the order of the day; after_stop: levels
    when the truck leaves each stop; hose: (stop, row of its orders) -> duty; inside: compartment
    -> mix in it (None = clean or never filled)."""

    start: dict[str, float]
    entries: tuple[LedgerEntry, ...]
    after_stop: tuple[dict[str, float], ...]
    hose: dict[tuple[int, int], HoseDuty]
    inside: dict[str, str | None]


def over_heel(compartment: Compartment) -> bool:
    """Whether the pump can reach some of the leftover."""
    return compartment.leftover_gal > compartment.heel_gal + HAIR_GAL


def start_gal(compartment: Compartment, mix_id: str | None, cleaned: bool) -> float:
    """Gallons in a compartment before the first fill (rule 4)."""
    if cleaned or (mix_id is not None and mix_id != compartment.last_mix):
        return 0.0
    return compartment.leftover_gal


def replay(truck: Truck, planned: TruckPlan) -> Ledger:
    """The ledger of one truck. Every id in the plan must be known."""
    cleaned = {entry.compartment_id for entry in planned.cleaning}
    levels: dict[str, float] = {}
    inside: dict[str, str | None] = {}
    for tank in truck.compartments:
        mix_id = planned.loading.get(tank.compartment_id)
        was_cleaned = tank.compartment_id in cleaned
        levels[tank.compartment_id] = start_gal(tank, mix_id, was_cleaned)
        inside[tank.compartment_id] = mix_id if mix_id is not None or was_cleaned else tank.last_mix
    start = dict(levels)
    entries: list[LedgerEntry] = []
    after_stop: list[dict[str, float]] = []
    hoses = {line.line_id: line.hose_mix for line in truck.lines}
    duties: dict[tuple[int, int], HoseDuty] = {}
    for row, stop in enumerate(planned.stops):
        for fill in stop.fills:
            levels = _book(entries, levels, row, Kind.FILL, "", fill)
        for number, work in enumerate(stop.orders):
            duties[row, number] = _duty(truck, hoses, work)
            hoses[work.line_id] = work.mix_id
            for kind, draws in (
                (Kind.HOSE, work.hose_compartments),
                (Kind.SPRAY, work.compartments),
            ):
                for draw in draws:
                    levels = _moved(levels, draw.compartment_id, -draw.gal)
                    entries.append(
                        LedgerEntry(
                            row, kind, work.order_id, draw.compartment_id, -draw.gal, levels
                        )
                    )
        after_stop.append(levels)
    return Ledger(start, tuple(entries), tuple(after_stop), duties, inside)


def _book(
    entries: list[LedgerEntry],
    levels: dict[str, float],
    row: int,
    kind: Kind,
    order_id: str,
    fill: Fill,
) -> dict[str, float]:
    after = _moved(levels, fill.compartment_id, fill.gal)
    entries.append(LedgerEntry(row, kind, order_id, fill.compartment_id, fill.gal, after))
    return after


def _moved(levels: dict[str, float], compartment_id: str, gal: float) -> dict[str, float]:
    return {**levels, compartment_id: levels[compartment_id] + gal}


def _duty(truck: Truck, hoses: dict[str, str | None], work: Work) -> HoseDuty:
    held = hoses.get(work.line_id)
    if held == work.mix_id:
        return HoseDuty(0.0, None)
    return HoseDuty(hose_volume_gal(truck.line(work.line_id)), held)


def hose_need_gal(line: Line, mix_id: str) -> float:
    """What the first order of a day with that mix puts into the hose (rule 9)."""
    return 0.0 if line.hose_mix == mix_id else hose_volume_gal(line)


def hose_volume_gal(line: Line) -> float:
    """Gallons in a full hose."""
    # A cylinder: radius squared x pi x length, in cubic inches; 231 of them to the gallon.
    radius_in = line.hose_inside_diameter_in / 2
    cubic_in = 3.141592653589793 * radius_in * radius_in * line.hose_ft * 12
    return cubic_in / 231
