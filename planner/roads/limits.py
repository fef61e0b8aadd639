"""Limits on signs: how high, heavy, long and wide a vehicle may be.

Spellings follow the OpenStreetMap wiki (Key:maxheight, Key:maxweight, Key:maxaxleload,
Key:maxlength, Key:maxwidth and Map_Features/Units; https://wiki.openstreetmap.org) and what
mappers of the world write besides. What cannot be read is kept as text, to be counted and shown; it
bars nobody.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from planner.roads.hours import CONDITIONAL, OF_LIMITS, binding

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
