"""The trade's formulas for product, active ingredient, nutrients and percentages.

Base units: gal, lb, 1,000 ft2 unless a name says otherwise. Each figure from outside names its
source; tests/test_check_values.py holds each formula against published examples.
"""

from __future__ import annotations

from typing import Final

PHOSPHORUS_PER_PHOSPHATE: Final = 2 * 30.973762 / (2 * 30.973762 + 5 * 15.999)
"""lb of P in a lb of P2O5 (0.4364); IUPAC standard atomic weights."""


def product_lb_for_nutrient(nutrient_lb: float, nutrient_percent: float) -> float:
    """Pounds of a fertilizer that hold so many pounds of a nutrient. Raises ValueError when it
    holds none."""
    if nutrient_percent <= 0:
        raise ValueError("the product holds none of that nutrient")
    return nutrient_lb / (nutrient_percent / 100)


def soluble_nitrogen_lb(nitrogen_lb: float, slow_percent: float) -> float:
    """Readily available part of an amount of N, of which slow_percent is slow-release."""
    return nitrogen_lb * (1 - slow_percent / 100)


def implied_density_lb_per_gal(ai_lb_per_gal: float, ai_percent: float) -> float:
    """Pounds per gallon of a liquid from the two strengths that its label states.

    Both figures must be of one basis: an acid equivalent per gallon goes with the percentage of
    the acid, not of the salt. Raises ValueError when ai_percent is 0.
    """
    if ai_percent <= 0:
        raise ValueError("a percentage of 0 implies no density")
    return ai_lb_per_gal / (ai_percent / 100)


def mix_gal_for(area_ft2: float, carrier_gal_per_1000_ft2: float) -> float:
    """Gallons of finished mix for an area at a carrier volume."""
    return area_ft2 / 1000 * carrier_gal_per_1000_ft2


def water_lb_per_gal(temperature_f: float) -> float:
    """Weight of air-free water at one atmosphere, from 32 F to 212 F.

    Kell's fit (J. Chem. Eng. Data 20, 1975, p. 97; coefficients from memory), within 0.001 lb/gal
    of IAPWS-95 at the temperatures of the check values. Raises ValueError outside its range.
    """
    if not 32 <= temperature_f <= 212:
        raise ValueError(f"no liquid water at {temperature_f} F")
    t = (temperature_f - 32) / 1.8
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    kg_per_m3 = top / (1 + 16.879850e-3 * t)
    return kg_per_m3 * 0.003785411784 / 0.45359237
