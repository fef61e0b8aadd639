"""The invented days are fit to test with: the same for a seed, and valid as a checked workbook."""

from __future__ import annotations

import pytest

from tests.random_days import random_day, straight_travel


@pytest.mark.parametrize("seed", range(60))
def test_random_day_is_valid_input(seed: int) -> None:
    day = random_day(seed)
    book = day.workbook
    assert day.orders
    assert day == random_day(seed)
    for order in day.orders.values():
        assert order.mix_id in book.mixes
        assert order.area_ft2 <= book.properties[order.property_id].lawn_ft2
        assert order.only_trucks is None or order.only_trucks <= set(book.trucks)
    for truck in book.trucks.values():
        assert truck.yard_id in book.sites
        assert truck.payload_lb > 0
        assert truck.lunch_min == 0 or truck.lunch_earliest_min is not None
        positions = [c.position for c in truck.compartments]
        assert positions == sorted(set(positions))
        for tank in truck.compartments:
            assert tank.heel_gal < tank.capacity_gal
            assert tank.leftover_gal <= tank.capacity_gal
            assert tank.last_mix is not None or tank.leftover_gal == 0
            truck.line(tank.line_id)
    travel = straight_travel(day)
    assert set(travel) == set(book.trucks)


def test_sizes_are_what_they_say() -> None:
    assert len(random_day(1, 17).orders) == 17
    assert 30 <= len(random_day(1, "large").orders) <= 60
