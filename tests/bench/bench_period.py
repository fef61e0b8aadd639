"""The search of several days beside published multi-depot and periodic instances: distance only.

Usage: python -m tests.bench.bench_period [--seconds 30 | --effort 100] [--names p01,p03,p06]
       python -m tests.bench.bench_period --periodic [--seconds 60] [--names p02,p05,p14,pr01]

Cordeau, Gendreau and Laporte 1997, read from ../shared/benchmarks/period (whose README says where
they come from, as the best known values). A vehicle of a depot, or of a day, is a truck-day of its
own; a yard fills before departure only. Periodic: a customer is visited several times, on one of
its combinations of days, as an OrderGroup. Seconds are of processor, on one core; plans are counted
again from the files' own numbers.
"""

from __future__ import annotations

import argparse
import csv
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.engines.many_days import lay_days
from planner.routing.problem import (
    CompartmentSpec,
    Effort,
    LineSpec,
    Loading,
    OrderGroup,
    OrderTask,
    RoutingProblem,
    SiteTask,
    SolveOptions,
    TruckSpec,
)
from planner.routing.search.parallel import Searcher, SearchLeg, plan_of

FILES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "period"
MUCH = 1e7
DAY_MIN = 1440.0
LEFT_OUT = 8.0
"""Price of leaving a visit out, in the cost of one on the road: dear, and not so dear that no plan
on the way leaves any out."""
STARTS, LAST_FROM = 3, 0.4
"""Annealings from anew, which scatter by half a percent; the last one, of the same length, goes on
from the best, less hot."""
FIRST_STEPS = 2000
"""Until the cost of a visit is known, of which the temperature is a share."""


def multi_depot(path: Path) -> RoutingProblem:
    """An instance of kind 2 as a problem."""
    rows = [line.split() for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    _, vehicles, customers, depots = (int(word) for word in rows[0][:4])
    limits = [
        (float(most), float(load)) for most, load in (row[:2] for row in rows[1 : 1 + depots])
    ]
    nodes = [[float(word) for word in row[:5]] for row in rows[1 + depots :]]
    points = np.array([row[1:3] for row in nodes[customers:] + nodes[:customers]])
    miles = np.sqrt(((points[:, None] - points[None]) ** 2).sum(-1))
    trucks = tuple(
        _truck(f"{depot}-{one}", f"Y{depot}", *limits[depot])
        for depot in range(depots)
        for one in range(vehicles)
    )
    everybody = frozenset(truck.truck_id for truck in trucks)
    orders = tuple(
        OrderTask(str(at), depots + at, "M", row[4], None, 0.0, everybody, 1e5, 1e5)
        for at, row in enumerate(nodes[:customers])
    )
    sites = tuple(SiteTask(f"Y{at}", at, 0.0, 1e9, -2.0, -1.0, None) for at in range(depots))
    square = np.stack([miles])
    return RoutingProblem(trucks, orders, sites, {"M": 0.0}, square, square, 0.0, 0.0)


def _truck(name: str, yard: str, longest: float, gal: float) -> TruckSpec:
    return TruckSpec(
        truck_id=name,
        yard_id=yard,
        profile=0,
        shift_start_min=0.0,
        shift_end_min=MUCH,
        latest_return_min=longest or MUCH,
        lunch_min=0.0,
        lunch_earliest_min=0.0,
        lunch_latest_min=0.0,
        payload_lb=1e9,
        pay_per_min=0.0,
        overtime_pay_per_min=0.0,
        cost_per_day=0.0,
        cost_per_mile=1.0,
        lines=(LineSpec("L", MUCH, 0.0, 1e9),),
        compartments=(CompartmentSpec("C", gal, 0.0, "L", 1, 0.0, None),),
        loadings=(Loading(("M",), ()),),
    )


@dataclass
class Periodic:
    """An instance of kind 1. nodes: x, y, minutes, load; the first is the depot. choices: per
    customer its combinations of days; visit: row of each visit's order, by (customer, which)."""

    vehicles: int
    days: int
    longest: float
    gal: float
    nodes: np.ndarray
    miles: np.ndarray
    choices: dict[int, list[tuple[int, ...]]]
    visit: dict[tuple[int, int], int]

    @classmethod
    def read(cls, path: Path) -> Periodic:
        """From a file; bit t-1-d of a combination stands for day d."""
        rows = [[float(word) for word in line.split()] for line in
                path.read_text(encoding="utf-8").splitlines() if line.strip()]  # fmt: skip
        _, vehicles, customers, days = (int(word) for word in rows[0][:4])
        longest, gal = rows[1][:2]
        nodes = rows[1 + days : 2 + days + customers]
        points = np.array([row[1:3] for row in nodes])
        choices = {
            at: [
                tuple(day for day in range(days) if int(code) >> (days - 1 - day) & 1)
                for code in row[7 : 7 + int(row[6])]
            ]
            for at, row in enumerate(nodes)
            if at
        }
        visits = [(at, turn) for at, some in choices.items() for turn in range(len(some[0]))]
        return cls(
            vehicles, days, longest, gal, np.array([row[1:5] for row in nodes]),
            np.sqrt(((points[:, None] - points[None]) ** 2).sum(-1)), choices,
            {one: row for row, one in enumerate(visits)},
        )  # fmt: skip

    def problem(self) -> RoutingProblem:
        """Every visit an order that any truck-day may do; minutes of a stop are in the drive."""
        trucks = tuple(
            replace(
                one,
                day_min=DAY_MIN * day,
                shift_start_min=DAY_MIN * day,
                latest_return_min=DAY_MIN * day + one.latest_return_min,
            )
            for day in range(self.days)
            for one in (
                _truck(f"{day}-{which}", "Y", self.longest, self.gal)
                for which in range(self.vehicles)
            )
        )

        def able(at: int, turn: int) -> frozenset[str]:
            """Trucks of the days that any combination gives a visit: who has one visit, or one
            combination, needs no group."""
            days = {some[turn] for some in self.choices[at]}
            return frozenset(one.truck_id for one in trucks if one.day in days)

        orders = tuple(
            OrderTask(
                f"{at}.{turn}", at, "M", self.nodes[at, 3], None, 0.0, able(at, turn), 1e4, 1e4
            )
            for at, turn in self.visit
        )
        halves = (self.nodes[:, 2][:, None] + self.nodes[:, 2][None]) / 2.0
        np.fill_diagonal(halves, 0.0)
        return RoutingProblem(
            trucks, orders, (SiteTask("Y", 0, 0.0, 1e9, -2.0, -1.0, None),), {"M": 0.0},
            np.stack([self.miles + halves]), np.stack([self.miles]), 0.0, 0.0,
            groups=tuple(
                OrderGroup(tuple(f"{at}.{turn}" for turn in range(len(some[0]))), tuple(some))
                for at, some in self.choices.items()
                if min(len(some), len(some[0])) > 1
            ),
        )  # fmt: skip

    def distance(self, stops: list[list[int]]) -> float:
        """Of a plan, counted from the file's numbers; a rule that breaks ends loudly."""
        customer = {row: at for (at, _), row in self.visit.items()}
        seen: dict[int, list[int]] = {at: [] for at in self.choices}
        total = 0.0
        for truck, some in enumerate(stops):
            route = [customer[one] for one in some if one in customer]
            way = float(
                sum(self.miles[a, b] for a, b in zip([0, *route], [*route, 0], strict=True))
            )
            assert self.nodes[route, 3].sum() <= self.gal + 1e-6, "too much on board"
            long = way + self.nodes[route, 2].sum()
            assert not self.longest or long <= self.longest + 1e-6, "too long a day"
            for at in route:
                seen[at].append(truck // self.vehicles)
            total += way
        for at, days in seen.items():
            assert tuple(sorted(days)) in self.choices[at], f"customer {at} on {days}"
        return total


def lay_periodic(given: Periodic, seconds: float, seed: int) -> float:
    """Distance of the best plan found."""
    problem = given.problem()
    arrays = day_arrays(problem)
    arrays.order[:, c.CHEAP_WISH] = 0.0
    loads, stops = arrays.truck_at[:, c.FIRST_LOAD].tolist(), [[] for _ in problem.trucks]
    best = np.inf
    for start in range(STARTS + 1):
        searcher = Searcher(arrays, seed + start, problem.tuning)
        warm = LAST_FROM if start == STARTS else 0.0
        searcher.start_from(loads, stops if warm else [[] for _ in problem.trucks])
        if start == 0:
            searcher.run(SearchLeg(0.0, 1.0, FIRST_STEPS, None, 0.0), 50.0, lambda: False)
            mean = searcher.order_money()
            arrays.order[:, c.PRICE] = LEFT_OUT * mean
        begun = time.thread_time()
        while (share := (time.thread_time() - begun) / seconds * (STARTS + 1)) < 1.0:
            along = warm + (1.0 - warm) * share
            searcher.run(SearchLeg(along, along, 100, None, 0.0), mean, lambda: False)
        if searcher.cost < best:
            best, stops = searcher.cost, plan_of(searcher)[1]
    return given.distance(stops)


def main() -> None:
    """Each instance with its gap."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seconds", type=float, default=30.0)
    ask.add_argument("--effort", type=int, help="steps, for a busy machine; not with --periodic")
    ask.add_argument("--names")
    ask.add_argument("--periodic", action="store_true")
    given = ask.parse_args()
    if not FILES.is_dir():
        raise SystemExit("skipped: ../shared is not there")
    rows = csv.reader((FILES / "BKS.csv").read_text(encoding="utf-8").splitlines())
    known = {row[0]: float(row[1]) for row in rows if len(row) > 1 and "/" in row[0]}
    # Compiled code is made or loaded before any clock runs.
    small = multi_depot(FILES / "mdvrp" / "p01")
    lay_days(small, SolveOptions(Effort(count=1)))
    if given.periodic:
        for name in (given.names or "p02,p05,p14,pr01").split(","):
            found = lay_periodic(Periodic.read(FILES / "pvrp" / name), given.seconds, 1)
            best = known[f"benchmark/PVRP/{name}"]
            over = 100 * (found / best - 1)
            print(f"{name}: {found:.2f}, best known {best:.2f}, {over:+.2f} %", flush=True)
        return
    for name in (given.names or "p01,p03,p06").split(","):
        problem = multi_depot(FILES / "mdvrp" / name)
        begun = time.process_time()
        effort = Effort(count=given.effort) if given.effort else Effort(seconds=given.seconds)
        draft, engine = lay_days(problem, SolveOptions(effort))
        best = known[f"benchmark/MDVRP/{name}"]
        print(
            f"{name}: {len(problem.orders)} customers, {engine} {draft.total:.2f}, best known "
            f"{best:.2f}, {100 * (draft.total / best - 1):+.2f} %, "
            f"{time.process_time() - begun:.0f} CPU s",
            flush=True,
        )


if __name__ == "__main__":
    main()
