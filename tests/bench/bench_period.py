"""The search of several days beside published multi-depot instances: distance only.

Usage: python -m tests.bench.bench_period [--seconds 30] [--names p01,p03,p06]

Cordeau, Gendreau and Laporte 1997, read from ../shared/benchmarks/period (whose README says where
they come from, as the best known values). A vehicle of a depot is a truck-day of its own; a yard
fills before departure only.
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

import numpy as np

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

FILES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "period"
MUCH = 1e7


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
        TruckSpec(
            truck_id=f"{depot}-{one}",
            yard_id=f"Y{depot}",
            profile=0,
            shift_start_min=0.0,
            shift_end_min=MUCH,
            latest_return_min=limits[depot][0] or MUCH,
            lunch_min=0.0,
            lunch_earliest_min=0.0,
            lunch_latest_min=0.0,
            payload_lb=1e9,
            pay_per_min=0.0,
            overtime_pay_per_min=0.0,
            cost_per_day=0.0,
            cost_per_mile=1.0,
            lines=(LineSpec("L", MUCH, 0.0, 1e9),),
            compartments=(CompartmentSpec("C", limits[depot][1], 0.0, "L", 1, 0.0, None),),
            loadings=(Loading(("M",), ()),),
        )
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


def main() -> None:
    """Each instance with its gap."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seconds", type=float, default=30.0)
    ask.add_argument("--names", default="p01,p03,p06")
    given = ask.parse_args()
    if not FILES.is_dir():
        raise SystemExit("skipped: ../shared is not there")
    rows = csv.reader((FILES / "BKS.csv").read_text(encoding="utf-8").splitlines())
    known = {row[0]: float(row[1]) for row in rows if len(row) > 1 and "/" in row[0]}
    # Compiled code is made or loaded before any clock runs.
    small = multi_depot(FILES / "mdvrp" / "p01")
    lay_days(small, SolveOptions(Effort(count=1)))
    for name in given.names.split(","):
        problem = multi_depot(FILES / "mdvrp" / name)
        begun = time.process_time()
        draft, engine = lay_days(problem, SolveOptions(Effort(seconds=given.seconds)))
        best = known[f"benchmark/MDVRP/{name}"]
        print(
            f"{name}: {len(problem.orders)} customers, {engine} {draft.total:.2f}, best known "
            f"{best:.2f}, {100 * (draft.total / best - 1):+.2f} %, "
            f"{time.process_time() - begun:.0f} CPU s",
            flush=True,
        )


if __name__ == "__main__":
    main()
