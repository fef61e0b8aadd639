"""Growing degree days from a table of daily temperatures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from planner.day.programs import DayTemperatures, HeatMethod

HIGHEST_F: Final = 86.0
"""Above it the modified average counts no more. Source: Iowa State University, Agronomy 541,
lesson 2b, rules for growing degree days."""

RATE_DAYS: Final = 14
"""Days whose mean tells how fast degree days come together beyond the table (ours)."""

MOST_DAYS_AHEAD: Final = 120
"""Farther ahead nobody plans by the last two weeks' weather (ours)."""


def degree_days(low_f: float, high_f: float, base_f: float, method: HeatMethod) -> float:
    """Degree days of one day, in F; never below 0. Sources: Purdue University turf tips (simple
    average); Iowa State University, Agronomy 541 (modified average)."""
    if method is HeatMethod.MODIFIED:
        low_f, high_f = max(low_f, base_f), min(max(high_f, base_f), HIGHEST_F)
    return max(0.0, (low_f + high_f) / 2.0 - base_f)


@dataclass(frozen=True)
class HeatSum:
    """Degree days added up from `first` on. totals: at the end of each day. filled: days that the
    table lacks, taken as the mean of the days beside them. late_days: by which the table begins
    after the day from which degree days count."""

    first: date
    totals: Sequence[float] = ()
    filled: int = 0
    late_days: int = 0

    @property
    def last(self) -> date | None:
        """Last day of the table; None = it has none."""
        return self.first + timedelta(days=len(self.totals) - 1) if self.totals else None

    def on(self, day: date) -> float:
        """Total at the end of that day, or of the table's last day if that is earlier."""
        place = min((day - self.first).days, len(self.totals) - 1)
        return self.totals[place] if place >= 0 else 0.0

    def day_above(self, wanted: float, *, or_equal: bool) -> tuple[date | None, bool]:
        """First day at whose end there are more than `wanted` (or_equal: at least as many), and
        whether it is estimated from the last two weeks; None = nobody can tell."""
        for place, total in enumerate(self.totals):
            if total > wanted or (or_equal and total >= wanted):
                return self.first + timedelta(days=place), False
        if len(self.totals) < 2:
            return None, True
        days = min(RATE_DAYS, len(self.totals) - 1)
        a_day = (self.totals[-1] - self.totals[-1 - days]) / days
        if a_day <= 0 or (wanted - self.totals[-1]) / a_day > MOST_DAYS_AHEAD:
            return None, True
        more = int((wanted - self.totals[-1]) / a_day)
        if not (or_equal and more * a_day + self.totals[-1] >= wanted):
            more += 1
        return self.first + timedelta(days=len(self.totals) - 1 + more), True


def heat_sum(
    rows: Iterable[DayTemperatures], start: date, base_f: float, method: HeatMethod
) -> HeatSum:
    """The sum over the rows of one weather area, from `start` to a year later."""
    end = start + timedelta(days=365)
    days = {
        row.day: degree_days(row.low_f, row.high_f, base_f, method)
        for row in rows
        if start <= row.day < end
    }
    if not days:
        return HeatSum(start)
    first = min(days)
    totals: list[float] = [0.0] * (first - start).days
    total, filled, before = 0.0, 0, first
    for day in sorted(days):
        missing = (day - before).days - 1
        for _ in range(missing):
            total += (days[before] + days[day]) / 2.0
            totals.append(total)
        filled += max(0, missing)
        total += days[day]
        totals.append(total)
        before = day
    return HeatSum(start, tuple(totals), filled, (first - start).days)
