"""What lateness counts for in a calendar: days past a span, and the chance that lost days make an
order late."""

from datetime import date
from math import fsum
from typing import Final

from planner.compliance.weather import HOURS_OF_A_DAY, Forecast
from planner.day.day import Workbook
from planner.day.life import A_DAY_OVERDUE, LEAST, OVERDUE, days_left, worth
from planner.day.orders import Order
from planner.weeks.open_days import OpenDays

USUAL_LOST_PERCENT: Final = 20.0
"""Chance that a day is lost where neither forecast nor climate table says one (common practice, no
source: one day in five in a wet spring)."""

MOST_CHANCE: Final = 0.95
"""A day is never taken as surely lost: it may be asked for as wet."""


class Lateness:
    """Prices of one calendar. rain_percent: chance that a day beyond the forecast is lost, None =
    the table `climate`, and where that is silent USUAL_LOST_PERCENT."""

    def __init__(self, book: Workbook, opened: OpenDays, rain_percent: float | None = None) -> None:
        self.book, self.opened, self._given = book, opened, rain_percent
        forecast = Forecast(book.weather)
        first = int(min(truck.shift_start_min for truck in book.trucks.values()) // 60)
        last = int(max(truck.shift_end_min for truck in book.trucks.values()) // 60)
        hours = range(first, min(last + 1, HOURS_OF_A_DAY))
        self._chances: dict[str, list[float]] = {}
        for area in {"", *(home.weather_area for home in book.properties.values())}:
            self._chances[area] = []
            for day in opened.days:
                rows = [row for at in hours if (row := forecast.hour(day, at, area)) is not None]
                percent = self._beyond_percent(day.month)
                if rows:
                    # Hours of one day are wet together: their mean is the chance of the day.
                    percent = fsum(row.rain_chance_percent for row in rows) / len(rows)
                self._chances[area].append(min(MOST_CHANCE, percent / 100.0))

    def _beyond_percent(self, month: int) -> float:
        if self._given is not None:
            return self._given
        return self.book.climate.get(month, USUAL_LOST_PERCENT)

    def chances(self, area: str = "") -> list[float]:
        """Chance that each day is lost in a weather area, 0 to 1."""
        return self._chances[area]

    def mean_chances(self) -> list[float]:
        """Chance that each day is lost in the mean of the open orders, each in its area."""
        homes = self.book.properties
        areas = [homes[self.book.orders[name].property_id].weather_area for name in self.opened.of]
        rows = [self._chances[area] for area in areas or [""]]
        return [fsum(column) / len(rows) for column in zip(*rows, strict=True)]

    def of(self, order: Order) -> dict[int, float]:
        """Money of doing an order on each of its days, by the day's row: it is late (rule 31), or
        this and all later days of its span may be lost; then it is late until a dry one comes."""
        chances = self.chances(self.book.properties[order.property_id].weather_area)
        days, rows = self.opened.days, self.opened.of[order.order_id]
        all_lost, found, wait = self._after(order), {}, 1.0 / self._dry(order)
        for row in sorted(rows, reverse=True):
            late = (days[row] - order.due_to).days
            if late > 0:
                found[row] = self._past(order, late + chances[row] * wait)
            else:
                all_lost *= chances[row]
                found[row] = all_lost * self._past(order, wait)
        return found

    def without_day(self, order: Order) -> float:
        """Money of not doing an order within the calendar: the chance that it becomes late while it
        still has days in time, else what leaving it out on the last day costs."""
        if self.days_after(order) > 0:
            return self._after(order) * self._past(order, 1.0 / self._dry(order))
        return self.left_out(order)

    def left_out(self, order: Order) -> float:
        """What leaving it out by the calendar's last day costs: more than any day of it, on which
        it would be late, too."""
        overdue = max(0, (self.opened.days[-1] - order.due_to).days)
        least = LEAST * worth(order, self.book.settings)
        return least + self._past(order, overdue + 1.0 / self._dry(order))

    def _past(self, order: Order, days: float) -> float:
        """What being done so many days past its span counts for (rule 31)."""
        return worth(order, self.book.settings) * (OVERDUE + A_DAY_OVERDUE * days)

    def days_after(self, order: Order, when: date | None = None) -> int:
        """Days in time after that one (None = the calendar's last) on which nothing that is known
        keeps it out."""
        home = self.book.properties[order.property_id]
        when = when or self.opened.days[-1]
        return max(0, days_left(order, home, self.book.settings, when))

    def _after(self, order: Order) -> float:
        """Chance that all those days are lost."""
        return (1.0 - self._dry(order)) ** self.days_after(order)

    def _dry(self, order: Order) -> float:
        return 1.0 - min(MOST_CHANCE, self._beyond_percent(order.due_to.month) / 100.0)
