"""Random RoutingProblems for tests of the routing room; every figure is invented."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

from planner.day.clock import Window
from planner.routing.problem import (
    CompartmentSpec,
    LineSpec,
    Loading,
    OrderTask,
    Preferences,
    RoutingProblem,
    SiteTask,
    TruckSpec,
    TruckStart,
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
                price=(price := rng.choice([500.0, 1200.0, 3000.0])),
                worth=price,
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


def gone_out(problem: RoutingProblem, seed: int) -> RoutingProblem:
    """The same day when some (on even seeds all) of the trucks are out already, each somewhere
    with something on board, a mix in some hoses, lunch had or not."""
    rng = random.Random(1000 + seed)
    trucks = []
    for truck in problem.trucks:
        if seed % 2 and rng.random() < 0.5:
            trucks.append(truck)
            continue
        loading = rng.choice(truck.loadings)
        parts = tuple(
            replace(
                part,
                start_gal=rng.uniform(part.heel_gal, part.capacity_gal) if mix_id else 0.0,
                start_mix=mix_id,
            )
            for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True)
        )
        on_board_lb = sum(
            part.start_gal * problem.density_lb_per_gal[part.start_mix]
            for part in parts
            if part.start_mix
        )
        held = []
        for line in truck.lines:
            mixes = [
                part.start_mix for part in parts if part.line_id == line.line_id and part.start_mix
            ]
            held.append(rng.choice([None, *mixes]))
        now = truck.shift_start_min + rng.uniform(20.0, 120.0)
        trucks.append(
            replace(
                truck,
                compartments=parts,
                payload_lb=max(truck.payload_lb, on_board_lb),
                loadings=(Loading(loading.mix_of, ()),),
                lines=tuple(
                    replace(row, start_mix=mix) for row, mix in zip(truck.lines, held, strict=True)
                ),
                start=TruckStart(
                    place=rng.randrange(len(problem.drive_min[0])),
                    time_min=now,
                    miles=rng.uniform(0.0, 9.0),
                    lunched=now > truck.lunch_earliest_min and rng.random() < 0.5,
                ),
            )
        )
    return replace(problem, trucks=tuple(trucks))


def wished(problem: RoutingProblem, seed: int, *, told: bool = True) -> RoutingProblem:
    """The same day with every kind of wish. told: customers were told times, too."""
    rng = np.random.default_rng(seed)
    spans: list[Window | None] = []
    for _ in problem.orders:
        opens = float(rng.uniform(430, 700))
        spans.append(Window(opens, opens + 60.0) if rng.random() < 0.6 else None)
    return replace(
        problem,
        preferences=Preferences(
            truck_price=rng.choice([0.0, 15.0], (len(problem.trucks), len(problem.orders))),
            told=tuple(spans) if told else None,
            told_price=tuple(float(price) for price in rng.uniform(5, 40, len(spans))),
            per_refill=6.0,
            per_squared_hour=0.7,
            per_mile_apart=1.5,
            xy_miles=rng.uniform(-5, 5, (len(problem.drive_min[0]), 2)),
        ),
    )
