"""Cleaning a compartment before another mix goes in (planner/docs/rules.md, rule 5)."""

from __future__ import annotations

from dataclasses import dataclass

from planner.day.fleet import Compartment
from planner.day.settings import Settings
from planner.mixing.separation import Separation


@dataclass(frozen=True)
class Cleaning:
    """What must be done to a compartment and its line before today's mix may go in.

    residue_share: of the last mix's strength, left in the heel after the rinses (0 to 1); the
    hose, filters and dead ends may hold more (why a dedicated line is the only sure way).
    """

    compartment_id: str
    last_mix: str
    rinses: int
    water_gal_per_rinse: float
    minutes: float
    residue_share: float
    rinsate_goes_to: str
    why: str


def residue_share(heel_gal: float, water_gal_per_rinse: float, rinses: int) -> float:
    """Share of the last mix's strength left after equal rinses, each drained to the heel.

    Serial dilution: (heel / (heel + water)) ^ rinses; 0 with no heel, 1 with no rinse. Raises
    ValueError when a volume is negative. Source: https://sprayers101.com/continuous-rinse-airblast/
    """
    if heel_gal < 0 or water_gal_per_rinse < 0:
        raise ValueError("heel and rinse water cannot be negative")
    if rinses == 0:
        return 1.0
    if heel_gal == 0:
        return 0.0
    return float((heel_gal / (heel_gal + water_gal_per_rinse)) ** rinses)


def cleaning_for(
    settings: Settings,
    separation: Separation,
    compartment: Compartment,
    last_mix: str,
    todays_mix: str,
    *,
    todays_mix_elsewhere: bool = False,
) -> Cleaning:
    """The cleaning entry that a compartment owes.

    last_mix: what was in it. todays_mix: what goes in, or (todays_mix_elsewhere) the mix in
    another compartment of the same line that its last mix must not meet. The full count of
    rinses where the table keeps the two apart, one rinse where it does not.
    """
    apart = separation.apart(last_mix, todays_mix)
    rinses = settings.rinse_count if apart else 1
    water_gal = compartment.capacity_gal * settings.rinse_water_percent / 100
    if todays_mix_elsewhere:
        why = f"its last mix {last_mix} must not meet {todays_mix} on line {compartment.line_id}"
    else:
        why = f"{todays_mix} goes in after {last_mix}"
        if apart:
            why += ", and the two must be kept apart"
    if apart and apart.why:
        why += f": {apart.why}"
    return Cleaning(
        compartment_id=compartment.compartment_id,
        last_mix=last_mix,
        rinses=rinses,
        water_gal_per_rinse=water_gal,
        minutes=rinses * settings.rinse_min_each,
        residue_share=residue_share(compartment.heel_gal, water_gal, rinses),
        rinsate_goes_to=settings.rinsate_goes_to,
        why=why,
    )
