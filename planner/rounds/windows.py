"""When a round may be done: by the days of the year, by growing degree days from a table of
daily temperatures, or by both."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from planner.day.life import day_text
from planner.day.orders import DayTemperatures, HeatMethod, MonthDay, ProgramRound
from planner.problems import counted

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

    def beyond(self, day: date) -> tuple[float, float] | None:
        """Degree days a day in the table's last two weeks, and about how many there are at the end
        of a day after its last; None = the table reaches that far, or is too short to tell."""
        if self.last is None or day <= self.last or len(self.totals) < 2:
            return None
        a_day = self._a_day()
        return a_day, self.totals[-1] + a_day * (day - self.last).days

    def _a_day(self) -> float:
        days = min(RATE_DAYS, len(self.totals) - 1)
        return (self.totals[-1] - self.totals[-1 - days]) / days

    def day_above(self, wanted: float, *, or_equal: bool) -> tuple[date | None, bool]:
        """First day at whose end there are more than `wanted` (or_equal: at least as many), and
        whether it is estimated from the last two weeks; None = nobody can tell."""
        for place, total in enumerate(self.totals):
            if total > wanted or (or_equal and total >= wanted):
                return self.first + timedelta(days=place), False
        if len(self.totals) < 2:
            return None, True
        a_day = self._a_day()
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


ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class RoundWindow:
    """opens, closes: first and last day, None = nobody can tell yet. opens_about, closes_about:
    whether it is estimated from the last two weeks' temperatures, or from a forecast."""

    opens: date | None
    closes: date | None
    opens_about: bool = False
    closes_about: bool = False


class RoundWindows:
    """Windows of rounds as they look on a day."""

    def __init__(self, temperatures: Sequence[DayTemperatures], when: date) -> None:
        self._when = when
        self._rows: dict[str, list[DayTemperatures]] = {}
        for row in temperatures:
            self._rows.setdefault(row.area, []).append(row)
        self._sums: dict[tuple[str, date, float, HeatMethod], HeatSum] = {}

    def heat(self, one: ProgramRound, area: str, year: int) -> HeatSum:
        """Degree days as the round counts them. area: of the property; its rows, or else those
        without an area."""
        area = area if area in self._rows else ""
        start = on_day(one.degree_day_start, year)
        key = area, start, one.degree_day_base_f, one.degree_day_method
        if key not in self._sums:
            rows = self._rows.get(area, ())
            self._sums[key] = heat_sum(rows, start, one.degree_day_base_f, one.degree_day_method)
        return self._sums[key]

    def window(self, one: ProgramRound, area: str, year: int) -> RoundWindow:
        """The window that opens in that year."""
        opens = on_day(one.from_day, year) if one.from_day else None
        closes = on_day(one.to_day, year) if one.to_day else None
        if opens and closes and closes < opens:
            closes = on_day(one.to_day or (1, 1), year + 1)
        opens_about = closes_about = False
        if one.degree_days_from is not None:
            day, about = self._reached(one, area, year, one.degree_days_from, or_equal=True)
            opens, opens_about = self._later(opens, day, about)
        if one.degree_days_to is not None:
            day, about = self._reached(one, area, year, one.degree_days_to, or_equal=False)
            last = day - ONE_DAY if day else None
            if last is not None and (closes is None or last < closes):
                closes, closes_about = last, about
            elif last is None and closes is not None:
                closes_about = True
        return RoundWindow(opens, closes, opens_about, closes_about)

    def heat_text(self, one: ProgramRound, area: str, year: int) -> str:
        """How many degree days have come together, and what the table lacks, in words."""
        heat = self.heat(one, area, year)
        of = f"Degree days, base {one.degree_day_base_f:g} F since {day_text(heat.first)}"
        where = f" in {area}" if area in self._rows and area else ""
        if heat.last is None:
            return f"{of}{where}: the table temperatures has none of these days"
        day = min(self._when, heat.last)
        text = f"{of}{where}: {heat.on(day):,.0f} at the end of {day_text(day)}"
        if (beyond := heat.beyond(self._when)) is not None:
            text += (
                f", the table's last day; reckoned on at {beyond[0]:,.0f} a day, about "
                f"{beyond[1]:,.0f} by {day_text(self._when)}"
            )
        if heat.late_days:
            text += f"; the table begins {counted(heat.late_days, 'day')} later, so there are more"
        if heat.filled:
            verb, whose = ("is", "its") if heat.filled == 1 else ("are", "their")
            days = f"{counted(heat.filled, 'day')} that it lacks {verb}"
            text += f"; {days} taken as the mean of {whose} neighbors"
        return text

    @staticmethod
    def _later(opens: date | None, day: date | None, about: bool) -> tuple[date | None, bool]:
        if day is None:
            return None, True
        return (opens, False) if opens and opens > day else (day, about)

    def _reached(
        self, one: ProgramRound, area: str, year: int, wanted: float, *, or_equal: bool
    ) -> tuple[date | None, bool]:
        day, about = self.heat(one, area, year).day_above(wanted, or_equal=or_equal)
        return day, about or (day is not None and day > self._when)


def on_day(day: MonthDay, year: int) -> date:
    """That day of a year; February 29 is the 28th in most."""
    month, number = day
    try:
        return date(year, month, number)
    except ValueError:
        return date(year, month, number - 1)
