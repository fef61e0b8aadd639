"""Two visits to one lawn: who comes onto spray of whom, of this day or of the days before, or works
beside whom (rule 41).

A caution and no rule of the search: whether applicators may go on wet spray, and in what gear, is
the label's word (its re-entry and early-entry statements), and the tables have that as text only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache
from itertools import combinations
from typing import Final

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.life import brief_day
from planner.day.orders import PastApplication
from planner.plan.model import Plan, Stop

Place = tuple[str, int]
"""Truck and number of the stop."""

_HOURS: Final = {"min": 1 / 60, "h": 1.0, "d": 24.0}
_WORDS: Final = {
    **{"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7},
    **{"eight": 8, "nine": 9, "ten": 10, "twelve": 12},
    **{"twenty-four": 24, "forty-eight": 48, "seventy-two": 72},
}
_SPAN: Final = re.compile(
    rf"(\d+(?:\.\d+)?|\b(?:{'|'.join(_WORDS)})\b)\s*(?:\([\w-]+\))?[\s-]*"
    r"(min|h|d(?=ay))(?:utes?|s|ours?|rs?|ays?)?\b",
    re.IGNORECASE,
)


@cache
def reentry_hours(text: str) -> float | None:
    """The most hours that a label's words on re-entry name, None = they name none ('until dry')."""
    spans = (
        (_WORDS.get(number.lower()) or float(number)) * _HOURS[unit.lower()]
        for number, unit in _SPAN.findall(text)
    )
    return max(spans, default=None)


@dataclass(frozen=True)
class SameLawn:
    """A visit and the one before it on the same lawn, by the times of the plan. lawn: address and
    customer. sprayed: what the first sprays, in words; keep_off: its labels on re-entry; wear:
    their gear; hours: the most that they name, None = none. together: both are there at one time;
    inside: the second comes within the hours; parts: both do parts of one order, so that they spray
    different ground."""

    lawn: str
    first: Place
    second: Place
    first_stop: Stop
    second_stop: Stop
    sprayed: str
    keep_off: str
    wear: str
    hours: float | None
    together: bool
    inside: bool
    parts: bool = False

    @property
    def serious(self) -> bool:
        """Whether the office should plan it otherwise."""
        return self.together or self.inside


def same_lawns(plan: Plan, day: Day) -> tuple[SameLawn, ...]:
    """Every two visits to one property of which the later is still to be done, in the order of the
    clock. Raises KeyError for a mix that the day does not have."""
    visits: dict[str, list[tuple[float, str, Stop]]] = {}
    for truck in plan.trucks:
        for stop in truck.stops:
            if stop.kind == "visit" and stop.orders:
                row = stop.begin_min, truck.truck_id, stop
                visits.setdefault(stop.place_id, []).append(row)
    found = []
    for rows in visits.values():
        rows.sort(key=lambda row: row[:2])
        for (_, one, first), (_, other, second) in combinations(rows, 2):
            if not second.done:
                found.append(_pair(day, one, first, other, second))
    return tuple(sorted(found, key=lambda row: row.second_stop.begin_min))


def _pair(day: Day, one: str, first: Stop, other: str, second: Stop) -> SameLawn:
    book, at = day.workbook, day.workbook.properties.get(first.place_id)
    mixes = [book.mixes[name] for name in dict.fromkeys(work.mix_id for work in first.orders)]
    products = [book.products[part.product_id] for mix in mixes for part in mix.parts]
    restricted = " (RESTRICTED USE)" if any(row.restricted_use for row in products) else ""
    texts = dict.fromkeys(text for row in products if (text := row.reentry.strip().rstrip(".")))
    hours = max(filter(None, map(reentry_hours, texts)), default=None)
    end_min = max(work.end_min for work in first.orders)
    wholes = {
        order.part_of if (order := book.orders.get(work.order_id)) is not None else ""
        for work in (*first.orders, *second.orders)
    }
    parts = len(wholes) == 1 and wholes != {""}
    return SameLawn(
        lawn=f"{at.address}, {at.customer}" if at is not None else first.place_id,
        first=(one, first.seq),
        second=(other, second.seq),
        first_stop=first,
        second_stop=second,
        sprayed=" and ".join(mix.name or mix.mix_id for mix in mixes) + restricted,
        keep_off="; ".join(texts) or "see the labels",
        wear=", ".join(dict.fromkeys(item for row in products for item in row.ppe)),
        hours=hours,
        together=second.begin_min < first.leave_min,
        inside=hours is not None and not parts and second.begin_min < end_min + 60 * hours,
        parts=parts,
    )


def crew_words(row: SameLawn) -> Iterator[tuple[Place, str, str]]:
    """(truck and stop, mark, sentence) for the crews of both."""
    name, other = row.first[0], row.second[0]
    said = f"{name} sprays {row.sprayed} here {_times(row.first_stop)}"
    if row.parts:
        yield from _parts_words(row)
        return
    if row.together:
        rest = "call the office. While one crew sprays, the other stays off the lawn."
        yield row.first, "TWO CREWS", f"{other} is here too, {_times(row.second_stop)}: {rest}"
        yield row.second, "TWO CREWS", f"{name} is here too, {_times(row.first_stop)}: {rest}"
    elif other != name:
        text = f"{other} comes to this lawn after you, {_times(row.second_stop)}"
        yield row.first, "THEN", f"{text}: call it if you run late."
    gear = f" ({row.wear})" if row.wear else ""
    early = f"earlier only as its labels let applicators, in their gear{gear}; else call the office"
    if row.inside:
        yield row.second, "NOT YET", f"{said}. Not before {_over(row)} ({row.keep_off}); {early}."
    else:
        over = f", and until {_over(row)}" if row.hours is not None else ""
        yield row.second, "WET?", f"{said}. Wait until it is dry{over} ({row.keep_off}); {early}."


def _parts_words(row: SameLawn) -> Iterator[tuple[Place, str, str]]:
    """For crews that do parts of one lawn, or one crew that comes back to it."""
    name, other = row.first[0], row.second[0]
    off = f"off what is wet ({row.keep_off})"
    if row.together:
        rest = f"agree who does which part, keep out of each other's spray and {off}."
        yield row.first, "TWO CREWS", f"{other} does other parts {_times(row.second_stop)}: {rest}"
        yield row.second, "TWO CREWS", f"{name} does other parts {_times(row.first_stop)}: {rest}"
        return
    if other != name:
        text = f"{other} does other parts after you, {_times(row.second_stop)}"
        yield row.first, "THEN", f"{text}: tell it which ground is done."
    who = "you do" if other == name else f"{name} does"
    yield row.second, "PARTS", f"{who} other parts {_times(row.first_stop)}: stay {off}."


@dataclass(frozen=True)
class SprayedLately:
    """A visit within the hours that labels of an earlier day's spray name for going onto the lawn.
    over: when these are over, None = no record tells at which hour it was sprayed."""

    lawn: str
    place: Place
    stop: Stop
    sprayed: str
    when: date
    hours: float
    over: datetime | None
    keep_off: str
    wear: str

    @property
    def said(self) -> str:
        """For the crew."""
        put = f"{self.sprayed} was put down here on {brief_day(self.when.isoformat())}"
        gear = f" ({self.wear})" if self.wear else ""
        early = f"earlier only as its label lets applicators, in their gear{gear}"
        if self.over is not None:
            until = f"{clock_text(self.over.hour * 60 + self.over.minute)} on {self.over:%a %b} "
            return f"{put}. Not before {until}{self.over.day} ({self.keep_off}); {early}; " + CALL
        return (
            f"{put}, at an hour that no record tells. Not within {self.hours:g} h of it "
            f"({self.keep_off}); {early}; {CALL}"
        )


CALL: Final = "else call the office."


def sprayed_lately(plan: Plan, day: Day) -> Iterator[SprayedLately]:
    """Every visit still to be done that may come within the hours of what the history has there,
    one for each product. An application of which only the date is known may have ended at
    midnight."""
    book = day.workbook
    past: dict[str, dict[str, PastApplication]] = {}
    for row in book.history:
        if row.day < day.date and reentry_hours(book.products[row.product_id].reentry):
            of_place = past.setdefault(row.property_id, {})
            last = of_place.get(row.product_id)
            if last is None or _ended(last) <= _ended(row):
                of_place[row.product_id] = row
    midnight = datetime.combine(day.date, time())
    for truck in plan.trucks:
        for stop in truck.stops:
            rows = past.get(stop.place_id, {}) if stop.orders and not stop.done else {}
            for row in rows.values():
                product, home = book.products[row.product_id], book.properties[stop.place_id]
                hours = reentry_hours(product.reentry) or 0.0
                over = _ended(row) + timedelta(hours=hours)
                if midnight + timedelta(minutes=stop.begin_min) < over:
                    yield SprayedLately(
                        lawn=f"{home.address}, {home.customer}",
                        place=(truck.truck_id, stop.seq),
                        stop=stop,
                        sprayed=product.name + " (RESTRICTED USE)" * product.restricted_use,
                        when=row.day,
                        hours=hours,
                        over=None if row.end_min is None else over,
                        keep_off=product.reentry.strip().rstrip("."),
                        wear=", ".join(product.ppe),
                    )


def _ended(row: PastApplication) -> datetime:
    end_min = 1440.0 if row.end_min is None else row.end_min
    return datetime.combine(row.day, time()) + timedelta(minutes=end_min)


def lately_words(row: SprayedLately) -> str:
    """For the office."""
    truck, seq = row.place
    comes = f"{row.lawn}: {truck} (stop {seq}) comes {_times(row.stop)}"
    return f"{comes}. {row.said} Another day or hour for it, unless the label lets applicators in."


def crew_notes(plan: Plan, day: Day) -> dict[Place, tuple[tuple[str, str], ...]]:
    """By truck and stop, what its crew is told: (mark, sentence)."""
    found: dict[Place, tuple[tuple[str, str], ...]] = {}
    told = [said for row in same_lawns(plan, day) for said in crew_words(row)]
    told += [(row.place, "NOT YET", row.said) for row in sprayed_lately(plan, day)]
    for place, mark, text in told:
        found[place] = (*found.get(place, ()), (mark, text))
    return found


def office_words(row: SameLawn) -> str:
    """Both times and what is wrong with them."""
    (one, seq), (other, after) = row.first, row.second
    said = (
        f"{row.lawn}: {one} (stop {seq}) sprays {row.sprayed} {_times(row.first_stop)}, "
        f"{other} (stop {after}) comes {_times(row.second_stop)}"
    )
    if row.together:
        said += ", so two crews are on one lawn at the same time"
    if row.inside:
        said += f", within the {row.hours:g} h of the labels (to {_over(row)})"
    cure = "The second crew is told to wait until it is dry"
    if row.parts:
        said += ", each on parts of its own" if row.together else " for other parts"
        cure = "Tell them who does which ground" if one != other else "It stays off what is wet"
        return f"{said} ({row.keep_off}). {cure}."
    if row.inside:
        cure = "Another day for one of them, unless the labels let applicators in earlier"
    elif row.together:
        cure = "One truck for both, or another hour for one of them"
    return f"{said} ({row.keep_off}). {cure}."


def same_lawn_notes(plan: Plan, day: Day) -> tuple[str, ...]:
    """A sentence for each visit that the office should plan otherwise."""
    serious = [office_words(row) for row in same_lawns(plan, day) if row.serious]
    return (*serious, *map(lately_words, sprayed_lately(plan, day)))


def _times(stop: Stop) -> str:
    return f"{clock_text(stop.begin_min)}–{clock_text(stop.leave_min)}"


def _over(row: SameLawn) -> str:
    """When the hours of the labels are over."""
    end_min = max(work.end_min for work in row.first_stop.orders) + 60 * (row.hours or 0.0)
    days = int(end_min // 1440)
    later = {0: "", 1: " tomorrow"}.get(days, f" in {days} days")
    return f"{clock_text(end_min)}{later}"
