"""Calibrating a hand gun, and measuring a lawn: the arithmetic behind a carrier volume.

The mix sheet's strength is right only if the gun puts down the carrier that the mix says; the sheet
tells the crew the seconds for 1,000 sq ft. Formulas are the trade's (5,940 = 43,560 x 12 / 88);
tests/test_check_values.py holds each against published examples.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from planner.units import ACRE_FT2

RECALIBRATE_BEYOND: Final = 0.05
"""A gun is calibrated anew when it is more than 5 % off. Pesticide Environmental Stewardship,
https://pesticidestewardship.org/calibration/spray-gun/"""

FT_PER_MIN_OF_A_MPH: Final = 88.0
"""5,280 ft / 60 min."""

PLOT_SHARE_OF_ACRE: Final = 128
"""On 1/128 acre the fluid ounces caught are the gallons per acre."""


def carrier_gal_per_1000_ft2(gal: float, area_ft2: float) -> float:
    """Carrier volume from gallons put on an area."""
    return gal / area_ft2 * 1000


def gal_per_acre(carrier_gal_per_1000_ft2: float) -> float:
    """The same per acre."""
    return carrier_gal_per_1000_ft2 * ACRE_FT2 / 1000


def gun_gal_per_min(gal: float, seconds: float) -> float:
    """Flow from what a bucket caught."""
    return gal / seconds * 60


def walking_mph(course_ft: float, seconds: float) -> float:
    """Pace over a course."""
    return course_ft / seconds * 60 / FT_PER_MIN_OF_A_MPH


def carrier_walked(gun_gal_per_min: float, speed_mph: float, width_ft: float) -> float:
    """gal per 1,000 ft2 of a gun at a walking pace; width_ft: lawn covered per pass, overlap taken
    off."""
    return gun_gal_per_min / (speed_mph * FT_PER_MIN_OF_A_MPH * width_ft) * 1000


def seconds_per_1000_ft2(gun_gal_per_min: float, carrier_gal_per_1000_ft2: float) -> float:
    """How long 1,000 ft2 take at a carrier volume."""
    return carrier_gal_per_1000_ft2 / gun_gal_per_min * 60


def accepted_carrier(target_gal_per_1000_ft2: float) -> tuple[float, float]:
    """Least and most carrier volume that needs no new calibration."""
    off = target_gal_per_1000_ft2 * RECALIBRATE_BEYOND
    return target_gal_per_1000_ft2 - off, target_gal_per_1000_ft2 + off


def course_ft(plot_ft2: float, swath_in: float) -> float:
    """Length of a course that is a plot of that size at a swath."""
    return plot_ft2 / (swath_in / 12)


def flow_at_pressure(gal_per_min: float, psi: float, new_psi: float) -> float:
    """A nozzle's flow at another pressure: it goes with the square root."""
    return gal_per_min * math.sqrt(new_psi / psi)


def pressure_factor_for_flow(flow_factor: float) -> float:
    """Times the pressure for so many times the flow."""
    return flow_factor**2


def trapezoid_ft2(side_ft: float, opposite_side_ft: float, height_ft: float) -> float:
    """(A + B) / 2 x h; a rectangle is one with equal sides. The source misses the bracket: Univ. of
    Missouri, https://ipm.missouri.edu/MEG/index.cfm?ID=203"""
    return (side_ft + opposite_side_ft) / 2 * height_ft


def oval_ft2(length_ft: float, width_ft: float) -> float:
    """An ellipse; the rule of thumb 0.8 x L x W is 1.9 % high."""
    return math.pi / 4 * length_ft * width_ft


def offsets_ft2(spacing_ft: float, widths_ft: Sequence[float]) -> float:
    """Lawn of any outline from its widths at equal steps along a line (within 5 %: Univ. of
    Missouri, https://ipm.missouri.edu/MEG/2010/3/Calibration-Guidelines-for-Home-Lawns/)."""
    return spacing_ft * math.fsum(widths_ft)


def sectors_ft2(radii_ft: Sequence[float]) -> float:
    """Lawn from equally spaced radii, as equal sectors: pi x the mean of the squares. The square of
    the mean radius comes out too small."""
    return math.pi * math.fsum(radius**2 for radius in radii_ft) / len(radii_ft)
