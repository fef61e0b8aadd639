"""200 random weather days: no order is sprayed outside the hours that its labels leave open.

Each day is planned and audited, and the hours are looked up again by the plain checker.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from planner.day.day import Day, day_of
from planner.day.orders import WeatherHour
from planner.plan.audit import audit
from tests.plain_rules import fit_quarters
from tests.random_days import DAY, random_day, straight_travel
from tests.random_plans import plan_random

SEEDS = range(200)


def rough_weather(seed: int) -> tuple[WeatherHour, ...]:
    """Two days of hours with gusts, showers, heat, still mornings and gaps in the forecast."""
    rng = random.Random(f"weather {seed}")
    rows = []
    for area in ("", "north"):
        still_to, windy_from = rng.randint(5, 9), rng.choice((0, 10, 12, 13, 15, 18, 22))
        showers = {rng.randint(5, 40) for _ in range(rng.randint(0, 3))}
        for at in range(48):
            if rng.random() < 0.04:
                continue
            hour = at % 24
            wind = (
                1.0
                if hour < min(still_to, windy_from)
                else 5.0 + (7.0 if hour >= windy_from else 0.0)
            )
            wind += rng.uniform(-1, 2)
            wet = at in showers
            rows.append(
                WeatherHour(
                    DAY + timedelta(days=at // 24),
                    hour,
                    area,
                    wind,
                    wind + rng.uniform(0, 6) if rng.random() < 0.7 else None,
                    40.0 + 3.5 * min(hour, 15) + rng.uniform(-4, 4),
                    rng.choice((50.0, 90.0)) if wet else rng.choice((0.0, 20.0, 49.0)),
                    0.1 if wet and rng.random() < 0.5 else 0.0,
                )
            )
    return tuple(rows)


def rough_day(seed: int) -> Day:
    day = random_day(seed + 5000, "small")
    return day_of(replace(day.workbook, weather=rough_weather(seed)), DAY)


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_sprayed_outside_its_hours(seed: int) -> None:
    day = rough_day(seed)
    plan = plan_random(day)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    for truck in plan.trucks:
        for stop in truck.stops:
            for work in stop.orders:
                fit = fit_quarters(day, day.orders[work.order_id])
                touched = range(int(work.begin_min // 15), int((work.end_min - 1e-6) // 15) + 1)
                assert set(touched) <= fit, (work.order_id, work.begin_min, work.end_min)


def test_the_weather_bites() -> None:
    """Else keeping to the hours would say little."""
    closed = part = done = 0
    for seed in range(60):
        day = rough_day(seed)
        for order in day.orders.values():
            fit = len(fit_quarters(day, order))
            closed += fit == 0
            part += 0 < fit < 96
        done += sum(len(stop.orders) for t in plan_random(day).trucks for stop in t.stops)
    assert closed >= 5
    assert part >= 100
    assert done >= 50
