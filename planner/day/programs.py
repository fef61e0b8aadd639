"""Programs: the rounds of a season, who has which, and the daily temperatures that time them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

MonthDay = tuple[int, int]
"""A day of any year: month and day of the month."""


class HeatMethod(StrEnum):
    """How a day's high and low make degree days."""

    SIMPLE = "simple average"
    MODIFIED = "modified average"


@dataclass(frozen=True)
class ProgramRound:
    """One round of a program. from_day, to_day: first and last day on which it makes sense; to_day
    may lie in the next year. degree_days_from, degree_days_to: since degree_day_start; with both
    kinds, the narrower window counts. days_least, days_most: since the round before was done, None
    = no limit. price: flat per visit; price_per_1000_ft2: of treated lawn; None = not known."""

    program_id: str
    number: int
    name: str
    mix_id: str
    from_day: MonthDay | None
    to_day: MonthDay | None
    degree_days_from: float | None
    degree_days_to: float | None
    degree_day_base_f: float
    degree_day_start: MonthDay
    degree_day_method: HeatMethod
    days_least: int | None
    days_most: int | None
    price: float | None
    price_per_1000_ft2: float | None
    priority: int

    @property
    def key(self) -> str:
        """As rows of the table are keyed."""
        return f"{self.program_id}/{self.number}"

    def revenue(self, area_ft2: float) -> float | None:
        """What one visit brings; None = no price is given."""
        if self.price is None and self.price_per_1000_ft2 is None:
            return None
        return (self.price or 0.0) + (self.price_per_1000_ft2 or 0.0) * area_ft2 / 1000.0


@dataclass(frozen=True)
class PropertyProgram:
    """A property on a program. area_ft2: that it treats, None = the whole lawn. first_day,
    last_day: between which the customer has it, None = open. skip_rounds: not wanted; reason: why
    they are skipped or why it ends."""

    property_id: str
    program_id: str
    area_ft2: float | None
    first_day: date | None
    last_day: date | None
    skip_rounds: frozenset[int]
    reason: str


@dataclass(frozen=True)
class DayTemperatures:
    """Lowest and highest air temperature of a day in one weather area ('' = everywhere)."""

    day: date
    area: str
    low_f: float
    high_f: float
