"""What a hose does to pressure and flow between the pump and the gun.

Simple on purpose: one smooth hose, water, level ground; fittings, reel swivel and height are left
out, and the whole hose on the reel counts, since the mix runs through all of it however short the
pull. Enough to say whether a gun can be fed; a gauge at the gun decides.
"""

import math
from dataclasses import dataclass

from planner.day.fleet import Line

HAZEN_WILLIAMS_C = 140.0
"""Smooth hose. With it the formula gives every cell of Iowa State Extension's hose discharge
table after rounding:
https://yardandgarden.extension.iastate.edu/article/1996/6-28-1996/hosecare.html"""

PSI_PER_FT_FACTOR = 4.52
"""Hazen-Williams in US units as fire-sprinkler standards print it (from memory; NFPA 13):
psi per ft = 4.52 x gpm^1.85 / (C^1.85 x in^4.87)."""

FLOW_POWER = 1.85
DIAMETER_POWER = 4.87

AGITATION_SHARE = 0.30
"""Of the pump's rated flow, taken by jet agitation: about 30 %, as an airblast sprayer guide
prints it; the agitator's own data sheet goes before it."""

LEAST_GUN_PSI = 30.0
"""Below it a lawn gun's fan breaks up into large drops and streams. Common practice, no source."""


@dataclass(frozen=True)
class GunSupply:
    """Whether a line's pump can feed its gun.

    flow_left_gal_per_min: pump flow less agitation, None without a rated flow. flow_ok: it covers
    the gun. friction_psi: lost in the hose at the gun's flow. gun_psi: rated pump pressure less
    friction, None without a rated pressure. warnings: for the sheet, none when all is well.
    """

    flow_left_gal_per_min: float | None
    flow_ok: bool | None
    friction_psi: float
    gun_psi: float | None
    warnings: tuple[str, ...]

    @property
    def text(self) -> str:
        """One line for the sheet."""
        loss = f"Hose loses about {self.friction_psi:.0f} psi"
        if self.gun_psi is None:
            return f"{loss} between pump and gun."
        return f"{loss}; about {max(0.0, self.gun_psi):.0f} psi left at the gun."


def friction_psi(flow_gal_per_min: float, hose_inside_diameter_in: float, hose_ft: float) -> float:
    """Pressure lost in a full hose, by Hazen-Williams with HAZEN_WILLIAMS_C.

    Water, turbulent flow; about 5 % above a smooth-pipe Darcy figure at lawn-gun flows.
    """
    psi_per_ft = (
        PSI_PER_FT_FACTOR
        * (flow_gal_per_min / HAZEN_WILLIAMS_C) ** FLOW_POWER
        / hose_inside_diameter_in**DIAMETER_POWER
    )
    return float(psi_per_ft * hose_ft)


def gun_supply(line: Line) -> GunSupply:
    """Flow and pressure that reach the line's gun, with what the sheet should warn of."""
    gun_flow = line.gun_gal_per_min
    loss_psi = friction_psi(gun_flow, line.hose_inside_diameter_in, line.hose_ft)
    flow_left = flow_ok = gun_psi = None
    warnings = []
    if line.pump_gal_per_min is not None:
        flow_left = line.pump_gal_per_min * (1 - AGITATION_SHARE)
        flow_ok = flow_left >= gun_flow
        if not flow_ok:
            warnings.append(
                f"Pump {line.pump_gal_per_min:g} gal/min leaves {flow_left:.1f} after agitation; "
                f"the gun takes {gun_flow:g}. Agitation will suffer while spraying."
            )
    if line.pump_psi is not None:
        gun_psi = line.pump_psi - loss_psi
        if gun_psi < LEAST_GUN_PSI:
            warnings.append(
                f"{line.hose_ft:g} ft of {_inches(line.hose_inside_diameter_in)} hose loses "
                f"{loss_psi:.0f} of the pump's {line.pump_psi:g} psi at {gun_flow:g} gal/min; "
                f"a gun wants {LEAST_GUN_PSI:g} psi or more. Calibrate at the gun."
            )
    return GunSupply(flow_left, flow_ok, loss_psi, gun_psi, tuple(warnings))


def _inches(diameter_in: float) -> str:
    """3/8 in rather than 0.375 in, as hoses are sold."""
    sixteenths = diameter_in * 16
    if not math.isclose(sixteenths, round(sixteenths), abs_tol=1e-6):
        return f"{diameter_in:g} in"
    whole, part = divmod(round(sixteenths), 16)
    if part == 0:
        return f"{whole} in"
    step = math.gcd(part, 16)
    fraction = f"{part // step}/{16 // step}"
    return f"{whole}-{fraction} in" if whole else f"{fraction} in"
