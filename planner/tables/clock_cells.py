"""Dates, times of day, windows, and lists of dates and weekdays as offices write them."""

import datetime as dt
import re

from planner.day.clock import WEEKDAYS, DateSpan, Window
from planner.day.orders import MonthDay
from planner.tables.text import CellError

NIGHT_ENDS_MIN = 300
"""Lawns are not sprayed from 1 to 5 at night: '1:00' without AM or PM is more likely 1 PM, and a
wrong guess either way would move a visit by half a day."""

MINUTES_A_DAY = 1440

_TIME = re.compile(
    r"(?P<hour>\d{1,2})(?::(?P<minute>\d{2}))?(?::(?P<second>\d{2})(?:\.\d+)?)?"
    r"(?:\s*(?P<half>[ap])(?:\.?\s?m)?\.?)?",
    re.IGNORECASE,
)
_FOUR_DIGITS = re.compile(r"(?P<hour>\d{1,2})(?P<minute>\d{2})")
_DAY_SHARE = re.compile(r"0\.\d+")
_SPAN = re.compile(r"\s*(?:-|–|—|−|\bto\b)\s*", re.IGNORECASE)
_BETWEEN_WINDOWS = re.compile(r"[;,&]|\band\b", re.IGNORECASE)

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_US = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})")
_DAY_NAMED_MONTH = re.compile(r"(\d{1,2})[-\s]([a-z]{3,9})\.?[-\s,]\s?(\d{4}|\d{2})", re.IGNORECASE)
_NAMED_MONTH_DAY = re.compile(r"([a-z]{3,9})\.?\s(\d{1,2})(?:,\s?|\s)(\d{4})", re.IGNORECASE)
_MIDNIGHT = re.compile(
    r"[T\s]0{1,2}:00(:00(\.0+)?)?(\s?AM)?$|[T\s]12:00(:00)?\s?AM$", re.IGNORECASE
)
_WEEKDAY = re.compile(r"^(mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Years that a date may be of."""

FIRST_SERIAL, LAST_SERIAL = 36526, 73050
"""Excel's day numbers of 2000-01-01 and 2099-12-31; such a number in a date column is a date that
lost its format."""

_EPOCH_1900 = dt.date(1899, 12, 30)
_EPOCH_1904 = dt.date(1904, 1, 1)


def read_time(text: str) -> float:
    """Minutes after midnight of '8:30', '8:30 AM', '0830', '16:30:00', 'noon', '24:00', or of an
    Excel share of a day ('0.354166667'). Raises CellError TIME-1 or TIME-2 (see NIGHT_ENDS_MIN).
    """
    word = text.casefold()
    if word == "noon":
        return 720.0
    if _DAY_SHARE.fullmatch(word):
        return float(round(float(word) * MINUTES_A_DAY * 60)) / 60
    match = _FOUR_DIGITS.fullmatch(word) or _TIME.fullmatch(word)
    if match is None:
        raise _no_time()
    parts = match.groupdict()
    minutes = _minutes(parts)
    unclear = 60 <= minutes < NIGHT_ENDS_MIN and not parts.get("half") and len(parts["hour"]) == 1
    if unclear:
        raise CellError(
            "TIME-2",
            f"{text} may be in the night or in the afternoon",
            f"write AM or PM with it, or {_clock(minutes)} or {_clock(minutes + 720)}",
        )
    return minutes


def _no_time() -> CellError:
    return CellError("TIME-1", "this is not a time of day", "write it like 8:30 AM or 16:30")


def _clock(minutes: float) -> str:
    hour, minute = divmod(int(minutes), 60)
    return f"{hour:02d}:{minute:02d}"


def _minutes(parts: dict[str, str | None]) -> float:
    hour, minute = int(parts["hour"] or 0), int(parts.get("minute") or 0)
    second = int(parts.get("second") or 0)
    half = parts.get("half")
    if minute > 59 or second > 59:
        raise _no_time()
    if half:
        if not 1 <= hour <= 12:
            raise _no_time()
        hour = hour % 12 + (12 if half == "p" else 0)
    minutes = hour * 60 + minute + second / 60
    if minutes > MINUTES_A_DAY:
        raise _no_time()
    return minutes


def read_windows(text: str) -> tuple[Window, ...]:
    """Windows of '8:00-11:30; 13:00-15:00', earliest first; those that touch become one.

    An end's AM or PM also holds for its start ('1-3 PM'). Raises CellError TIME-1 to TIME-4.
    """
    spans = [part.strip() for part in _BETWEEN_WINDOWS.split(text) if part.strip()]
    if not spans:
        raise _no_windows()
    windows: list[Window] = []
    for window in sorted(_window(span) for span in spans):
        if windows and window.open_min <= windows[-1].close_min:
            last = windows.pop()
            window = Window(last.open_min, max(last.close_min, window.close_min))
        windows.append(window)
    return tuple(windows)


def _no_windows() -> CellError:
    return CellError(
        "TIME-3", "these windows cannot be read", "write them like 8:00-11:30; 13:00-15:00"
    )


def _window(span: str) -> Window:
    ends = _SPAN.split(span)
    if len(ends) != 2 or not all(ends):
        raise _no_windows()
    close_min = read_time(ends[1])
    open_min = _start(ends[0], ends[1], close_min)
    if open_min >= close_min:
        raise CellError(
            "TIME-4",
            f"the window {span} closes before it opens",
            "write the earlier time first, with AM and PM or on the 24-hour clock",
        )
    return Window(open_min, close_min)


def _start(start: str, end: str, close_min: float) -> float:
    half = _TIME.fullmatch(end)
    said = half.group("half") if half else None
    own = _TIME.fullmatch(start)
    if said is None or own is None or own.group("half"):
        return read_time(start)
    if int(own.group("hour")) > 12:
        return read_time(start)
    same = read_time(f"{start} {said}m")
    other = read_time(f"{start} {'a' if said.casefold() == 'p' else 'p'}m")
    return same if same < close_min else other


def read_date(text: str, epoch_1904: bool = False) -> dt.date:
    """The date of '2026-04-15', '4/15/2026', '4/15/26', '15-Apr-2026', 'April 15, 2026' or an
    Excel day number. Slashes are month first, as in the US. Raises CellError DATE-1."""
    plain = _WEEKDAY.sub("", _MIDNIGHT.sub("", text))
    if plain.isdecimal() and len(plain) == 5:
        return _from_serial(int(plain), epoch_1904)
    for pattern, order in (
        (_ISO, "ymd"),
        (_US, "mdy"),
        (_DAY_NAMED_MONTH, "dmy"),
        (_NAMED_MONTH_DAY, "mdy"),
    ):
        match = pattern.fullmatch(plain)
        if match:
            parts = dict(zip(order, match.groups(), strict=True))
            return _date(parts["y"], parts["m"], parts["d"])
    raise _no_date()


def _no_date() -> CellError:
    return CellError(
        "DATE-1", "this is not a date", "write it like 2026-04-15 or 4/15/2026 (month first)"
    )


def _from_serial(days: int, epoch_1904: bool) -> dt.date:
    if not FIRST_SERIAL <= days <= LAST_SERIAL:
        raise _no_date()
    return (_EPOCH_1904 if epoch_1904 else _EPOCH_1900) + dt.timedelta(days=days)


def _date(year: str, month: str, day: str) -> dt.date:
    if month.isdecimal():
        month_no = int(month)
    elif month[:3].casefold() in _MONTHS:
        month_no = _MONTHS.index(month[:3].casefold()) + 1
    else:
        raise _no_date()
    year_no = int(year) + (2000 if len(year) == 2 else 0)
    if not FIRST_YEAR <= year_no <= LAST_YEAR:
        raise _no_date()
    try:
        return dt.date(year_no, month_no, int(day))
    except ValueError as error:
        raise _no_date() from error


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
