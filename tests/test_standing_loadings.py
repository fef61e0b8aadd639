"""The standing rule of loading, worked by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace

from planner.routing.loading.allowed import standing_loadings
from planner.routing.problem import CompartmentSpec, Loading, RoutingProblem
from tests.routing_cases import random_problem


def day(sizes: tuple[float, ...], gallons: dict[str, float], trucks: int = 2) -> RoutingProblem:
    """Like trucks that may be loaded in every way, and one order per mix."""
    given = random_problem(1, orders=len(gallons), trucks=trucks)
    parts = tuple(
        CompartmentSpec(str(place), gal, 0.0, "A", place, 0.0, None)
        for place, gal in enumerate(sizes)
    )
    every = tuple(Loading(mix_of, ()) for mix_of in itertools.product(gallons, repeat=len(sizes)))
    return replace(
        given,
        trucks=tuple(replace(truck, compartments=parts, loadings=every) for truck in given.trucks),
        orders=tuple(
            replace(order, mix_id=mix_id, gal=gal)
            for order, (mix_id, gal) in zip(given.orders, gallons.items(), strict=True)
        ),
    )


def test_most_needed_mix_in_the_largest_compartment() -> None:
    problem = day((50.0, 150.0, 90.0), {"FEED": 40.0, "WEED": 300.0, "IRON": 20.0})
    found = standing_loadings(problem)
    assert [loading.mix_of for loading in found] == [("IRON", "WEED", "FEED")] * 2


def test_a_fourth_compartment_goes_where_room_is_shortest() -> None:
    """WEED has 150 gal for 600 (0.25 of it), FEED 90 for 300 (0.30): WEED gets the fourth."""
    problem = day((150.0, 90.0, 60.0), {"WEED": 600.0, "FEED": 300.0})
    assert standing_loadings(problem)[0].mix_of == ("WEED", "FEED", "WEED")


def test_exchanged_on_every_other_truck() -> None:
    problem = day((150.0, 90.0, 50.0), {"WEED": 300.0, "FEED": 200.0, "IRON": 20.0})
    found = standing_loadings(problem, exchanged=True)
    assert [loading.mix_of for loading in found] == [
        ("WEED", "FEED", "IRON"),
        ("WEED", "IRON", "FEED"),
    ]


def test_only_allowed_loadings_are_given() -> None:
    for seed in range(10):
        problem = random_problem(seed, orders=12, trucks=3)
        for truck, loading in zip(problem.trucks, standing_loadings(problem), strict=True):
            assert loading in truck.loadings
