"""The search of several days beside published multi-depot and periodic instances: distance only.

Usage: python -m tests.bench.bench_period [--seconds 30 | --effort 100] [--names p01,p03,p06]
       python -m tests.bench.bench_period --periodic [--seconds 60] [--names p02,p05,p14,pr01]

Cordeau, Gendreau and Laporte 1997, read from ../shared/benchmarks/period (whose README says where
they come from, as the best known values). A vehicle of a depot, or of a day, is a truck-day of its
own; a yard fills before departure only. Periodic: a customer is visited several times, on one of
its combinations of days. The planner has no such combinations (docs/decisions.md, Weeks), so they
are chosen here, outside: a few neighbors get another one, the compiled search lays their visits
anew, and the outcome stays or not (annealed). Seconds are of processor, on one core; plans are
counted again from the files' own numbers.
"""

from __future__ import annotations

import argparse
import csv
import random
import time
from dataclasses import dataclass
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
    OrderTask,
    RoutingProblem,
    SiteTask,
    SolveOptions,
    TruckSpec,
)
from planner.routing.search.parallel import Searcher, SearchLeg, plan_of

FILES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "period"
MUCH = 1e7
STEPS, AROUND = 120, 20
"""Of the search after each change of days, around so many customers."""


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
            _truck(f"{day}-{one}", "Y", self.longest, self.gal)
            for day in range(self.days)
            for one in range(self.vehicles)
        )
        everybody = frozenset(truck.truck_id for truck in trucks)
        orders = tuple(
            OrderTask(f"{at}.{turn}", at, "M", self.nodes[at, 3], None, 0.0, everybody, 1e4, 1e4)
            for at, turn in self.visit
        )
        halves = (self.nodes[:, 2][:, None] + self.nodes[:, 2][None]) / 2.0
        np.fill_diagonal(halves, 0.0)
        return RoutingProblem(
            trucks, orders, (SiteTask("Y", 0, 0.0, 1e9, -2.0, -1.0, None),), {"M": 0.0},
            np.stack([self.miles + halves]), np.stack([self.miles]), 0.0, 0.0,
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
    chance, problem = random.Random(seed), given.problem()
    arrays = day_arrays(problem)
    searcher = Searcher(arrays, seed, problem.tuning)
    linked = [at for at, some in given.choices.items() if len(some) > 1 and len(some[0]) > 1]
    chosen = {at: chance.choice(some) for at, some in given.choices.items()}

    def open_days(at: int) -> None:
        for turn, day in enumerate(chosen[at]):
            free = {one[0] for one in given.choices[at]} if len(chosen[at]) == 1 else {day}
            for truck in range(len(problem.trucks)):
                shut = truck // given.vehicles not in free
                arrays.wish[truck, given.visit[at, turn]] = np.inf if shut else 0.0

    def guess(at: int, stops: list[list[int]], heat: float) -> tuple[int, ...]:
        """A combination that seems cheap, where the customer's other visits are."""
        cheapest = np.full(given.days, MUCH)
        for truck, some in enumerate(stops):
            way = np.array(
                [0, *(one for row in some if row in customer and (one := customer[row]) != at), 0]
            )
            load = given.nodes[way, 3].sum() + given.nodes[at, 3]
            d = given.miles
            more = (d[way[:-1], at] + d[at, way[1:]] - d[way[:-1], way[1:]]).min()
            more += 2.0 * heat * max(0.0, load / given.gal - 1.0) * given.vehicles
            day = truck // given.vehicles
            cheapest[day] = min(cheapest[day], more)
        return min(
            given.choices[at],
            key=lambda days: cheapest[list(days)].sum() + heat * chance.expovariate(1.0),
        )

    for at in given.choices:
        open_days(at)
    customer = {row: at for (at, _), row in given.visit.items()}
    everything = searcher.hand
    near = {at: np.argsort(given.miles[at, 1:], kind="stable") + 1 for at in given.choices}
    loads = arrays.truck_at[:, c.FIRST_LOAD].tolist()
    searcher.start_from(loads, [[] for _ in problem.trucks])
    searcher.run(SearchLeg(0.0, 1.0, 6000, None, 0.0), 50.0, lambda: False)
    loads, stops, _ = plan_of(searcher)
    cost = best = searcher.cost
    kept, begun = stops, time.thread_time()
    mean = cost / len(given.visit)
    while (share := (time.thread_time() - begun) / seconds) < 1.0:
        heat = mean * (1.0 - share) ** 2
        missing = [at for at, turn in given.visit if given.visit[at, turn] not in
                   {one for some in stops for one in some}]  # fmt: skip
        center = chance.choice(missing if missing and chance.random() < 0.5 else linked)
        some = [at for at in near[center] if at in linked][: chance.randint(1, 3)]
        before = {at: chosen[at] for at in some}
        for at in some:
            chosen[at] = guess(at, stops, 0.5 * mean)
            open_days(at)
        close = set(near[center][:AROUND].tolist())
        around = [row for (at, _), row in given.visit.items() if at in close]
        searcher.hand = everything._replace(centers=np.array(around, dtype=np.int64))
        searcher.start_from(loads, stops)
        searcher.run(SearchLeg(0.5, 1.0, STEPS, None, 0.0), mean, lambda: False)
        if searcher.cost < cost + heat * chance.expovariate(1.0):
            cost = searcher.cost
            loads, stops, _ = plan_of(searcher)
            if cost < best - 1e-6:
                best, kept = cost, stops
        else:
            for at in some:
                chosen[at] = before[at]
                open_days(at)
    return given.distance(kept)


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
