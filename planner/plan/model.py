"""A day's plan as frozen values: the contract of plan.json (field names are the JSON names).

Minutes are after midnight, or durations; gallons, pounds, miles, degrees, ft2. Amounts of
product are in gal (liquid) or lb (dry).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

PLAN_VERSION = 3

RARE: Final = {"rare": True}
"""Metadata of a field that plan.json leaves out while it holds its default, so that the files of
ordinary days are what they were before there was such a field."""


@dataclass(frozen=True)
class ProductAmount:
    """An amount of one product; unit: 'gal' or 'lb'."""

    product_id: str
    amount: float
    unit: str


@dataclass(frozen=True)
class Draw:
    """Gallons taken from one compartment."""

    compartment_id: str
    gal: float


@dataclass(frozen=True)
class Work:
    """One order done in a visit. compartments: what is sprayed from where. hose_gal: drawn from
    hose_compartments beyond that to fill the hose with this mix (first use of the line on the
    day, or a changeover); changeover_min: only when the hose held another mix.
    begin_min: changeover or spraying begins (set-up is over); end_min: spraying ends."""

    order_id: str
    mix_id: str
    line_id: str
    area_ft2: float
    gal: float
    compartments: tuple[Draw, ...]
    hose_gal: float
    hose_compartments: tuple[Draw, ...]
    displaced_mix_id: str | None
    changeover_min: float
    begin_min: float
    spray_min: float
    end_min: float
    products: tuple[ProductAmount, ...]


@dataclass(frozen=True)
class Fill:
    """One compartment filled once. gal: added; water_gal: of it; products: added with it.
    order_ids: orders sprayed from this compartment until its next fill. metered_water_gal,
    measured: what the crew is told to put in, as meter, cup and scale can show it (rule 33)."""

    compartment_id: str
    mix_id: str
    gal: float
    water_gal: float
    level_before_gal: float
    level_after_gal: float
    weight_lb: float
    products: tuple[ProductAmount, ...]
    order_ids: tuple[str, ...]
    metered_water_gal: float
    measured: tuple[ProductAmount, ...]


@dataclass(frozen=True)
class Stop:
    """One stop. kind: depart, visit, refill, lunch or return (rule 38: a departure arrives when the
    crew reports and begins when loading does; a return is left when the crew is released).
    place_id: site or property id (for lunch: where the truck stands). begin_min: work begins (after
    waiting). weight_lb_after: truck with what is in its compartments when it leaves. done: it lies
    behind the moment at which the plan was made again (rule 20); its figures are facts."""

    seq: int
    kind: str
    place_id: str
    lat: float
    lon: float
    drive_min: float
    drive_miles: float
    arrive_min: float
    begin_min: float
    leave_min: float
    weight_lb_after: float
    orders: tuple[Work, ...] = ()
    fills: tuple[Fill, ...] = ()
    done: bool = field(default=False, metadata=RARE)


@dataclass(frozen=True)
class CleaningEntry:
    """Cleaning before departure. residue_share: of the last mix's strength left after rinsing."""

    compartment_id: str
    last_mix: str
    rinses: int
    water_gal_per_rinse: float
    minutes: float
    residue_share: float
    rinsate_goes_to: str
    why: str


@dataclass(frozen=True)
class Totals:
    """Sums of a truck or of the day. paid_min: return - departure - lunch + cleaning + yard_min +
    unworked_min; overtime_min: of it, after the shift's end; gal: sprayed; cost: in the office's
    currency, without prices of unserved orders. yard_min: from reporting to departure without
    cleaning, from return to release, and loading the evening before; unworked_min: paid up to the
    hours that are paid at least (rule 38)."""

    drive_min: float
    drive_miles: float
    refill_min: float
    spray_min: float
    setup_min: float
    changeover_min: float
    wait_min: float
    lunch_min: float
    cleaning_min: float
    paid_min: float
    overtime_min: float
    refills: int
    visits: int
    orders: int
    gal: float
    cost: float
    yard_min: float = field(default=0.0, metadata=RARE)
    unworked_min: float = field(default=0.0, metadata=RARE)


@dataclass(frozen=True)
class FillTo:
    """The most gallons that the office lets a compartment be filled to (rule 40)."""

    compartment_id: str
    gal: float


@dataclass(frozen=True)
class TruckPlan:
    """One truck's day. loading: compartment -> mix or None. start_gal: what is in each compartment
    before the first fill, after cleaning (rule 4); end_gal: at the end of the day; fill_to: where
    the office set less than the capacity."""

    truck_id: str
    loading: dict[str, str | None]
    start_gal: dict[str, float]
    cleaning: tuple[CleaningEntry, ...]
    stops: tuple[Stop, ...]
    end_gal: dict[str, float]
    totals: Totals
    fill_to: tuple[FillTo, ...] = field(default=(), metadata=RARE)

    @property
    def fill_to_gal(self) -> dict[str, float]:
        """Compartment -> the most gallons, where the office set any."""
        return {one.compartment_id: one.gal for one in self.fill_to}


@dataclass(frozen=True)
class NotDone:
    """An order that is held (a rule keeps it back) or unserved (the day had no room)."""

    order_id: str
    code: str
    reason: str


@dataclass(frozen=True)
class Overdue:
    """An order of the day whose due span has ended. days: calendar days since."""

    order_id: str
    days: int


@dataclass(frozen=True)
class NotToday:
    """An open order that is kept out of the day although it is due, or on hold. next_day: the first
    day (ISO) on which nothing keeps it out, '' = nobody can tell."""

    order_id: str
    code: str
    reason: str
    next_day: str


@dataclass(frozen=True)
class DayTotals:
    """Sums over the trucks, and how many orders are not done."""

    totals: Totals
    unserved: int
    held: int


@dataclass(frozen=True)
class Before:
    """Where an order stood in the earlier plan. truck_id: '' = it was held or unserved there, or is
    new; begin_min: work on it began then (0 without a truck)."""

    order_id: str
    truck_id: str
    begin_min: float


@dataclass(frozen=True)
class Again:
    """How a plan was made again in its day (rules 20 to 26). at_min: what no truck had set out for
    by then was planned anew; earlier_sha256: of the earlier plan's text; down: trucks that do
    nothing more; free_min: trucks that go on later than that; skipped: orders left out for the day;
    added: orders of other days that were taken in; before: every order of the day; inspected_min:
    trucks whose crews come later than in the morning -> when they are inspected (rule 38)."""

    at_min: float
    earlier_sha256: str
    down: tuple[str, ...]
    free_min: dict[str, float]
    skipped: tuple[str, ...]
    added: tuple[str, ...]
    before: tuple[Before, ...]
    inspected_min: dict[str, float] = field(default_factory=dict, metadata=RARE)


@dataclass(frozen=True)
class Plan:
    """A planned day. effort: as text ('count 300' or 'seconds 20'); roads: description. pinned:
    orders that a person gave to their truck for good; a plan that is kept near to this one leaves
    them there. again: of a plan that was made again in its day. overdue: of the day's orders;
    not_today: no orders of the day; given_up: orders whose last sensible day has passed.
    ahead: orders of the day that are due later and were taken in because trucks had time.
    laid_later: due orders that the calendar lays on a later day; they are none of the plan's.
    use_home: trucks that may go out though the calendar keeps them at home: the office says so.
    refill_gap: money by which other refills and lunches for the same sequences of orders might
    still be cheaper, 0 = proved that none are; None = nobody looked."""

    version: int
    date: str
    workbook_sha256: str
    seed: int
    effort: str
    engine: str
    roads: str
    roads_warning: str
    trucks: tuple[TruckPlan, ...]
    held: tuple[NotDone, ...]
    unserved: tuple[NotDone, ...]
    totals: DayTotals
    pinned: tuple[str, ...] = field(default=(), metadata=RARE)
    again: Again | None = field(default=None, metadata=RARE)
    overdue: tuple[Overdue, ...] = field(default=(), metadata=RARE)
    not_today: tuple[NotToday, ...] = field(default=(), metadata=RARE)
    given_up: tuple[NotDone, ...] = field(default=(), metadata=RARE)
    ahead: tuple[str, ...] = field(default=(), metadata=RARE)
    laid_later: tuple[str, ...] = field(default=(), metadata=RARE)
    use_home: tuple[str, ...] = field(default=(), metadata=RARE)
    refill_gap: float | None = field(default=None, metadata=RARE)

    @property
    def taken_in(self) -> tuple[str, ...]:
        """Orders of the day that are due on other days."""
        return (*(self.again.added if self.again else ()), *self.ahead)

    @property
    def skipped(self) -> tuple[str, ...]:
        """Due orders that the office left out of the day when it was planned again."""
        return self.again.skipped if self.again else ()
