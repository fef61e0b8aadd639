"""What a violation is, every code there is, and how far a figure may be off."""

from __future__ import annotations

from dataclasses import dataclass

MINUTE_TOLERANCE = 0.01
GALLON_TOLERANCE = 0.01
POUND_TOLERANCE = 0.05
MILE_TOLERANCE = 0.005
MONEY_TOLERANCE = 0.02
DEGREE_TOLERANCE = 1e-5
"""About a yard on the ground."""
PRODUCT_SHARE_TOLERANCE = 0.0005
"""Of the amount of a product."""
PRODUCT_LEAST_TOLERANCE = 1e-5
"""Gallons or pounds; below what a jug or a scale shows, so that tiny amounts do not alarm."""
COUNTING_TOLERANCE = 5e-7
"""Half the last decimal of plan.json; for comparisons where whole gallons are counted."""


@dataclass(frozen=True)
class Violation:
    """One rule that a plan breaks. truck_id, seq: None where it concerns the whole day or truck.
    message: in plain words, with the numbers."""

    code: str
    truck_id: str | None
    seq: int | None
    message: str

    def __str__(self) -> str:
        place = "" if self.truck_id is None else f"truck {self.truck_id}"
        if self.seq is not None:
            place += f", stop {self.seq}"
        return (
            f"{place}: {self.message} [{self.code}]" if place else f"{self.message} [{self.code}]"
        )


def differs(found: float, right: float, tolerance: float) -> bool:
    """Whether two figures are further apart than the tolerance; a figure that is no number is."""
    return not abs(found - right) <= tolerance


def exceeds(found: float, most: float, tolerance: float) -> bool:
    """Whether a figure is over its most by more than the tolerance; one that is no number is."""
    return not found <= most + tolerance
