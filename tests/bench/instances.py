"""Days for benches, invented: clustered orders, four mixes, a yard and two water points, windows on
a quarter of the orders, loading fixed alike.

The objective is seconds of driving and refilling, and 100,000 per order left out. As a
RoutingProblem that is: nothing paid by the minute, and 'miles' that are seconds, those of a refill
added on the way to its site. The yard as a place to refill is a site of its own (the yard itself
never opens for refills), so that coming home costs no refill.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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

REFILL_S = 900
LEFT_OUT = 100_000
SHIFT_S = 10 * 3600
MIXES = ("M0", "M1", "M2", "M3")
ROOMY, SMALL = (150, 90, 80, 25), (60, 40, 40, 12)
"""Compartment gallons per mix: a truck of the usual kind, and one that must refill often."""
SMALL_TOWN = 0.5
"""Miles of a day with small compartments, as a share of the usual: there refilling, not driving,
is to be most of what can be saved, and every order is to fit the day."""


@dataclass(frozen=True)
class BenchDay:
    """seconds: between places; places: yard, the refill sites (the yard again, two water points),
    the orders. capacity_gal: (truck, mix)."""

    name: str
    xy: NDArray[np.float64]
    seconds: NDArray[np.int64]
    mix: NDArray[np.int64]
    gal: NDArray[np.int64]
    service_s: NDArray[np.int64]
    window_s: NDArray[np.int64]
    capacity_gal: NDArray[np.int64]

    @property
    def sites(self) -> int:
        """Places that are no orders: yard and three places to refill."""
        return 4


def bench_day(orders: int, trucks: int, seed: int, *, small: bool = False) -> BenchDay:
    """A day. small: compartments that must be refilled several times."""
    rng = np.random.default_rng([seed, orders, trucks])
    centers = rng.normal(0.0, 4.0, (max(3, orders // 15), 2))
    homes = centers[rng.integers(0, len(centers), orders)] + rng.normal(0.0, 0.8, (orders, 2))
    water = rng.normal(0.0, 4.0, (2, 2))
    xy = np.vstack([[[0.0, 0.0], [0.0, 0.0]], water, homes]) * (SMALL_TOWN if small else 1.0)
    mix = rng.choice(4, orders, p=[0.5, 0.22, 0.18, 0.10])
    lawn = np.clip(rng.lognormal(np.log(8.5), 0.5, orders), 2.0, 60.0)
    most = np.array(SMALL if small else ROOMY)
    gal = np.minimum(np.maximum(1, np.ceil(lawn * np.array([2.0, 2.0, 3.0, 0.15])[mix])), most[mix])
    gal = gal.astype(np.int64)
    window = np.tile([0, SHIFT_S], (orders, 1))
    late = rng.random(orders) < 0.15
    window[late, 1] = int(SHIFT_S * 0.45)
    early = (rng.random(orders) < 0.10) & ~late
    window[early, 0] = SHIFT_S // 2
    miles = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) * 1.3
    return BenchDay(
        name=f"{orders}/{trucks}{' small' if small else ''} seed {seed}",
        xy=xy,
        seconds=(miles / 26.0 * 3600.0).astype(np.int64),
        mix=mix,
        gal=gal,
        service_s=(300 + gal * 30).astype(np.int64),
        window_s=window,
        capacity_gal=np.tile(most, (trucks, 1)),
    )


def as_problem(day: BenchDay) -> RoutingProblem:
    """The day for our engines. Work that begins in a window ends in ours, so windows close later by
    the work."""
    seconds = day.seconds.astype(np.float64)
    paid = seconds.copy()
    # From a site to itself stays dear: two refills in a row are two.
    paid[:, 1:4] += REFILL_S
    trucks = tuple(
        TruckSpec(
            truck_id=f"T{row}",
            yard_id="YARD",
            profile=0,
            shift_start_min=0.0,
            shift_end_min=SHIFT_S / 60,
            latest_return_min=SHIFT_S / 60,
            lunch_min=0.0,
            lunch_earliest_min=0.0,
            lunch_latest_min=0.0,
            payload_lb=1e9,
            pay_per_min=0.0,
            overtime_pay_per_min=0.0,
            cost_per_day=0.0,
            cost_per_mile=1.0,
            lines=tuple(LineSpec(mix, 1e9, 0.0, 2.0) for mix in MIXES),
            compartments=tuple(
                CompartmentSpec(mix, float(gal), 0.0, mix, place, 0.0, None)
                for place, (mix, gal) in enumerate(zip(MIXES, capacity, strict=True))
            ),
            loadings=(Loading(MIXES, ()),),
        )
        for row, capacity in enumerate(day.capacity_gal)
    )
    everyone = frozenset(truck.truck_id for truck in trucks)
    return RoutingProblem(
        trucks=trucks,
        orders=tuple(
            OrderTask(
                order_id=f"O{row}",
                place=day.sites + row,
                mix_id=MIXES[day.mix[row]],
                gal=float(day.gal[row]),
                windows=None
                if tuple(day.window_s[row]) == (0, SHIFT_S)
                else (
                    Window(
                        day.window_s[row, 0] / 60,
                        (day.window_s[row, 1] + day.service_s[row]) / 60,
                    ),
                ),
                hose_run_ft=0.0,
                allowed_trucks=everyone,
                price=float(LEFT_OUT),
                worth=float(LEFT_OUT),
            )
            for row in range(len(day.mix))
        ),
        sites=(
            SiteTask("YARD", 0, 0.0, 1e12, None, 0.0, None),
            *(
                SiteTask(f"W{place}", place, REFILL_S / 60, 1e12, None, None, None)
                for place in (1, 2, 3)
            ),
        ),
        density_lb_per_gal=dict.fromkeys(MIXES, 0.0),
        drive_min=seconds[None] / 60,
        drive_miles=paid[None],
        setup_min_per_visit=5.0,
        fill_margin_percent=0.0,
    )
