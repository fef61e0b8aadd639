"""Limits on signs (how high, heavy, long and wide a vehicle may be), and rules of some hours:
whether a condition can hold while trucks are out.

Spellings follow the OpenStreetMap wiki (Key:maxheight, Key:maxweight, Key:maxaxleload,
Key:maxlength, Key:maxwidth and Map_Features/Units; https://wiki.openstreetmap.org) and what
mappers of the world write besides. What cannot be read is kept as text, to be counted and shown;
it bars nobody.

Conditions follow the OpenStreetMap wiki (Conditional_restrictions, and Key:opening_hours for
hours, days and months; https://wiki.openstreetmap.org). One that is written otherwise is taken
to hold on every day, and at any hour that it names; public and school holidays may be any day.
"""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
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


LB_PER_METRIC_TON: Final = 2204.6226218
LB_PER_SHORT_TON: Final = 2000.0
LB_PER_LONG_TON: Final = 2240.0
FT_PER_M: Final = 1 / 0.3048

KINDS: Final = ("height_ft", "weight_lb", "axle_lb", "length_ft", "width_ft")
"""What is limited, in the order of every tuple and row of limits."""

Limits = tuple[float | None, ...]
"""One figure per kind; None = no limit."""

NOT_LIMITED: Final = frozenset(
    {"default", "none", "no", "unsigned", "no_sign", "no_indications", "unlimited", "inf"}
)
"""Words that say that there is no sign or no limit."""

KEYS: Final[Mapping[str, tuple[str, ...]]] = {
    "height_ft": ("maxheight", "maxheight:physical", "maxheight:signed"),
    "weight_lb": ("maxweight", "maxweightrating", "maxgcweight"),
    "axle_lb": ("maxaxleload",),
    "length_ft": ("maxlength",),
    "width_ft": ("maxwidth", "maxwidth:physical"),
}
SIDES: Final = ("", ":forward", ":backward", ":both", ":hgv", ":hgv:forward", ":hgv:backward")
"""A limit of one direction is taken for both: a longer way at worst."""
UNREAD_SHOWN: Final = 5
TALLEST_BARE_M: Final = 8.0
LONGEST_BARE_M: Final = 40.0
HEAVIEST_BARE_T: Final = 100.0
"""A bare number above is no sign in meters or metric tons; feet or pounds were meant, or the point
was forgotten. Common sense, no source."""

_UNIT_FT: Final = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters", "mt", "mts"), FT_PER_M),
    **dict.fromkeys(("ft", "feet", "foot", "'"), 1.0),
    **dict.fromkeys(("in", "inch", "inches", '"'), 1 / 12),
    "cm": FT_PER_M / 100,
}
_UNIT_LB: Final = {
    **dict.fromkeys(("t", "tonne", "tonnes", "metric ton", "metric tons", "mt"), LB_PER_METRIC_TON),
    **dict.fromkeys(("st", "ton", "tons", "short ton", "short tons"), LB_PER_SHORT_TON),
    **dict.fromkeys(("lt", "long ton", "long tons"), LB_PER_LONG_TON),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), 1.0),
    **dict.fromkeys(("kg", "kgs", "kilogram", "kilograms"), LB_PER_METRIC_TON / 1000),
    "cwt": LB_PER_LONG_TON / 20,
}
_PRIMES: Final = str.maketrans({**dict.fromkeys("′’‘ʹ´`", "'"), **dict.fromkeys("″”“ʺ˝", '"')})
_NUMBER: Final = r"(\d+(?:\.\d+)?)"
_FEET: Final = re.compile(
    rf"{_NUMBER}\s*(?:'|ft\.?|feet|foot)\s*-?\s*(?:{_NUMBER}\s*(?:\"|in\.?|inch|inches)?)?"
)
_ONE: Final = re.compile(rf"{_NUMBER}\s*([a-z'\"]+(?: [a-z]+)?)?\.?")


def limits_of(tags: Mapping[str, str]) -> tuple[Limits, tuple[str, ...]]:
    """The limits of a way or node, and 'key=value' of each that cannot be read."""
    if not any(key.startswith(OF_LIMITS) for key in tags):
        return NO_LIMITS, ()
    found: list[float | None] = []
    unread: list[str] = []
    for kind in KINDS:
        read = _READ[kind]
        least: float | None = None
        for key in (key + side for key in KEYS[kind] for side in SIDES):
            timed = key + CONDITIONAL
            for name, texts in (
                (key, _parts(tags.get(key, ""))),
                (timed, binding(tags.get(timed, ""))),
            ):
                value, odd = _least(texts, read)
                if odd:
                    unread.append(f"{name}={tags[name]}")
                least = value if least is None else least if value is None else min(least, value)
        found.append(least)
    return tuple(found), tuple(unread)


NO_LIMITS: Final[Limits] = (None,) * len(KINDS)


def unread_words(unread: Sequence[str]) -> str:
    """'3 limits (maxheight=x, maxweight=y)', '' when there is none."""
    if not unread:
        return ""
    kinds = list(dict.fromkeys(unread))
    more = ", ..." if len(kinds) > UNREAD_SHOWN else ""
    noun = "limit" if len(unread) == 1 else "limits"
    return f"{len(unread):,} {noun} ({', '.join(kinds[:UNREAD_SHOWN])}{more})"


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def _least(texts: list[str], read: Callable[[str], float | None]) -> tuple[float | None, bool]:
    """The least figure of a list, and whether a part of it cannot be read."""
    words = [text for text in texts if text.casefold() not in NOT_LIMITED]
    values = [value for text in words if (value := read(text)) is not None]
    return min(values, default=None), len(values) < len(words)


def length_ft(text: str, most_bare_m: float = TALLEST_BARE_M) -> float | None:
    """Feet of 13'6", 13 ft, 12 feet 6 inches, 3.5 meters, 3,5; a bare number is meters. None when
    it cannot be read."""
    text = _plain(text).replace("''", '"')
    match = _FEET.fullmatch(text)
    if match is not None:
        return float(match[1]) + float(match[2] or 0) / 12
    value, unit = _one(re.sub(r"(?<=\d),(?=\d{1,2}\b)", ".", text))
    if value is None or (not unit and value > most_bare_m):
        return None
    return _positive(value, _UNIT_FT.get(unit or "m"))


def weight_lb(text: str) -> float | None:
    """Pounds of 7.5 t, 5 tonnes, 26,000 lbs, 10 st or 10 tons (short tons), 3500 kg; a bare number
    is metric tons. None when it cannot be read."""
    text = re.sub(r"(?<=\d),(?=\d{3}\b)", "", _plain(text))
    value, unit = _one(re.sub(r"(?<=\d),(?=\d{1,2}\b)", ".", text))
    if value is None or (not unit and value > HEAVIEST_BARE_T):
        return None
    return _positive(value, _UNIT_LB.get(unit or "t"))


def _plain(text: str) -> str:
    return " ".join(text.translate(_PRIMES).casefold().split())


def _one(text: str) -> tuple[float | None, str]:
    match = _ONE.fullmatch(text)
    return (None, "") if match is None else (float(match[1]), match[2] or "")


def _positive(value: float, per_unit: float | None) -> float | None:
    return value * per_unit if per_unit is not None and value > 0 else None


_READ: Final[Mapping[str, Callable[[str], float | None]]] = {
    "height_ft": length_ft,
    "weight_lb": weight_lb,
    "axle_lb": weight_lb,
    "length_ft": lambda text: length_ft(text, LONGEST_BARE_M),
    "width_ft": length_ft,
}
