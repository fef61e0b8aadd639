"""Random RoutingProblems for tests of the routing room; every figure is invented."""

from __future__ import annotations

import random

import numpy as np

from planner.day.clock import Window
from planner.routing.problem import (
    CompartmentSpec,
    LineSpec,
    Loading,
    OrderTask,
    RoutingProblem,
    SiteTask,
    TruckSpec,
)

MIXES = ("WEED", "FEED", "KILL", "IRON")


def random_truck(rng: random.Random, name: str, *, lunch: bool, tight: bool) -> TruckSpec:
    """A truck with a shared line A and a small compartment on line N."""
    compartments = [
        CompartmentSpec("1", rng.choice([30.0, 42.0, 60.5]), 1.0, "A", 1, 0.0, None),
        CompartmentSpec("2", rng.choice([15.0, 25.0]), rng.choice([0.0, 0.5]), "A", 2, 0.0, None),
        CompartmentSpec("3", 12.0, 0.0, "N", 3, 0.0, None),
    ]
    if rng.random() < 0.4:
        first = compartments[0]
        compartments[0] = CompartmentSpec("1", first.capacity_gal, 1.0, "A", 1, 7.3, "WEED")
    loadings = [
        Loading(("WEED", "FEED", "KILL"), ()),
        Loading(("WEED", "WEED", "KILL"), ()),
        Loading(("WEED", "IRON", "KILL"), ()),
    ]
    if compartments[0].start_mix is None:
        loadings += [Loading(("FEED", "FEED", "KILL"), ()), Loading(("FEED", "WEED", None), ())]
    start = rng.choice([420.0, 450.0])
    end = start + (rng.uniform(150, 260) if tight else 540.0)
    full_lb = sum(part.capacity_gal for part in compartments) * 8.6
    return TruckSpec(
        truck_id=name,
        yard_id="Y1",
        profile=0,
        shift_start_min=start,
        shift_end_min=end,
        latest_return_min=end + rng.choice([0.0, 60.0]),
        lunch_min=30.0 if lunch else 0.0,
        lunch_earliest_min=start + rng.uniform(40, 120),
        lunch_latest_min=start + rng.uniform(130, 220),
        payload_lb=full_lb * rng.choice([0.8, 1.0, 1.2]),
        pay_per_min=0.4,
        overtime_pay_per_min=0.2,
        cost_per_day=40.0,
        cost_per_mile=0.72,
        lines=(LineSpec("A", 300.0, rng.choice([1.1, 3.06]), 2.0), LineSpec("N", 120.0, 0.8, 0.7)),
        compartments=tuple(compartments),
        loadings=tuple(loadings),
    )


def random_problem(
    seed: int,
    orders: int = 6,
    trucks: int = 1,
    *,
    limited: bool = False,
    tight: bool = False,
    gal: tuple[float, float] = (4.0, 16.0),
) -> RoutingProblem:
    """Orders around a yard and two water points. limited: the water points (on odd
    seeds the yard too) do not make every mix. tight: short shifts."""
    rng = random.Random(seed)
    places = max(2, orders - rng.randint(0, 2)) if orders > 2 else orders
    xy = [(0.0, 0.0), (3.0, 1.0), (-2.0, 3.0)]
    xy += [(rng.uniform(-5, 5), rng.uniform(-5, 5)) for _ in range(places)]
    points = np.array(xy)
    miles = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1)) * 1.3
    minutes = miles * 60.0 / 26.0
    tasks = []
    fleet = tuple(
        random_truck(rng, f"T{row + 1}", lunch=rng.random() < 0.5, tight=tight)
        for row in range(trucks)
    )
    for row in range(orders):
        mix_id = rng.choices(MIXES, weights=(5, 4, 1, 1))[0]
        amount = rng.uniform(*gal) if mix_id != "KILL" else rng.uniform(1.0, 5.0)
        windows: tuple[Window, ...] | None = None
        if rng.random() < 0.35:
            opens = 440.0 + rng.uniform(0, 200)
            windows = (Window(opens, opens + rng.uniform(60, 160)),)
            if rng.random() < 0.4:
                windows += (Window(opens + 200.0, opens + 330.0),)
        allowed = frozenset(truck.truck_id for truck in fleet)
        if rng.random() < 0.15 and trucks > 1:
            allowed = frozenset({rng.choice(fleet).truck_id})
        tasks.append(
            OrderTask(
                order_id=f"O{row + 1}",
                place=3 + (row if row < places else rng.randrange(places)),
                mix_id=mix_id,
                gal=amount,
                windows=windows,
                hose_run_ft=rng.choice([0.0, 100.0, 250.0]),
                allowed_trucks=allowed,
                priority=2,
                price=rng.choice([500.0, 1200.0, 3000.0]),
            )
        )
    yard_mixes = frozenset({"WEED", "KILL"}) if limited and seed % 2 else None
    return RoutingProblem(
        trucks=fleet,
        orders=tuple(tasks),
        sites=(
            SiteTask("Y1", 0, 5.0, 12.0, None, None, yard_mixes),
            SiteTask("W1", 1, 4.0, 8.0, 430.0, 760.0, frozenset({"WEED"}) if limited else None),
            SiteTask(
                "W2", 2, 3.0, 20.0, None, None, frozenset({"FEED", "IRON"}) if limited else None
            ),
        ),
        density_lb_per_gal={"WEED": 8.4, "FEED": 8.9, "KILL": 8.5, "IRON": 9.1},
        drive_min=minutes[None],
        drive_miles=miles[None],
        setup_min_per_visit=4.0,
        fill_margin_percent=5.0,
    )
