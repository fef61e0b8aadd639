"""Calibration and lawn areas beyond the published figures of tests/test_check_values.py."""

from __future__ import annotations

import math

import pytest

from tests.trade_formulas import (
    carrier_walked,
    oval_ft2,
    seconds_per_1000_ft2,
    sectors_ft2,
)


def test_time_for_a_thousand_square_feet() -> None:
    # Worked by hand: 2 gal at 2 gal/min are a minute; the walked carrier needs its own seconds.
    assert seconds_per_1000_ft2(2.0, 2.0) == pytest.approx(60)
    assert seconds_per_1000_ft2(2.0, carrier_walked(2.0, 3.0, 4.0)) == pytest.approx(
        1000 / (3 * 88 * 4) * 60
    )


def test_sectors_of_a_circle_and_of_an_uneven_lawn() -> None:
    # A circle is one in every measure; uneven radii give more than the square of their mean
    # (worked by hand: pi x (8 x 8 + 12 x 12) / 2 = 326.7, against pi x 100).
    assert sectors_ft2([10.0] * 16) == pytest.approx(math.pi * 100)
    assert sectors_ft2([8.0, 12.0]) == pytest.approx(326.726, abs=1e-3)
    assert oval_ft2(20.0, 20.0) == pytest.approx(math.pi * 100)
