"""Rules of some hours: whether a condition can hold while trucks are out.

Conditions follow the OpenStreetMap wiki (Conditional_restrictions, and Key:opening_hours for hours,
days and months; https://wiki.openstreetmap.org). One that is written otherwise is taken to hold on
every day, and at any hour that it names; public and school holidays may be any day.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum
from typing import Final

CONDITIONAL: Final = ":conditional"
TIMED: Final = ("max", "access", "vehicle", "motor_vehicle", "motorcar", "hgv", "goods", "oneway")
NOT_FOLLOWED: Final = ("oneway", "maxspeed")
OF_LIMITS: Final = ("maxh", "maxw", "maxa", "maxl", "maxgc")
"""How keys of limits begin: most ways have none, or a maxspeed only."""
MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
WEEKDAYS: Final = ("mo", "tu", "we", "th", "fr", "sa", "su")
HOLIDAYS: Final = frozenset({"ph", "sh"})

_CLOCK: Final = re.compile(r"(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)")
_OF_DAYS: Final = re.compile(
    rf"\b({'|'.join((*WEEKDAYS, *HOLIDAYS, *MONTHS))})\b|sunrise|sunset|24/7", re.IGNORECASE
)
_OF_TRUCKS: Final = re.compile(r"[\s(]*(hgv|goods|vehicle|motor_vehicle)?[\s)]*")
"""Conditions that hold at every hour for a truck."""
_MONTH: Final = rf"(?:{'|'.join(MONTHS)})(?: \d{{1,2}})?"
_DAY: Final = rf"(?:{'|'.join((*WEEKDAYS, *HOLIDAYS))})"
_RULE: Final = re.compile(
    rf"(?P<months>{_MONTH}(?:-(?:{_MONTH}|\d{{1,2}}))?(?:, ?{_MONTH}(?:-{_MONTH})?)*)?:? ?"
    rf"(?P<days>{_DAY}(?:-{_DAY})?(?:, ?{_DAY}(?:-{_DAY})?)*)? ?"
    rf"(?P<hours>{_CLOCK.pattern}(?:, ?{_CLOCK.pattern})*)?"
)


@dataclass(frozen=True)
class HoursWorked:
    """When trucks are out. when: the day, None = any; begin_min, end_min: minutes after midnight;
    5 AM to 9 PM unless the shifts are known (common sense, no source)."""

    when: date | None = None
    begin_min: float = 300.0
    end_min: float = 1260.0


ANY_DAY: Final = HoursWorked()


class Held(IntEnum):
    """How much of the time that is worked a condition can hold."""

    NEVER = 0
    PARTLY = 1
    ALWAYS = 2


def held(condition: str, worked: HoursWorked = ANY_DAY) -> Held | None:
    """How long a condition can hold for a truck; None = it is not of hours and days."""
    parts = re.split(r"\band\b", condition.strip(" ()"), flags=re.IGNORECASE)
    others = [part for part in parts if not _OF_TRUCKS.fullmatch(part)]
    found = [_held(part, worked) for part in others]
    known = [one for one in found if one is not None]
    if not known:
        return None if others else Held.ALWAYS
    # Beside what cannot be read, nothing is sure to hold.
    return min(known) if len(known) == len(found) else min(*known, Held.PARTLY)


def _held(part: str, worked: HoursWorked) -> Held | None:
    if not _CLOCK.search(part) and not _OF_DAYS.search(part):
        return None
    rules = [" ".join(rule.casefold().split()) for rule in part.strip(" ()").split(";")]
    on = [rule for rule in rules if rule and not rule.endswith(("off", "closed"))]
    return max((_rule_held(rule, worked) for rule in on), default=Held.PARTLY)


def _rule_held(rule: str, worked: HoursWorked) -> Held:
    known = _RULE.fullmatch(rule)
    months, days = (known["months"] or "", known["days"] or "") if known else ("", "")
    whole_day = Held.PARTLY if worked.when is None or not known else Held.ALWAYS
    result = Held.NEVER
    clock = [tuple(map(int, found)) for found in _CLOCK.findall(rule)] or [(0, 0, 24, 0)]
    for first, minute, last, until in clock:
        opens, closes = first * 60 + minute, last * 60 + until
        # One that ends after midnight began the day before, or begins now.
        spans = [(0, opens, closes)]
        if closes <= opens:
            spans = [(0, opens, 1440), (1, 0, closes)]
        for days_ago, begin, end in spans:
            if not _is_on(months, days, worked.when, days_ago):
                continue
            if begin <= worked.begin_min and end >= worked.end_min:
                result = max(result, whole_day)
            elif begin < worked.end_min and end > worked.begin_min:
                result = max(result, Held.PARTLY)
    return result


def _is_on(months: str, days: str, when: date | None, days_ago: int) -> bool:
    """Whether a rule counts that many days before. months, days: '' = all."""
    if when is None:
        return True
    day = when - timedelta(days=days_ago)
    names = days.replace(" ", "").split(",") if days else []
    if names and not HOLIDAYS.intersection(names):
        spans = [name.partition("-") for name in names]
        if not any(
            _within((day.weekday(), 0), _weekday(first), _weekday(last or first))
            for first, _, last in spans
        ):
            return False
    if not months:
        return True
    for text in months.split(","):
        begin, _, end = text.strip().partition("-")
        if not end:
            end = begin
        elif end[:1].isdigit():
            end = f"{begin[:3]} {end}"
        if _within((day.month, day.day), _of_year(begin, 1), _of_year(end, 31)):
            return True
    return False


def _weekday(name: str) -> tuple[int, int]:
    return WEEKDAYS.index(name), 0


def _of_year(text: str, day: int) -> tuple[int, int]:
    """Month and day of 'nov 15' or 'nov'."""
    month, _, number = text.partition(" ")
    return MONTHS.index(month) + 1, int(number or day)


def _within(value: tuple[int, int], first: tuple[int, int], last: tuple[int, int]) -> bool:
    """Also round the end of the week or the year."""
    if first <= last:
        return first <= value <= last
    return value >= first or value <= last


def clauses(text: str) -> list[tuple[str, str]]:
    """'no @ (Mo-Fr 07:00-09:00; PH off); 5 st @ hgv' -> values with their conditions."""
    parts = re.split(r";(?![^(]*\))", text)
    pairs = [part.partition("@") for part in parts if part.strip()]
    return [(value.strip(), when.strip()) for value, at, when in pairs if at]


def binding(text: str) -> list[str]:
    """The values of a conditional tag that hold for a truck at some minute of a day's work."""
    return [value for value, when in clauses(text) if held(when)]


def is_timed(tags: Mapping[str, str]) -> bool:
    """Whether a limit or an access rule holds in cases that are not read, or changes a one-way
    street or a speed by the hour."""
    return any(
        held(condition) is None or key.startswith(NOT_FOLLOWED)
        for key, _, condition in _conditions(tags)
    )


def hours_of(tags: Mapping[str, str], closed: Collection[str]) -> tuple[str, ...]:
    """The conditions of hours and days whose limits and closures count all day on a day when they
    hold at some minute of the work. closed: values that bar."""
    return tuple(
        condition
        for key, value, condition in _conditions(tags)
        if held(condition) is Held.PARTLY and (key.startswith(OF_LIMITS) or value in closed)
    )


def _conditions(tags: Mapping[str, str]) -> list[tuple[str, str, str]]:
    return [
        (key, value, condition)
        for key, text in tags.items()
        if key.endswith(CONDITIONAL) and key.startswith(TIMED)
        for value, condition in clauses(text)
    ]


def closed_by_day(tags: Mapping[str, str], keys: Sequence[str], closed: Collection[str]) -> bool:
    """Whether one of the keys bars a truck at some minute of a day's work."""
    texts = (tags.get(key + CONDITIONAL, "") for key in keys)
    return any(value in closed for text in texts for value in binding(text))


def without(tags: Mapping[str, str], gone: Collection[str]) -> Mapping[str, str]:
    """The tags without what holds on these conditions only."""
    if not gone or not any(key.endswith(CONDITIONAL) for key in tags):
        return tags
    return {
        key: "; ".join(f"{value} @ {when}" for value, when in clauses(text) if when not in gone)
        if key.endswith(CONDITIONAL)
        else text
        for key, text in tags.items()
    }
