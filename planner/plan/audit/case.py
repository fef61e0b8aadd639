"""What the checks of one truck look at, gathered once: a ledger of what goes into and out of
each compartment and what each hose holds, from the plan's own figures; what a violation is,
every code, and how far a figure may be off."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from planner.day.clock import Window
from planner.day.day import Day
from planner.day.fleet import Compartment, Line, Truck
from planner.plan.audit.strength import Strength
from planner.plan.model import Again, Fill, Stop, TruckPlan, Work
from planner.roads.travel import Travel

MINUTE_TOLERANCE = 0.01
GALLON_TOLERANCE = 0.01
POUND_TOLERANCE = 0.05
MILE_TOLERANCE = 0.005
MONEY_TOLERANCE = 0.02
DEGREE_TOLERANCE = 1e-5
"""About a yard on the ground."""
PRODUCT_SHARE_TOLERANCE = 0.0005
"""Of the amount of a product."""
PRODUCT_LEAST_TOLERANCE = 1e-5
"""Gallons or pounds; below what a jug or a scale shows, so that tiny amounts do not alarm."""
COUNTING_TOLERANCE = 5e-7
"""Half the last decimal of plan.json; for comparisons where whole gallons are counted."""


@dataclass(frozen=True)
class Violation:
    """One rule that a plan breaks. truck_id, seq: None where it concerns the whole day or truck.
    message: in plain words, with the numbers."""

    code: str
    truck_id: str | None
    seq: int | None
    message: str

    def __str__(self) -> str:
        place = "" if self.truck_id is None else f"truck {self.truck_id}"
        if self.seq is not None:
            place += f", stop {self.seq}"
        return (
            f"{place}: {self.message} [{self.code}]" if place else f"{self.message} [{self.code}]"
        )


def differs(found: float, right: float, tolerance: float) -> bool:
    """Whether two figures are further apart than the tolerance; a figure that is no number is."""
    return not abs(found - right) <= tolerance


def exceeds(found: float, most: float, tolerance: float) -> bool:
    """Whether a figure is over its most by more than the tolerance; one that is no number is."""
    return not found <= most + tolerance


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


def unloaded_lb(truck: Truck) -> float:
    """Pounds before any mix is on board, added up apart from Truck.ready_lb."""
    return truck.empty_weight_lb


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
        inspected = max(self.depart_min, self.inspected_min)
        if self.truck.yard_loading == "morning":
            inspected += sum(entry.minutes for entry in self.planned.cleaning)
        return inspected

    @property
    def inspected_min(self) -> float:
        """This morning; when its crew has come where the earlier plan left it at home or nobody had
        come by then; and where it came before and the truck has not left, by what that plan kept
        of it, which is never more than a whole inspection."""
        morning = self.truck.shift_start_min + self.truck.inspection_min
        if self.again is None or self.done:
            return morning
        whole = self.depart_min + self.truck.inspection_min
        not_come = self.again.at_min <= self.truck.shift_start_min
        if not_come or self.truck.truck_id not in {row.truck_id for row in self.again.before}:
            return whole
        return max(morning, min(whole, self.again.inspected_min.get(self.truck.truck_id, 0.0)))

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
