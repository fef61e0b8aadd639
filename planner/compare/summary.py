"""Results of days -> one fleet over all of them; paired differences, how much of them may be the
planner's own spread, and which fleet is best: by days served, by whether it pays back, by money;
ties share a place."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Final

from scipy.special import stdtrit

from planner.compare.fleets import Fleet
from planner.compare.model import (
    FIGURES,
    BetweenDays,
    DayResult,
    Difference,
    FleetResult,
    Money,
    OtherDay,
    Paired,
    Spread,
    Stat,
    TankDay,
    TankResult,
    TruckOnDay,
    TruckResult,
)
from planner.compliance.thresholds import thresholds
from planner.day.fleet import Truck
from planner.problems import counted

SURE: Final = 0.975
"""Of 100 differences between equal fleets about 5 would pass for real (2.5 on either side)."""
SAME: Final = 1e-9
"""Float noise of a difference."""

OF_TOTALS: Final = frozenset(
    {"cost", "paid_min", "overtime_min", "drive_min", "drive_miles", "refill_min", "refills"}
    | {"yard_min", "unworked_min"}
)
MORE_STATS: Final = ("gal", "unserved", "held")
"""Figures of a fleet that are told but not compared."""


def figure(name: str, day: DayResult) -> float:
    """A figure of a day by its name in FIGURES or MORE_STATS."""
    if name in OF_TOTALS or name == "gal":
        return float(getattr(day.totals, name))
    others: dict[str, Callable[[DayResult], float]] = {
        "trucks_out": lambda one: one.trucks_out,
        "unserved": lambda one: len(one.unserved),
        "held": lambda one: len(one.held),
    }
    return float(others[name](day))


def stat(name: str, days: Sequence[DayResult]) -> Stat:
    """A figure over days. Raises ValueError without a day."""
    values = sorted((figure(name, day), day.date) for day in days)
    if not values:
        raise ValueError("no day to tell of")
    numbers = [value for value, _ in values]
    middle = len(numbers) // 2
    median = numbers[middle] if len(numbers) % 2 else (numbers[middle - 1] + numbers[middle]) / 2
    worst = numbers[-1]
    return Stat(
        total=math.fsum(numbers),
        mean=math.fsum(numbers) / len(numbers),
        median=median,
        ninety=numbers[math.ceil(0.9 * len(numbers)) - 1],
        worst=worst,
        worst_date=min(date for value, date in values if value == worst),
    )


def spread_of(samples: Sequence[Sequence[DayResult]]) -> Spread | None:
    """The planner's own spread. samples: results of one day and fleet with several seeds each.
    None when no sample has two plans that do the same orders."""
    freedom = 0
    squares = dict.fromkeys(FIGURES, 0.0)
    used: list[DayResult] = []
    for sample in samples:
        good = [day for day in sample if not day.fault]
        # A plan that leaves another order out is another amount of work, no other price of it.
        same = [day for day in good if day.left_out == good[0].left_out]
        if len(same) < 2:
            continue
        freedom += len(same) - 1
        used += same
        for name in FIGURES:
            numbers = [figure(name, day) for day in same]
            mean = math.fsum(numbers) / len(numbers)
            squares[name] += math.fsum((number - mean) ** 2 for number in numbers)
    if not freedom:
        return None
    return Spread(
        sample=tuple(sorted({day.date for day in used})),
        seeds=tuple(sorted({day.seed for day in used})),
        standard_deviation={name: math.sqrt(squares[name] / freedom) for name in FIGURES},
        freedom=freedom,
    )


def difference(
    fleet: Sequence[DayResult],
    base: Sequence[DayResult],
    spread: Spread | None,
    own_calendars: bool = False,
) -> Difference:
    """One fleet against another, both on the same days. own_calendars: an order may lie on another
    day with each, so that all days are compared as one, or none."""
    base_of: Mapping[str, DayResult] = {day.date: day for day in base}
    pairs = [(day, base_of[day.date]) for day in fleet]
    like = [_same_work(*pair) for pair in pairs]
    if own_calendars:
        faults = any(day.fault for pair in pairs for day in pair)
        like = [not faults and whole_left_out(fleet) == whole_left_out(base)] * len(pairs)
    same = [pair for pair, is_like in zip(pairs, like, strict=True) if is_like]
    figures = {}
    for name in FIGURES if same else ():
        differences = [figure(name, one) - figure(name, other) for one, other in same]
        figures[name] = _paired(name, differences, spread)
    late = math.fsum(one.late_cost - other.late_cost for one, other in same)
    return Difference(
        fleet=fleet[0].fleet,
        base=base[0].fleet,
        dates=tuple(day.date for day, _ in same),
        other_days=tuple(
            _other_day(*pair)
            for pair, is_like in zip(pairs, like, strict=True)
            if not is_like and not _same_work(*pair)
        ),
        figures=figures,
        late_cost=late / len(same) if same else 0.0,
    )


def _paired(name: str, differences: Sequence[float], spread: Spread | None) -> Paired:
    mean = math.fsum(differences) / len(differences)
    own = None if spread is None else own_spread(name, len(differences), spread)
    return Paired(mean, own, abs(mean) <= max(SAME, own or 0.0))


def own_spread(name: str, days: int, spread: Spread) -> float:
    """How far two equal fleets' means over so many days may lie apart, because every plan is one
    of many that the planner might have found: Student's t times the standard error."""
    quantile = float(stdtrit(spread.freedom, SURE))
    return quantile * spread.standard_deviation[name] * math.sqrt(2 / days)


def whole_left_out(days: Sequence[DayResult]) -> frozenset[str]:
    """Orders that are left out on any of the days."""
    return frozenset[str]().union(*(day.left_out for day in days))


def _same_work(one: DayResult, other: DayResult) -> bool:
    return not one.fault and not other.fault and one.left_out == other.left_out


def _other_day(fleet: DayResult, base: DayResult) -> OtherDay:
    faults = [f"{day.fleet}: {day.fault}" for day in (fleet, base) if day.fault]
    if faults:
        return OtherDay(fleet.date, (), (), "; ".join(faults))
    return OtherDay(
        fleet.date,
        tuple(sorted(base.left_out - fleet.left_out)),
        tuple(sorted(fleet.left_out - base.left_out)),
        "",
    )


Differences = Mapping[tuple[str, str], Difference]


def ranked(fleets: Sequence[FleetResult], differences: Differences) -> tuple[FleetResult, ...]:
    """The fleets in their own order, each with its place; one whose money cannot be told has none.

    A fleet that leaves out orders which another one does stands below one that serves more days,
    however cheap it is; but one that does not pay back what it costs within the life of its trucks
    never stands above the present one. Then the larger gain is better; fleets that differ from the
    best of them by no more than the planner's own spread share its place. differences: every pair
    (fleet, base); the first fleet is the present one.
    """
    in_order = sorted(
        (fleet for fleet in fleets if fleet.money.gain is not None),
        key=lambda fleet: (*_group(fleet, fleets[0]), -(fleet.money.gain or 0.0)),
    )
    placed: dict[str, FleetResult] = {}
    first: FleetResult | None = None
    place = 0
    for at, fleet in enumerate(in_order, start=1):
        tie = (
            first is not None
            and _group(fleet, fleets[0]) == _group(first, fleets[0])
            and _is_tie(fleet, first, differences)
        )
        if first is None or not tie:
            first, place = fleet, at
        words = _words(fleet, first if tie else None)
        placed[fleet.name] = replace(fleet, rank=place, rank_words=words)
    return tuple(
        placed.get(fleet.name)
        or replace(
            fleet, rank=None, rank_words=f"no place: {fleet.money.why_not or 'no day to compare'}"
        )
        for fleet in fleets
    )


def _group(fleet: FleetResult, present: FleetResult) -> tuple[int, bool]:
    bad = len(fleet.bad_dates)
    return (bad, False) if fleet.money.pays else (max(bad, len(present.bad_dates)), True)


def _is_tie(fleet: FleetResult, first: FleetResult, differences: Differences) -> bool:
    paired = differences[fleet.name, first.name].figures.get("cost")
    if paired is None or paired.spread is None:
        return False
    less = (first.money.gain or 0.0) - (fleet.money.gain or 0.0)
    return less <= paired.spread * (fleet.money.working_days or 1)


def _words(fleet: FleetResult, tied_with: FleetResult | None) -> str:
    bad, days = len(fleet.bad_dates), len(fleet.days)
    served = "serves every day"
    if bad:
        served = f"cannot serve {bad} of {days} days as another fleet does"
    elif left := len(whole_left_out(fleet.days)):
        served += f" but for {counted(left, 'order')} that no fleet does"
    pays = "" if fleet.money.pays else "; does not pay back"
    tie = f"; within the planner's own spread of {tied_with.name}" if tied_with else ""
    return served + pays + tie


def fleet_result(
    fleet: Fleet,
    days: Sequence[DayResult],
    others: Sequence[Sequence[DayResult]],
    money: Money,
    own_calendars: bool = False,
) -> FleetResult:
    """The fleet over its days, still without a place among the others. others: the same days with
    every fleet. own_calendars: an order may lie on another day with each."""
    good = [day for day in days if not day.fault]
    orders = sum(day.totals.orders for day in good)
    done_ft2 = sum(day.done_ft2 for day in good)
    cost = sum(day.totals.cost for day in good)
    return FleetResult(
        name=fleet.name,
        words=fleet.words,
        days=tuple(days),
        stats={name: stat(name, good) for name in (*FIGURES, *MORE_STATS)} if good else {},
        cost_per_order=cost / orders if orders else None,
        cost_per_1000_ft2=1000 * cost / done_ft2 if done_ft2 else None,
        unserved_dates=tuple(_unserved_dates(good, others, own_calendars)),
        fault_dates=tuple(day.date for day in days if day.fault),
        changeovers=sum(truck.changeovers for day in good for truck in day.trucks),
        between=BetweenDays(
            *(
                sum(getattr(day.between, field.name) for day in good)
                for field in fields(BetweenDays)
            )
        ),
        left_gal=sum(tank.left_gal for day in good for truck in day.trucks for tank in truck.tanks),
        trucks=tuple(_truck_result(truck, good) for truck in fleet.trucks.values()),
        money=money,
        against_present=None,
        rank=None,
        rank_words="",
    )


def _unserved_dates(
    days: Sequence[DayResult], others: Sequence[Sequence[DayResult]], own_calendars: bool
) -> Iterator[str]:
    """Days on which the fleet leaves an order out that another one does: an order that no fleet
    can do says nothing about any of them."""
    if own_calendars:
        nobody = frozenset.intersection(*map(whole_left_out, others))
        yield from (day.date for day in days if day.left_out - nobody)
        return
    by_date: dict[str, list[DayResult]] = {}
    for one in others:
        for day in one:
            if not day.fault:
                by_date.setdefault(day.date, []).append(day)
    for day in days:
        if any(day.left_out - other.left_out for other in by_date[day.date]):
            yield day.date


def _truck_result(truck: Truck, days: Sequence[DayResult]) -> TruckResult:
    rows = [(day.date, row) for day in days for row in day.trucks if row.truck_id == truck.truck_id]
    out = [(date, row) for date, row in rows if row.is_out]
    heaviest_lb, heaviest_date = max(
        ((row.heaviest_lb, date) for date, row in out), default=(truck.ready_lb, "")
    )
    return TruckResult(
        truck_id=truck.truck_id,
        title=truck.title,
        days_out=len(out),
        empty_lb=truck.ready_lb,
        heaviest_lb=heaviest_lb,
        heaviest_date=heaviest_date,
        gvwr_lb=truck.gvwr_lb,
        bound_days=sum(row.bound_by_weight > 0 for _, row in out),
        thresholds=thresholds(truck, heaviest_lb),
        tanks=tuple(_tank_results(truck, [row for _, row in out])),
    )


def _tank_results(truck: Truck, days: Sequence[TruckOnDay]) -> Iterator[TankResult]:
    by_name: Mapping[str, list[TankDay]] = {tank.compartment_id: [] for tank in truck.compartments}
    left_gal = dict.fromkeys(by_name, 0.0)
    for day in days:
        for row in day.tanks:
            left_gal[row.compartment_id] += row.left_gal
            if row.used_gal > 0:
                by_name[row.compartment_id].append(row)
    for tank in truck.compartments:
        used = by_name[tank.compartment_id]
        shares = [row.fullest_gal / row.capacity_gal for row in used]
        yield TankResult(
            compartment_id=tank.compartment_id,
            capacity_gal=tank.capacity_gal,
            days_used=len(used),
            mean_used_gal=sum(row.used_gal for row in used) / len(used) if used else 0.0,
            most_used_gal=max((row.used_gal for row in used), default=0.0),
            mean_fullest_share=sum(shares) / len(shares) if shares else 0.0,
            most_fullest_share=max(shares, default=0.0),
            bound_days=sum(row.bound > 0 for row in used),
            left_gal=left_gal[tank.compartment_id],
        )
