"""Lists of dates and of weekdays, and days of any year, as offices write them."""

from __future__ import annotations

import re

from planner.day.clock import WEEKDAYS, DateSpan
from planner.day.programs import MonthDay
from planner.tables.cell_error import CellError
from planner.tables.clock_cells import read_date

# A comma also stands inside a date: 'April 15, 2026'; there a year follows it.
_BETWEEN_DATES = re.compile(r";|,(?!\s*\d{4}(?![-/.\d]))|&|\band\b", re.IGNORECASE)
_TO = re.compile(r"\s*(?:-|–|—|−|\bto\b|\bthrough\b|\bthru\b)\s*", re.IGNORECASE)
_BETWEEN_DAYS = re.compile(r"[;,/&]|\band\b", re.IGNORECASE)
_DAY = re.compile(
    r"(mon|tue|wed|thu|fri|sat|sun)(?:day|s|sday|nesday|rs|r|rsday|urday)?s?\.?", re.IGNORECASE
)


def read_dates(text: str, epoch_1904: bool = False) -> tuple[DateSpan, ...]:
    """The spans of '2026-07-04; 8/1/2026 - 8/14/2026', earliest first; a single date is a span of
    one day. Raises CellError DATE-1 or DATE-3."""
    parts = [part.strip() for part in _BETWEEN_DATES.split(text)]
    return tuple(sorted(_span(part, epoch_1904) for part in parts if part))


def _span(part: str, epoch_1904: bool) -> DateSpan:
    try:
        day = read_date(part, epoch_1904)
    except CellError as no_date:
        # Dates hold hyphens themselves: the cut is where both sides are dates.
        for cut in _TO.finditer(part):
            try:
                first = read_date(part[: cut.start()], epoch_1904)
                last = read_date(part[cut.end() :], epoch_1904)
            except CellError:
                continue
            if last < first:
                raise CellError(
                    "DATE-3",
                    f"the span {part} ends before it begins",
                    "write the earlier date first",
                ) from None
            return DateSpan(first, last)
        raise CellError(
            "DATE-1",
            f"{part} is not a date or a span of dates",
            "write dates like 2026-07-04; 2026-08-01 to 2026-08-14",
        ) from no_date
    return DateSpan(day, day)


def read_month_day(text: str, epoch_1904: bool = False) -> MonthDay:
    """Month and day of 'Apr 15', '4/15', '04-15' or '15 Apr'. A spreadsheet makes a date of such a
    cell; its year does not count. Raises CellError DATE-1."""
    for written in ("{}", "{}-2028", "{}, 2028", "{} 2028"):  # A year that has a February 29.
        try:
            day = read_date(written.format(text), epoch_1904)
        except CellError:
            continue
        return day.month, day.day
    raise CellError("DATE-1", "this is not a day of the year", "write it like Apr 15 or 4/15")


def read_weekdays(text: str) -> tuple[int, ...]:
    """The weekdays of 'Mon; Tue', 'Mon-Fri' or 'Tuesdays and Thursdays' (0 = Monday), sorted.
    Raises CellError DATE-2."""
    days: set[int] = set()
    for part in filter(None, (part.strip() for part in _BETWEEN_DAYS.split(text))):
        ends = [_weekday(end) for end in _TO.split(part)]
        if len(ends) > 2:
            raise _no_weekdays()
        first, last = ends[0], ends[-1]
        days.update((first + step) % 7 for step in range((last - first) % 7 + 1))
    if not days:
        raise _no_weekdays()
    return tuple(sorted(days))


def _weekday(word: str) -> int:
    match = _DAY.fullmatch(word)
    if match is None:
        raise _no_weekdays()
    return WEEKDAYS.index(match.group(1).capitalize())


def _no_weekdays() -> CellError:
    return CellError("DATE-2", "these are not weekdays", "write them like Mon; Tue or Mon-Fri")
