"""Formulas of the trade that the planner itself does not use: calibrating a gun, measuring a lawn,
strengths. Published examples (tests/data/check_values.csv) hold them, and with them the reading of
units, rates and hoses that they are fed by. (5,940 = 43,560 x 12 / 88.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from planner.day.fleet import Line
from planner.mixing.hydraulics import FLOW_POWER, friction_psi
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


def open_end_gal_per_min(inlet_psi: float, hose_inside_diameter_in: float, hose_ft: float) -> float:
    """Flow out of a hose's open end when all of the inlet pressure goes into friction."""
    per_gpm_psi = friction_psi(1.0, hose_inside_diameter_in, hose_ft)
    return float((inlet_psi / per_gpm_psi) ** (1 / FLOW_POWER))


def hose_flush_min(line: Line) -> float:
    """Minutes for the gun to displace one hose volume.

    Plug flow: the two mixes blend a little at the seam, so a hose that must be free of the last
    mix takes two to three volumes (common practice, no source).
    """
    return line.hose_gal / line.gun_gal_per_min


def hose_lawn_ft2(line: Line, carrier_gal_per_1000_ft2: float) -> float:
    """Lawn that the hose's content still treats: what an unflushed hose would hit."""
    return line.hose_gal / carrier_gal_per_1000_ft2 * 1000


def nutrient_lb_per_gal(density_lb_per_gal: float, nutrient_percent: float) -> float:
    """Pounds of a nutrient in a gallon of liquid fertilizer."""
    return density_lb_per_gal * nutrient_percent / 100


def ai_lb_of_liquid(product_gal: float, ai_lb_per_gal: float) -> float:
    """Pounds of active ingredient (or acid equivalent) in an amount of liquid product."""
    return product_gal * ai_lb_per_gal


def ai_lb_of_dry(product_lb: float, ai_percent: float) -> float:
    """Pounds of active ingredient in an amount of dry product."""
    return product_lb * ai_percent / 100


def percent_by_volume(product_gal: float, finished_gal: float) -> float:
    """Percent v/v: product in the finished mix, which is water and product together."""
    return product_gal / finished_gal * 100


def area_ft2_of(gal: float, carrier_gal_per_1000_ft2: float) -> float:
    """Lawn that so many gallons cover at a carrier volume."""
    return gal / carrier_gal_per_1000_ft2 * 1000


def flow_factor_for_density(density_lb_per_gal: float, water: float = 8.34) -> float:
    """By what a nozzle's flow of water is divided for a heavier liquid: sqrt(density / water).

    Univ. of Nebraska-Lincoln CropWatch, Setting the Sprayer Flow Rate for Non-Water Solutions,
    which takes water as 8.34 lb/gal.
    """
    return math.sqrt(density_lb_per_gal / water)
