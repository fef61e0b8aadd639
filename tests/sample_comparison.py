"""A comparison of made-up figures, so that a page can be looked at without planning a season."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields, replace
from random import Random
from statistics import fmean, median

from planner.compare.model import (
    FIGURES,
    PRESENT,
    BetweenDays,
    Comparison,
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
    TruckMoney,
    TruckOnDay,
    TruckResult,
)
from planner.compare.verdict import verdict_lines
from planner.compliance.thresholds import thresholds
from planner.day.fleet import Compartment, Line, Truck
from planner.plan.model import NotDone, Totals
from tests.sample_plan import HOSTILE

Row = tuple[str, str, int, int, tuple[int, ...]]
"""Truck, name, empty lb, rating lb, gallons of its compartments."""

# Fleet: (cost a day, hours a day, trucks).
YARDS: dict[str, tuple[float, float, list[Row]]] = {
    PRESENT: (1150.0, 33.0, [
        ("T1", "Truck 1, long flatbed", 13100, 19500, (300, 180, 100, 25)),
        ("T2", "Truck 2, two-reel flatbed", 11300, 16000, (200, 120, 110, 20)),
        ("T3", "Truck 3, box body", 11600, 14000, (250, 180, 20)),
        ("T4", "Truck 4, short flatbed", 8700, 11500, (150, 100, 15)),
        ("T5", "Truck 5, pickup with skid tanks", 7600, 10000, (100, 60, 50, 15)),
    ]),
    "four-large": (1060.0, 28.0, [
        ("L1", "Truck 1, tandem flatbed", 17800, 33000, (600, 400, 200, 30)),
        ("L2", "Truck 2, heavy flatbed", 14900, 25950, (450, 300, 150, 25)),
        ("L3", "Truck 3, heavy flatbed", 14900, 25950, (450, 300, 150, 25)),
        ("L4", "Truck 4, long flatbed", 13100, 19500, (300, 180, 100, 25)),
    ]),
    "six-small": (1160.0, 35.0, [
        (f"C{k}", f"Truck {k}, pickup with skid tanks", 7450, 10000, (140, 110, 15))
        for k in range(1, 7)
    ]),
}  # fmt: skip

SPREAD = 24.0
"""Of a difference of two mean costs: what is under it is a tie."""


ASSUMPTIONS = tuple(
    f"{number} of what the figures rest on: a sentence or two, as long as those that a real "
    "comparison prints, on days, effort, spread, prices and what is left out of them, so that the "
    "sheets are as full as they will be."
    for number in range(1, 14)
)


def sample_dates(count: int = 20) -> tuple[str, ...]:
    """Working days in weeks three weeks apart, as the demo season has them."""
    first = dt.date(2027, 3, 22)
    days = [first + dt.timedelta(days=21 * (k // 5) + k % 5) for k in range(count)]
    return tuple(day.isoformat() for day in days)


def sample_comparison(hostile: bool = False, days: int = 20, more_fleets: int = 0) -> Comparison:
    """The demo season's three fleets with invented figures. hostile: names that try to break out
    of the page; more_fleets: copies of the small one under other names."""
    dates = sample_dates(days)
    random = Random(7)
    wave = [random.gauss(0, 90) for _ in dates]
    yards = dict(YARDS)
    for k in range(more_fleets):
        cost, hours, trucks = YARDS["six-small"]
        yards[f"small-{k + 1}"] = (cost + 30 * k, hours, trucks)
    fleets = [_fleet(name, dates, wave, random, hostile, yard) for name, yard in yards.items()]
    differences = tuple(
        _difference(fleet, base) for fleet in fleets for base in fleets if fleet is not base
    )
    fleets = [
        replace(
            fleet,
            against_present=next(
                (d for d in differences if (d.fleet, d.base) == (fleet.name, PRESENT)), None
            ),
        )
        for fleet in fleets
    ]
    comparison = Comparison(
        company=HOSTILE if hostile else "Tansy and Oak Lawn Care",
        currency="$",
        dates=dates,
        source="from the orders' dates",
        engine="ortools",
        effort="count 20",
        seed=1,
        roads="alder-mills.osm.pbf",
        roads_warning=HOSTILE if hostile else "",
        workbook_sha256="0123456789abcdef" * 4,
        planner_version="0.1.0",
        fleets=tuple(fleets),
        differences=differences,
        spread=Spread(dates[:3], (1, 2, 3), {"cost": 17.0}, 12),
        assumptions=(HOSTILE if hostile else ASSUMPTIONS[0], *ASSUMPTIONS[1:]),
        notes=(),
    )
    return replace(comparison, verdict=verdict_lines(comparison))


def _fleet(
    name: str,
    dates: tuple[str, ...],
    wave: list[float],
    random: Random,
    hostile: bool,
    yard: tuple[float, float, list[Row]],
) -> FleetResult:
    cost, hours, trucks = yard
    results = [_truck(truck, random, hostile) for truck in trucks]
    days = tuple(
        _day(name, day, cost + wave[k] + random.gauss(0, 25), hours + wave[k] / 30, results, random)
        for k, day in enumerate(dates)
    )
    if name == "six-small":
        days = tuple(_with_left_out(day) if k % 5 == 3 else day for k, day in enumerate(days))
    stats = {figure: _stat(figure, days) for figure in (*FIGURES, "gal", "unserved", "held")}
    rank = {"four-large": 1, PRESENT: 2, "six-small": 2}.get(name, 4)
    orders = sum(day.totals.orders for day in days)
    spent = sum(day.totals.cost for day in days)
    shown = HOSTILE if hostile and name == "four-large" else name
    return FleetResult(
        name=shown,
        words=f"{len(trucks)} trucks, {sum(len(t[4]) for t in trucks)} compartments",
        days=tuple(replace(day, fleet=shown) for day in days),
        stats=stats,
        cost_per_order=spent / orders,
        cost_per_1000_ft2=spent / sum(day.done_ft2 for day in days) * 1000,
        unserved_dates=tuple(day.date for day in days if day.unserved),
        fault_dates=(),
        changeovers=31,
        between=BetweenDays(44, 1056.0, 310.0, 844.0),
        left_gal=812.0,
        trucks=tuple(results),
        money=_money(name, cost, trucks),
        against_present=None,
        rank=rank,
        rank_words=(
            "serves every day; by yearly cost"
            if rank == 1
            else "serves every day; by yearly cost; within the planner's own spread of present"
        ),
    )


def _truck(row: Row, random: Random, hostile: bool) -> TruckResult:
    truck_id, title, empty_lb, gvwr_lb, sizes = row
    tanks = tuple(
        TankResult(
            compartment_id=f"{truck_id}-{k + 1}",
            capacity_gal=size,
            days_used=random.randrange(8, 21),
            mean_used_gal=size * random.uniform(0.6, 1.5),
            most_used_gal=size * 1.8,
            mean_fullest_share=random.uniform(0.5, 0.95),
            most_fullest_share=random.uniform(0.95, 1.0),
            bound_days=random.randrange(0, 6),
            left_gal=20.0,
        )
        for k, size in enumerate(sizes)
    )
    heaviest_lb = min(gvwr_lb, empty_lb + 8.6 * sum(sizes) * 0.95)
    truck = Truck(
        truck_id=truck_id, name=title, yard_id="YARD", shift_start_min=420,
        shift_end_min=960, overtime_most_min=60, lunch_min=30, lunch_earliest_min=660,
        lunch_latest_min=810, crew=1, applicator="", applicator_license="",
        empty_weight_lb=empty_lb, gvwr_lb=gvwr_lb, height_ft=None, cost_per_day=0,
        cost_per_mile=0.7, pay_per_hour=24,
        lines=(Line("A", 300, 0.5, 2.5, None, None),),
        compartments=tuple(
            Compartment(f"{truck_id}-{k + 1}", size, 1, "A", k + 1, None, None, 0)
            for k, size in enumerate(sizes)
        ),
    )  # fmt: skip
    return TruckResult(
        truck_id=truck_id,
        title=HOSTILE if hostile else truck.title,
        days_out=20,
        empty_lb=empty_lb,
        heaviest_lb=heaviest_lb,
        heaviest_date="2027-03-25",
        gvwr_lb=gvwr_lb,
        bound_days=2 if heaviest_lb == gvwr_lb else 0,
        thresholds=thresholds(truck, heaviest_lb),
        tanks=tanks,
    )


def _day(
    name: str, date: str, cost: float, hours: float, trucks: list[TruckResult], random: Random
) -> DayResult:
    refills = random.randrange(2, 12)
    zero = Totals(**{field.name: 0 for field in fields(Totals)})
    totals = replace(
        zero, cost=cost, paid_min=60 * hours, overtime_min=max(0.0, 60 * (hours - 33)),
        drive_min=410 + random.gauss(0, 25), drive_miles=140 + random.gauss(0, 15),
        refills=refills, refill_min=16 * refills, gal=2400 + random.gauss(0, 300), orders=80,
        visits=75,
    )  # fmt: skip
    of_trucks = tuple(
        TruckOnDay(
            truck.truck_id, truck.heaviest_lb, truck.gvwr_lb, 1, 0, replace(zero, orders=16),
            tuple(TankDay(t.compartment_id, t.capacity_gal, "PRE", 100, 100, 1, 100, 2, 0)
                  for t in truck.tanks),
        )
        for truck in trucks
    )  # fmt: skip
    return DayResult(name, date, 1, "ortools", 80, 1_050_000, of_trucks, (), (), totals)


def _with_left_out(day: DayResult) -> DayResult:
    reason = "needs 345 ft of hose; the longest that can carry PRE has 300 ft"
    rows = (NotDone("5112", "REACH", reason), NotDone("5140", "REACH", reason))
    return replace(day, unserved=rows, totals=replace(day.totals, orders=78))


def _stat(figure: str, days: tuple[DayResult, ...]) -> Stat:
    values = [_value(figure, day) for day in days]
    worst = max(range(len(days)), key=lambda k: values[k])
    return Stat(
        total=sum(values),
        mean=fmean(values),
        median=median(values),
        ninety=sorted(values)[int(0.9 * (len(values) - 1))],
        worst=values[worst],
        worst_date=days[worst].date,
    )


def _value(figure: str, day: DayResult) -> float:
    if figure == "trucks_out":
        return day.trucks_out
    if figure in ("unserved", "held"):
        return len(getattr(day, figure))
    return float(getattr(day.totals, figure))


def _difference(fleet: FleetResult, base: FleetResult) -> Difference:
    pairs = list(zip(fleet.days, base.days, strict=True))
    same = [(a, b) for a, b in pairs if a.left_out == b.left_out]
    figures = {}
    for figure in FIGURES:
        mean = fmean(_value(figure, a) - _value(figure, b) for a, b in same)
        spread = SPREAD if figure == "cost" else abs(mean) * 0.5 + 0.1
        figures[figure] = Paired(mean, spread, abs(mean) <= spread)
    return Difference(
        fleet=fleet.name,
        base=base.name,
        dates=tuple(a.date for a, _ in same),
        other_days=tuple(
            OtherDay(a.date, tuple(b.left_out), tuple(a.left_out), "")
            for a, b in pairs
            if a.left_out != b.left_out
        ),
        figures=figures,
    )


def _money(name: str, cost: float, trucks: list[Row]) -> Money:
    rows = tuple(
        TruckMoney(t[0], name == PRESENT, 3.2 * t[3], 2400, 0.8 * t[3], 8, 1.4 * t[3], 5000)
        for t in trucks
    )
    own = sum(row.yearly_ownership or 0 for row in rows)
    running = 250 * cost
    base = name == PRESENT
    return Money(
        trucks=rows,
        working_days=250,
        interest_percent=6.0,
        yearly_running=running,
        yearly_ownership=own,
        yearly=running + own,
        to_buy=None if base else 210_000.0,
        resale=0.0 if base else 40_000.0,
        life_years=None if base else 11.0,
        yearly_saving=None if base else 250 * (1150 - cost),
        scatter=None if base else 250 * SPREAD,
        gain=0.0 if base else 250 * (1150 - cost) - 8_000,
        payback_years=9.3 if name == "four-large" else None,
        payback_low_years=7.4 if name == "four-large" else None,
        payback_high_years=12.6 if name == "four-large" else None,
        break_even_purchase=None if base else 96_000.0,
        break_even_days=None if base else 412.0,
    )
