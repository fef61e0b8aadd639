"""Clock times as minutes after midnight, windows of them, and spans of dates."""

from dataclasses import dataclass
from datetime import date

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
"""In the order of datetime.date.weekday."""


@dataclass(frozen=True, order=True)
class Window:
    """A span of minutes after midnight; both ends belong to it."""

    open_min: float
    close_min: float

    def __post_init__(self) -> None:
        if self.close_min < self.open_min:
            raise ValueError(f"window closes at {self.close_min} before it opens")


@dataclass(frozen=True, order=True)
class DateSpan:
    """Dates from first to last; both belong to it."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


def intersect(
    a: tuple[Window, ...] | None, b: tuple[Window, ...] | None
) -> tuple[Window, ...] | None:
    """Windows that lie in both; None stands for 'no limit', an empty tuple for 'never'."""
    if a is None:
        return b
    if b is None:
        return a
    both = [
        Window(max(x.open_min, y.open_min), min(x.close_min, y.close_min))
        for x in a
        for y in b
        if max(x.open_min, y.open_min) < min(x.close_min, y.close_min)
    ]
    return tuple(sorted(both))


def clock_text(minutes: float) -> str:
    """Minutes after midnight as `7:05 AM`, to the nearest minute."""
    whole = int(minutes + 0.5)
    hour, minute = divmod(whole, 60)
    hour %= 24
    return f"{(hour + 11) % 12 + 1}:{minute:02d} {'AM' if hour < 12 else 'PM'}"
