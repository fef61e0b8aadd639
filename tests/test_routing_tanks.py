"""The engines' fast fills and draws are those of planner.mixing.fills, gallon for gallon."""

from __future__ import annotations

import random

import pytest

from planner.mixing.fills import Level, draw, fill_gallons, weight_lb
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.exact.tanks import SHORT, TOO_HEAVY
from planner.routing.problem import Loading
from tests.routing_cases import random_problem


@pytest.mark.parametrize("seed", range(60))
def test_fill_and_draw_like_the_mixing_room(seed: int) -> None:
    """Reference: planner.mixing.fills, tested by its own room."""
    rng = random.Random(seed)
    problem = random_problem(seed)
    truck = problem.trucks[0]
    loading = rng.choice([*truck.loadings, Loading(("WEED", "WEED", "WEED"), ())])
    tanks = TruckDay(DayTables(problem), 0, loading).tanks
    gallons = [rng.choice([0.0, rng.uniform(0, room)]) for room in tanks.capacity]
    levels = [
        Level(part.compartment_id, mix, part.capacity_gal, part.heel_gal, gal, density)
        for part, mix, gal, density in zip(
            truck.compartments, loading.mix_of, gallons, tanks.density, strict=True
        )
    ]
    spray = [rng.choice([0.0, rng.uniform(0, 60)]) for _ in tanks.mixes]
    hose = [rng.choice([0.0, 3.06]) for _ in tanks.mixes]
    makes = [k for k in range(len(tanks.mixes)) if rng.random() < 0.8]
    expected = fill_gallons(
        levels,
        {tanks.mixes[k]: spray[k] for k in makes},
        {tanks.mixes[k]: hose[k] for k in makes},
        problem.fill_margin_percent,
        truck.payload_lb,
    )
    after = gallons.copy()
    added = tanks.fill(after, makes, spray, hose)
    reference = [gal + more for gal, more in zip(gallons, expected, strict=True)]
    if added >= 0.0:
        assert after == pytest.approx(reference)
        assert added == pytest.approx(sum(expected))
        drawn = [rng.uniform(0, tanks.pumpable(after, k)) for k in range(len(tanks.mixes))]
        filled = tuple(
            Level(x.compartment_id, x.mix_id, x.capacity_gal, x.heel_gal, gal, x.density_lb_per_gal)
            for x, gal in zip(levels, after, strict=True)
        )
        for k, mix_id in enumerate(tanks.mixes):
            filled, _ = draw(filled, mix_id, drawn[k])
        tanks.draw(after, drawn)
        assert after == pytest.approx([level.gal for level in filled])
        assert drawn == [0.0] * len(drawn)
    elif added == TOO_HEAVY:
        heavy = sum(gal * lb for gal, lb in zip(reference, tanks.density, strict=True))
        assert heavy > truck.payload_lb
        assert weight_lb(levels) <= heavy
    else:
        assert added == SHORT
        short = [
            k
            for k in makes
            if spray[k] + hose[k]
            > sum(
                reference[row] - tanks.heel[row]
                for row in tanks.rows_of[k]
                if reference[row] > tanks.heel[row]
            )
            + 1e-6
        ]
        assert short
