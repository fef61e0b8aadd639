"""What the office sees of a day at one moment, as frozen values: everything that a page shows."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from planner.chain import PlannedDay
from planner.plan.audit import Violation
from planner.plan.model import Plan, TruckPlan

HALF_A_CENT = 0.005
Points = tuple[tuple[float, float], ...]
"""(lat, lon) in driving order."""


@dataclass(frozen=True)
class Item:
    """One thing of a truck's day that can be lifted. name: 'order 2101', 'refill 0', 'lunch 0', its
    name in changes (refills and lunches are counted from 0 in their truck's day); what: order or
    site; seq: its stop; done: it lies behind the moment at which the day was planned again, and
    stays. Gap g lies before the item of row g; the last gap lies before the way home."""

    name: str
    kind: str
    what: str
    seq: int
    done: bool


@dataclass(frozen=True)
class TankCell:
    """A compartment at a stop. drawn_gal, filled_gal: there; level_gal: afterwards."""

    drawn_gal: float
    filled_gal: float
    level_gal: float


@dataclass(frozen=True)
class Spare:
    """The tightest draw of a day. gal: left above what the pump cannot reach; negative = short."""

    gal: float
    compartment_id: str
    seq: int
    at_min: float


@dataclass(frozen=True)
class TruckFacts:
    """A truck at a glance. out: taken out of the day; home_min: None without stops; last: no truck
    is home later; spare_lb: least pounds below the rating, negative = over; spare: None without a
    draw; items: in order; tanks: by stop, by compartment; way: of its whole day, simplified;
    version: a number that is another one as soon as anything here or a pin on the truck is
    other; kept_home: by the calendar."""

    truck_id: str
    plan: TruckPlan
    out: bool
    home_min: float | None
    last: bool
    orders: int
    gal: float
    cost: float
    spare_lb: float
    spare: Spare | None
    items: tuple[Item, ...]
    tanks: tuple[Mapping[str, TankCell], ...]
    way: Points
    violations: tuple[Violation, ...]
    version: int
    kept_home: bool = False


@dataclass(frozen=True)
class Offer:
    """A better plan that was found and waits to be taken. number: its name in changes; revision: on
    which it stands; cost_change: against that revision; said: what would be other, in words."""

    number: int
    revision: int
    plan: Plan
    cost_change: float
    said: str


@dataclass(frozen=True)
class Searching:
    """Planning the rest again. share: 0 to 1; text: what is being done; offers: best last."""

    running: bool = False
    share: float = 0.0
    text: str = ""
    offers: tuple[Offer, ...] = ()


@dataclass(frozen=True)
class PrintState:
    """Papers against plan. mark: of the plan of record, '' = none; again: trucks whose packet is no
    longer as printed; never: no packet was printed yet; replaced: trucks whose packet was no longer
    as printed when the plan became the plan of record, as long as the day is open."""

    mark: str = ""
    again: tuple[str, ...] = ()
    never: bool = True
    replaced: tuple[str, ...] = ()


@dataclass(frozen=True)
class DraftLine:
    """A named draft. cost: of its plan; violations: how many rules it breaks; out: orders that are
    not in its day, those that a rule keeps back too."""

    name: str
    revision: int
    cost: float
    violations: int
    out: int


@dataclass(frozen=True)
class DayState:
    """One revision of the open day. planned: plan, day, roads, and what the audit found; before:
    the plan that the last step changed, None at the opening; opened: the plan that the day was
    opened with, or the first one taken where nobody had planned it; said: the last step in words;
    day_violations: those of no single truck; draft: the draft on the table; undo, redo: what these
    would take back or do again in words, '' = nothing; notes: what happened when the day was
    opened, until the first change.
    """

    revision: int
    workbook: str
    planned: PlannedDay
    before: Plan | None
    opened: Plan
    said: str
    trucks: tuple[TruckFacts, ...]
    day_violations: tuple[Violation, ...]
    draft: str
    drafts: tuple[DraftLine, ...]
    undo: str
    redo: str
    printed: PrintState = PrintState()
    searching: Searching = Searching()
    notes: tuple[str, ...] = ()
    truck_of: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def cost(self) -> float:
        """Of the day, in the office's currency."""
        return self.planned.plan.totals.totals.cost

    @property
    def cost_change(self) -> float:
        """Against the plan that the last step changed."""
        change = 0.0 if self.before is None else self.cost - self.before.totals.totals.cost
        # To the cent and without a negative zero: "-0.00" is no change of cost.
        return change if abs(change) >= HALF_A_CENT else 0.0

    def truck(self, truck_id: str) -> TruckFacts:
        """The truck of that name; raises KeyError."""
        for truck in self.trucks:
            if truck.truck_id == truck_id:
                return truck
        raise KeyError(truck_id)


@dataclass(frozen=True)
class Gap:
    """A place for what is lifted. gap: before the item of that row; price: what the day's cost
    changes by, home_min: when the truck would be home, both None where a rule breaks; why_not: the
    first rule that breaks, in words, '' = none; mends: the truck, which has it, breaks fewer rules
    with it there."""

    gap: int
    price: float | None
    home_min: float | None
    why_not: str
    mends: bool = False


@dataclass(frozen=True)
class TruckAnswer:
    """What a truck says to what is lifted. best: the cheapest gap that the audit finds nothing new
    in, None = cannot; why_not: then, in words; loads: compartment -> mix that it would have to be
    loaded with besides, {} = as it is."""

    truck_id: str
    best: Gap | None
    why_not: str
    gaps: tuple[Gap, ...]
    loads: Mapping[str, str]


@dataclass(frozen=True)
class Asked:
    """Every truck's answer, in the plan's order. revision: the day that they looked at; lifted:
    orders; out_change: what the cost changes by when they go out of the day."""

    revision: int
    lifted: tuple[str, ...]
    out_change: float
    trucks: tuple[TruckAnswer, ...]
