"""What a comparison of fleets finds, as frozen values.

Minutes, gallons, pounds, miles, ft2; money in the office's currency. Dates are text (2027-04-14).
Three layers: one day planned with one fleet (`DayResult`), one fleet over all days
(`FleetResult`), and the fleets side by side (`Comparison`). Days are named, never averaged away:
a fleet is compared with another over the days on which both do the same orders, and the other days
stand beside it with the orders that make the difference.
"""

from dataclasses import dataclass, field

from planner.compliance.thresholds import Threshold
from planner.plan.model import RARE, NotDone, Totals

PRESENT = "present"
"""Name of the fleet that the workbook's own tables describe."""


@dataclass(frozen=True)
class TankDay:
    """One compartment on one day. mix_id: None = not loaded. used_gal: sprayed from it and drawn
    into hoses; fullest_gal: highest level; left_gal: at the end of the day. bound: how often it
    was filled to its full mark and still had to be filled again that day, so that a larger one
    would have saved the stop or put it off."""

    compartment_id: str
    capacity_gal: float
    mix_id: str | None
    used_gal: float
    filled_gal: float
    fills: int
    fullest_gal: float
    left_gal: float
    bound: int


@dataclass(frozen=True)
class TruckOnDay:
    """One truck on one day; a truck that stays in the yard has totals of 0 orders. heaviest_lb: at
    any stop, the empty weight when it stays. bound_by_weight: how often a fill ended within one
    gallon's weight of the rating and was followed by another."""

    truck_id: str
    heaviest_lb: float
    gvwr_lb: float
    changeovers: int
    bound_by_weight: int
    totals: Totals
    tanks: tuple[TankDay, ...]

    @property
    def is_out(self) -> bool:
        """Whether it leaves the yard."""
        return self.totals.orders > 0


@dataclass(frozen=True)
class BetweenDays:
    """What the day before left to a day; in the day's totals too. cost: pay of cleaning_min and
    the product of lost_gal, which stood in compartments that got another mix."""

    cleanings: int
    cleaning_min: float
    lost_gal: float
    cost: float


@dataclass(frozen=True)
class DayResult:
    """One day planned with one fleet and one seed. engine: that made the plan. orders: due that
    day, held ones included; done_ft2: area of the orders done. held: by rules, the same for every
    fleet; unserved: the fleet had no room, or nobody with the license. fault: why the day could not
    be planned at all with this fleet, '' = it was. between: counted when the fleet's days are put
    together. late_cost: in a calendar of its own what being late, and the chance of it, counts for
    (rule 31)."""

    fleet: str
    date: str
    seed: int
    engine: str
    orders: int
    done_ft2: float
    trucks: tuple[TruckOnDay, ...]
    held: tuple[NotDone, ...]
    unserved: tuple[NotDone, ...]
    totals: Totals
    fault: str = ""
    between: BetweenDays = BetweenDays(0, 0.0, 0.0, 0.0)
    late_cost: float = field(default=0.0, metadata=RARE)

    @property
    def trucks_out(self) -> int:
        """Trucks that leave the yard."""
        return sum(truck.is_out for truck in self.trucks)

    @property
    def left_out(self) -> frozenset[str]:
        """Orders that are not done and not held by a rule; with a fault every order is left out
        and this is empty."""
        return frozenset(row.order_id for row in self.unserved)


@dataclass(frozen=True)
class Stat:
    """A figure over the days. ninety: nine days in ten have at most this; worst_date: of the
    largest."""

    total: float
    mean: float
    median: float
    ninety: float
    worst: float
    worst_date: str


@dataclass(frozen=True)
class TankResult:
    """One compartment over all days. days_used: loaded and sprayed from; mean_used_gal,
    most_used_gal: of those days; mean_fullest_share: of its capacity, of those days (0 to 1).
    bound_days: days on which it was the one that bound (see TankDay). left_gal: in all, at the
    ends of days."""

    compartment_id: str
    capacity_gal: float
    days_used: int
    mean_used_gal: float
    most_used_gal: float
    mean_fullest_share: float
    most_fullest_share: float
    bound_days: int
    left_gal: float


@dataclass(frozen=True)
class TruckResult:
    """One truck over all days. heaviest_lb: on heaviest_date, against gvwr_lb. bound_days: days on
    which its rating bound (see TruckOnDay). thresholds: published ones beside that weight, with
    section; planner.compliance.thresholds.ADVISER_TEXT goes with them."""

    truck_id: str
    title: str
    days_out: int
    empty_lb: float
    heaviest_lb: float
    heaviest_date: str
    gvwr_lb: float
    bound_days: int
    thresholds: tuple[Threshold, ...]
    tanks: tuple[TankResult, ...]


@dataclass(frozen=True)
class TruckMoney:
    """What one truck costs to own. purchase: None = not told. kept: the present fleet has the same
    truck, so that it is neither bought nor sold. yearly_fixed: insurance, registration, parking;
    resale: at the end of life_years; sells_for: what a truck of the present fleet fetches now.
    yearly_ownership: yearly_fixed and equal payments for purchase less resale over life_years, with
    interest; None = not told."""

    truck_id: str
    kept: bool
    purchase: float | None
    yearly_fixed: float
    resale: float
    life_years: float
    sells_for: float
    yearly_ownership: float | None


@dataclass(frozen=True)
class Money:
    """A fleet's money in a year, against the present fleet. None = cannot be told (`why_not` says
    what a place among the fleets lacks, in words).

    yearly_running: of the present fleet its mean cost a day, lateness at its price, times the
    working days; of another fleet that plus the paired difference a day times the working days.
    yearly_ownership: sum over its trucks, as if each were bought new. yearly: both. to_buy: price
    of the trucks that are bought, less what the present trucks that go fetch; resale: of them after
    life_years (mean of the bought trucks, weighed by price). yearly_saving: of running and fixed
    cost against the present; scatter: of it, by the planner's own spread. gain: what is left of the
    saving when to_buy and its interest are paid off over life_years (a year; a day where
    working_days is 0).
    payback_years: until the saving has paid to_buy with interest, 0 when nothing is to pay, None =
    never; payback_low_years, payback_high_years: with the saving larger and smaller by scatter.
    break_even_purchase: the most that to_buy may be so that gain is 0; break_even_days: the working
    days a year at which it is.
    """

    trucks: tuple[TruckMoney, ...]
    working_days: float = 0.0
    interest_percent: float = 0.0
    yearly_running: float | None = None
    yearly_ownership: float | None = None
    yearly: float | None = None
    to_buy: float | None = None
    resale: float = 0.0
    life_years: float | None = None
    yearly_saving: float | None = None
    scatter: float | None = None
    gain: float | None = None
    payback_years: float | None = None
    payback_low_years: float | None = None
    payback_high_years: float | None = None
    break_even_purchase: float | None = None
    break_even_days: float | None = None
    why_not: str = ""

    @property
    def pays(self) -> bool:
        """Whether what is bought is paid back, with interest, within its life."""
        return self.gain is not None and self.gain >= 0


@dataclass(frozen=True)
class OtherDay:
    """A day on which two fleets do not do the same orders, so that their costs are not compared.
    only_fleet: orders that the fleet does and the base does not; only_base: the other way round.
    fault: why a fleet could not plan the day at all, '' = both did."""

    date: str
    only_fleet: tuple[str, ...]
    only_base: tuple[str, ...]
    fault: str


@dataclass(frozen=True)
class Paired:
    """One figure of a fleet less that of the base, a day, over the days they are compared on.
    spread: differences up to this may be the planner's own (None = not measured); tie: the
    difference is not larger than it."""

    mean: float
    spread: float | None
    tie: bool


@dataclass(frozen=True)
class Difference:
    """A fleet against another, paired by day. dates: days on which both do the same orders, which
    are compared; other_days: the rest, named. figures: name -> Paired, the names being FIGURES;
    empty without a date to compare. late_cost: by how much being late counts for more, a day, in
    calendars of their own."""

    fleet: str
    base: str
    dates: tuple[str, ...]
    other_days: tuple[OtherDay, ...]
    figures: dict[str, Paired]
    late_cost: float = field(default=0.0, metadata=RARE)

    @property
    def more_a_day(self) -> float | None:
        """What the fleet costs more a day, lateness priced; None without a date to compare."""
        cost = self.figures.get("cost")
        return None if cost is None else cost.mean + self.late_cost


FIGURES = {
    "cost": "cost a day",
    "paid_min": "paid minutes a day",
    "overtime_min": "overtime minutes a day",
    "drive_min": "driving minutes a day",
    "drive_miles": "miles a day",
    "refill_min": "minutes at refill stops a day",
    "refills": "refill stops a day",
    "trucks_out": "trucks out a day",
    "yard_min": "minutes in the yard a day",
    "unworked_min": "minutes paid and not worked a day",
}
"""Figures that are compared day by day; each is a Stat of FleetResult.stats too."""


@dataclass(frozen=True)
class FleetResult:
    """One fleet over all days. words: what it is ('4 trucks, 14 compartments, 2,105 gal'). days:
    by date, of the seed that is compared. stats: name of a figure (FIGURES, also 'gal', 'unserved'
    and 'held') -> Stat over the days that could be planned. cost_per_order, cost_per_1000_ft2:
    over all these days. unserved_dates: days with orders left out that another fleet does;
    fault_dates: days that could not be planned. between: sums of the days. left_gal: left in the
    compartments at the ends of days. rank: 1 = best, shared by ties; None =
    cannot be ranked. rank_words: why it stands there. late_orders, late_cost, without_day: in its
    own calendar orders laid past their span, what that and the chance of it count for a day, and
    orders that got no day and count as left out; None = the days are the same for every fleet."""

    name: str
    words: str
    days: tuple[DayResult, ...]
    stats: dict[str, Stat]
    cost_per_order: float | None
    cost_per_1000_ft2: float | None
    unserved_dates: tuple[str, ...]
    fault_dates: tuple[str, ...]
    changeovers: int
    between: BetweenDays
    left_gal: float
    trucks: tuple[TruckResult, ...]
    money: Money
    against_present: Difference | None
    rank: int | None
    rank_words: str
    late_orders: int | None = field(default=None, metadata=RARE)
    without_day: int | None = field(default=None, metadata=RARE)
    late_cost: float | None = field(default=None, metadata=RARE)

    @property
    def bad_dates(self) -> frozenset[str]:
        """Days that it cannot serve as another fleet does, or at all."""
        return frozenset({*self.unserved_dates, *self.fault_dates})


@dataclass(frozen=True)
class Spread:
    """The planner's own spread: the same days and fleets planned with several seeds. sample:
    dates; seeds: tried; standard_deviation: of one plan's figure (FIGURES), pooled over days and
    fleets; freedom: degrees of freedom of it. None of it is the weather's or the customers'."""

    sample: tuple[str, ...]
    seeds: tuple[int, ...]
    standard_deviation: dict[str, float]
    freedom: int


@dataclass(frozen=True)
class Comparison:
    """Fleets side by side. fleets: the present one first, then as they were given. differences:
    every pair (fleet, base). source: where the days come from, in words. assumptions: everything
    that the figures rest on, in words, to be printed with them. notes: what a person should know
    about the tables and roads. workbook_sha256: of the workbook's tables. verdict: what
    an owner may do with it, the first line whole in itself."""

    company: str
    currency: str
    dates: tuple[str, ...]
    source: str
    engine: str
    effort: str
    seed: int
    roads: str
    roads_warning: str
    workbook_sha256: str
    planner_version: str
    fleets: tuple[FleetResult, ...]
    differences: tuple[Difference, ...]
    spread: Spread | None
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    verdict: tuple[str, ...] = ()

    def fleet(self, name: str) -> FleetResult:
        """The fleet of that name; raises KeyError."""
        for fleet in self.fleets:
            if fleet.name == name:
                return fleet
        raise KeyError(name)

    def difference(self, fleet: str, base: str) -> Difference:
        """A fleet against another; raises KeyError."""
        for difference in self.differences:
            if (difference.fleet, difference.base) == (fleet, base):
                return difference
        raise KeyError((fleet, base))
