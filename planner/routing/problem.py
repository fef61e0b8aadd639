"""What an engine is given and what it answers: numbers and ids only.

Clock rules that every engine, the schedule and the audit share (docs/rules.md, 'What each time
means', is the long form):

* A truck leaves its yard, filled, at shift_start_min. Paid time ends at the return; lunch is not
  paid, cleaning before departure is. With a yard clock (rule 38) its crew reports at
  shift_start_min and the truck is inspected, cleaned and loaded before it leaves.
* Orders next to each other in a stop order at one place are one visit: set-up once.
* Work on an order begins inside one of its windows (set-up included for the first order of a
  visit) and its spraying ends inside the same window; the truck waits for a window to open.
* A changeover (hose displacement) happens before spraying when the line last carried another mix.
* Lunch is a stop of its own at the place where the truck stands, between two stops; it begins
  inside [lunch_earliest_min, lunch_latest_min] and is owed by every truck that returns after
  lunch_latest_min.
* A refill takes the site's set-up plus gallons / the site's flow, inside the site's hours.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from planner.day.clock import Window
from planner.day.fleet import YardLoading
from planner.mixing.recipes import StockLimit as StockLimit
from planner.mixing.separation import Cleaning as Cleaning
from planner.routing.tuning import DEFAULT_TUNING
from planner.routing.tuning import Tuning as Tuning


@dataclass(frozen=True)
class OrderTask:
    """An order as the engines see it. place: row of the matrices; windows: None = any time;
    weather: what of the day its label's weather leaves open, None = all of it (windows lie within);
    allowed_trucks: after pins, bans; hose_run_ft: least hose; price: of leaving it out on this day
    (planner/day/life.py); worth: the same on its last day; unlicensed_trucks: have nobody who may
    do it, whatever the office allows; shut: (truck, why it may not do it today) of trucks that
    the office allows; part_of: parts with the same word are
    done all or none (rule 39), '' = it is whole."""

    order_id: str
    place: int
    mix_id: str
    gal: float
    windows: tuple[Window, ...] | None
    hose_run_ft: float
    allowed_trucks: frozenset[str]
    price: float
    worth: float
    weather: tuple[Window, ...] | None = None
    part_of: str = ""
    unlicensed_trucks: frozenset[str] = frozenset()
    shut: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class SiteTask:
    """A place to refill. mixes: what may be made there, None = every mix. trucks_at_once: how many
    can fill at one time, None = any number; busy_until: minutes at which trucks leave that fill
    there before all others."""

    site_id: str
    place: int
    setup_min: float
    fill_gal_per_min: float
    open_min: float | None
    close_min: float | None
    mixes: frozenset[str] | None
    trucks_at_once: int | None = None
    busy_until: tuple[float, ...] = ()


@dataclass(frozen=True)
class LineSpec:
    """One pump, hose and gun. start_mix: what the hose holds at first, None = empty."""

    line_id: str
    hose_ft: float
    hose_gal: float
    gun_gal_per_min: float
    start_mix: str | None = None


@dataclass(frozen=True)
class CompartmentSpec:
    """One tank volume. start_gal: what is in it at the start of the day; start_mix: of which mix
    (None when empty); reserved_for: the only group of products that may be in it, None = any."""

    compartment_id: str
    capacity_gal: float
    heel_gal: float
    line_id: str
    position: int
    start_gal: float
    start_mix: str | None
    reserved_for: str | None = None


@dataclass(frozen=True)
class Loading:
    """One allowed way to load a truck: a mix or None per compartment (in the truck's order), the
    cleaning that it asks for, and on which line each carried mix runs."""

    mix_of: tuple[str | None, ...]
    cleaning: tuple[Cleaning, ...]

    @property
    def cleaning_min(self) -> float:
        """Minutes of all cleaning entries."""
        return sum(entry.minutes for entry in self.cleaning)


@dataclass(frozen=True)
class TruckStart:
    """Where a truck that is already out goes on: what it did before stays as it is.

    place: row of the matrices; time_min: free from then on; miles: driven so far; lunched: had its
    lunch. What is on board stands in the compartments' start_gal, its one loading has no cleaning,
    and there is no fill before it goes on. Without orders it drives home.
    """

    place: int
    time_min: float
    miles: float
    lunched: bool


@dataclass(frozen=True)
class TruckStanding:
    """A truck in the middle of its day. place_id: where it stands; free_min: it goes on from then;
    miles: driven so far; lunched: had its lunch; loading: of this morning, it stays; level_gal,
    inside: gallons in each compartment and the mix that they are, None = clean; hose_mix: by line,
    the mix that its hose holds, None = empty. lunch_begin_min: of a lunch that it has while it
    stands there until free_min (lunched is then true), None = it has none there."""

    place_id: str
    free_min: float
    miles: float
    lunched: bool
    loading: Loading
    level_gal: dict[str, float]
    inside: dict[str, str | None]
    hose_mix: dict[str, str | None]
    lunch_begin_min: float | None = None


@dataclass(frozen=True)
class TruckSpec:
    """A truck as the engines see it. yard_id: a site; profile: which matrix it drives by;
    payload_lb: mix that the rating leaves; pay_per_min: whole crew, regular time;
    overtime_pay_per_min: on top of pay_per_min after the shift's end; lunch_min: 0 = none;
    loadings: every allowed loading, the best guesses first; start:
    of a truck that is out already, None = it begins its day in the yard at shift_start_min.
    day_min: midnight of its day on the problem's clock, on which days may lie one after another;
    sites open by each day's own clock. prepare_min: from the shift's start until cleaning and
    loading begin; loads: when its first fill takes
    time, None = never; paid_least_min: paid where the crew works less. What the crew does after
    the return is in cost_per_day, and taken off the ends of shift and day."""

    truck_id: str
    yard_id: str
    profile: int
    shift_start_min: float
    shift_end_min: float
    latest_return_min: float
    lunch_min: float
    lunch_earliest_min: float
    lunch_latest_min: float
    payload_lb: float
    pay_per_min: float
    overtime_pay_per_min: float
    cost_per_day: float
    cost_per_mile: float
    lines: tuple[LineSpec, ...]
    compartments: tuple[CompartmentSpec, ...]
    loadings: tuple[Loading, ...]
    start: TruckStart | None = None
    day_min: float = 0.0
    prepare_min: float = 0.0
    loads: YardLoading | None = None
    paid_least_min: float = 0.0

    @property
    def day(self) -> int:
        """Which day of the problem's clock day_min begins, from 0 on."""
        return round(self.day_min / 1440.0)


@dataclass(frozen=True)
class OrderGroup:
    """Orders of which each has one day at most, and whose days depend on each other. days: the
    combinations that are allowed, a day (TruckSpec.day) per order, None = it is left out then. Any
    order may be left out of a combination."""

    order_ids: tuple[str, ...]
    days: tuple[tuple[int | None, ...], ...]


@dataclass(frozen=True)
class Preferences:
    """What the crews and customers would like, as prices: they steer the search and are no money
    of the plan.

    truck_price: array (truck, order), of giving an order to a truck (usual truck, yesterday's
    truck), None = no wish. told, told_price: by order, the span in which the customer was told
    that the crew begins, and the price of beginning outside it; None = nobody was told anything.
    per_refill: of each refill stop. per_squared_hour: by truck, times its paid hours squared, so
    that long and short days even out. per_mile_apart: times the miles, in a straight line, of each
    order from the middle (mean) of its truck's orders; xy_miles: array (place, 2).
    """

    truck_price: NDArray[np.float64] | None = None
    told: tuple[Window | None, ...] | None = None
    told_price: tuple[float, ...] | None = None
    per_refill: float = 0.0
    per_squared_hour: float = 0.0
    per_mile_apart: float = 0.0
    xy_miles: NDArray[np.float64] | None = None


@dataclass(frozen=True)
class RoutingProblem:
    """A day for an engine. drive_min, drive_miles: arrays (profile, from, to).
    density_lb_per_gal: of each mix. stock: products that the day can run out of. tuning: numbers
    that steer the engines, set from the effort (planner/routing/shared/limits.py). groups: only
    where days lie one after another; each order in one at most."""

    trucks: tuple[TruckSpec, ...]
    orders: tuple[OrderTask, ...]
    sites: tuple[SiteTask, ...]
    density_lb_per_gal: dict[str, float]
    drive_min: NDArray[np.float64]
    drive_miles: NDArray[np.float64]
    setup_min_per_visit: float
    fill_margin_percent: float
    preferences: Preferences = Preferences()
    stock: tuple[StockLimit, ...] = ()
    tuning: Tuning = DEFAULT_TUNING
    groups: tuple[OrderGroup, ...] = ()


def filled_to(
    problem: RoutingProblem, fill_to_gal: Mapping[str, Mapping[str, float]]
) -> RoutingProblem:
    """The problem with compartments (by truck) that may be filled no further (rule 40)."""
    trucks = []
    for truck in problem.trucks:
        most = fill_to_gal.get(truck.truck_id, {})
        parts = tuple(
            replace(part, capacity_gal=max(part.start_gal, min(part.capacity_gal, gal)))
            if (gal := most.get(part.compartment_id)) is not None
            else part
            for part in truck.compartments
        )
        trucks.append(replace(truck, compartments=parts))
    return replace(problem, trucks=tuple(trucks))


def at_worth(problem: RoutingProblem) -> RoutingProblem:
    """The problem as if this were the last day of every order; itself where no price differs."""
    if all(order.price == order.worth for order in problem.orders):
        return problem
    orders = tuple(replace(order, price=order.worth) for order in problem.orders)
    return replace(problem, orders=orders)


class StopKind(StrEnum):
    """Stops of a stop order; the departure and the return are understood."""

    ORDER = "order"
    REFILL = "refill"
    LUNCH = "lunch"


@dataclass(frozen=True)
class StopRef:
    """One element of a stop order. ref: order id, site id, or '' for lunch."""

    kind: StopKind
    ref: str


@dataclass(frozen=True)
class Route:
    """Loading and stop order of one truck; a truck that stays home has no stops. load_turn: trucks
    that queue for the yard's hoses in the morning are loaded in this order (rule 38); equal = who
    is ready first, then who takes less time. fill_to: compartments and the most gallons that the
    office lets them be filled to (rule 40)."""

    truck_id: str
    loading: Loading
    stops: tuple[StopRef, ...]
    load_turn: int = 0
    fill_to: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Solution:
    """What an engine decides. unserved: order id -> (code, reason in words). refill_gap: money by
    which other refills and lunches for the same sequences of orders might still be cheaper, 0 =
    proved that none are; None = nobody looked."""

    routes: tuple[Route, ...]
    unserved: dict[str, tuple[str, str]]
    refill_gap: float | None = None


@dataclass(frozen=True)
class Effort:
    """How long to search: by count (repeatable on any machine) or by seconds (for people); both
    only for calendars: so many, and no longer than that. tuning: numbers that steer the engines."""

    count: int | None = None
    seconds: float | None = None
    tuning: Tuning = DEFAULT_TUNING

    def __post_init__(self) -> None:
        if self.count is None and self.seconds is None:
            raise ValueError("give an effort by count or by seconds")


class StopToken:
    """Set by whoever wants an engine to end with the best plan so far: Ctrl-C, who listens to its
    progress, another thread. Whoever works asks it between small steps; it stays set."""

    def __init__(self) -> None:
        self._is_set = False

    @property
    def is_set(self) -> bool:
        """Whether to end."""
        return self._is_set

    def set(self) -> None:
        """End as soon as can be."""
        self._is_set = True


class Progress(Protocol):
    """Told how far the work is. share: 0 to 1; text: what is being done, for people."""

    def __call__(self, share: float, text: str) -> None:
        """Take note of the progress."""


def silent(share: float, text: str) -> None:
    """A progress listener that does nothing."""


@dataclass(frozen=True)
class SolveOptions:
    """How a day is solved. stop: once set (by `progress`, another thread or Ctrl-C), the best so
    far is taken; engine: by name, for those who choose one."""

    effort: Effort
    seed: int = 1
    progress: Progress = silent
    stop: StopToken = field(default_factory=StopToken)
    engine: str = "search"


class Engine(Protocol):
    """Solves a day. name: as written to plan.json."""

    name: str

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        """The best plan found; within two seconds after options.stop is set, the best so far."""
