"""House numbers of a road extract, and the place of an address among them.

A number that stands in the extract is exact. One between two that stand there is interpolated:
along an addr:interpolation way, or between the nearest numbers of its side of the street. Of an
address whose town or ZIP code contradicts the extract's, nothing is taken.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

import numpy as np

from planner.roads.addresses import (
    Question,
    number_key,
    number_parts,
    parse_address,
    place_key,
    street_core,
    street_key,
    zip_of,
)
from planner.roads.reader import Tagged, tagged_things
from planner.roads.sphere import great_circle_ft

Point = tuple[float, float]

SAME_HOUSE_FT: Final = 400.0
"""Two entries of one address nearer than this are one house (its door and its building); farther
apart they are two, and the address is in doubt."""

WIDEST_GAP_FT: Final = 1500.0
"""Numbers are interpolated between houses at most this far apart: a long block."""

WIDEST_GAP_NUMBERS: Final = 200
"""And at most this many numbers: two blocks, as US cities count a hundred a block."""

LONGEST_STREET_FT: Final = 8000.0
"""The middle of a longer street says nothing about where a house is."""


class Sureness(StrEnum):
    """How sure a place is."""

    EXACT = "exact number"
    INTERPOLATED = "interpolated"
    SERVICE = "service"
    STREET = "street only"
    NOT_FOUND = "not found"


@dataclass(frozen=True)
class Found:
    """Where an address is. point: None when not found. found_as: the address as the source writes
    it, or why there is none."""

    sure: Sureness
    point: Point | None
    found_as: str


@dataclass(frozen=True)
class House:
    """A house number of the extract. number: comparable; street: as written."""

    number: str
    street: str
    town: str
    state: str
    zip_code: str
    point: Point


@dataclass(frozen=True)
class NumberLine:
    """An addr:interpolation way: numbers known at some of its points. step: 2 for odd or even
    sides, 1 for all, or what the tag says."""

    house: House
    step: int
    numbers: tuple[tuple[int, int], ...]
    points: tuple[Point, ...]


class AddressBook:
    """Houses, number lines and roads of some streets, by the street's key."""

    def __init__(
        self,
        houses: Iterable[House],
        lines: Iterable[NumberLine],
        roads: Mapping[str, tuple[str, list[Point]]],
    ) -> None:
        """roads: street key -> name and the middle points of its ways."""
        self._houses: dict[str, list[House]] = defaultdict(list)
        self._lines: dict[str, list[NumberLine]] = defaultdict(list)
        self._roads = roads
        for house in houses:
            self._houses[street_key(house.street)].append(house)
        for line in lines:
            self._lines[street_key(line.house.street)].append(line)
        self._by_core: dict[str, set[str]] = defaultdict(set)
        for key in (*self._houses, *self._lines, *roads):
            self._by_core[street_core(key)].add(key)

    def find(self, question: Question) -> Found:
        """The surest place of an address."""
        parsed = parse_address(question.address)
        if not parsed.readings:
            return _not_found("the address is blank")
        doubts: list[str] = []
        on_streets = [
            (number, key) for number, street in parsed.readings for key in self._keys(street)
        ]
        for look in (self._exact, self._interpolated):
            for number, key in on_streets:
                found = look(question, number, key, doubts)
                if found is not None:
                    return found
        if not doubts:
            for number, key in on_streets:
                found = self._street(question, number, key)
                if found is not None:
                    return found
            doubts.append(
                f"the extract has no number {parsed.number} on {parsed.street}"
                if on_streets
                else f"the extract has no street {parsed.street}"
            )
        return _not_found(doubts[0])

    def _keys(self, street: str) -> list[str]:
        """Keys of the streets that are meant: the one written, else the only one that differs in
        direction and suffix alone."""
        if street in self._by_core.get(street_core(street), ()):
            return [street]
        like = self._by_core.get(street_core(street), set())
        return list(like) if len(like) == 1 else []

    def _exact(self, question: Question, number: str, key: str, doubts: list[str]) -> Found | None:
        if not number:
            return None
        same = [house for house in self._houses.get(key, []) if house.number == number]
        good = _best(question, same)
        if same and not good:
            doubts.append(f"the extract has it in another town only: {_house_text(same[0])}")
        elif good and _spread_ft(house.point for house in good) > SAME_HOUSE_FT:
            doubts.append("the extract has it more than once; town and ZIP code do not tell which")
        elif good:
            return Found(Sureness.EXACT, good[0].point, _house_text(good[0]))
        return None

    def _interpolated(
        self, question: Question, number: str, key: str, doubts: list[str]
    ) -> Found | None:
        plain = number_parts(number)
        if plain is None or doubts:
            return None
        block, wanted = plain
        if not block:
            for line in self._lines.get(key, []):
                point = _on_line(line, wanted) if _agrees(question, line.house) >= 0 else None
                if point is not None:
                    text = f"on the line of numbers of {line.house.street}"
                    return Found(Sureness.INTERPOLATED, point, text)
        side: dict[int, list[House]] = defaultdict(list)
        for house in self._houses.get(key, []):
            parts = number_parts(house.number)
            if parts is None or parts[0] != block or parts[1] % 2 != wanted % 2:
                continue
            if _agrees(question, house) >= 0:
                side[parts[1]].append(house)
        if wanted in side:  # 12B where the extract has 12, or 101-2 where it has 101-02.
            house = side[wanted][0]
            text = f"at the number {_house_text(house)}"
            return Found(Sureness.INTERPOLATED, house.point, text)
        below = max((n for n in side if n < wanted), default=None)
        above = min((n for n in side if n > wanted), default=None)
        if below is None or above is None or above - below > WIDEST_GAP_NUMBERS:
            return None
        low, high = side[below][0], side[above][0]
        if _spread_ft(h.point for h in side[below] + side[above]) > WIDEST_GAP_FT:
            return None
        point = _between(low.point, high.point, (wanted - below) / (above - below))
        return Found(Sureness.INTERPOLATED, point, f"between {low.number} and {_house_text(high)}")

    def _street(self, question: Question, number: str, key: str) -> Found | None:
        """The nearest number's house, else the middle of the street, when the street is short."""
        houses = _best(question, self._houses.get(key, []))
        plain = number_parts(number) if number else None
        numbered = [(h, parts) for h in houses if (parts := number_parts(h.number)) is not None]
        if plain is not None and numbered:
            block, wanted = plain
            near = min(numbered, key=lambda one: (one[1][0] != block, abs(one[1][1] - wanted)))
            same_block = near[1][0] == block
            if same_block and abs(near[1][1] - wanted) <= WIDEST_GAP_NUMBERS:
                text = f"the nearest number is {_house_text(near[0])}"
                return Found(Sureness.STREET, near[0].point, text)
        name, points = self._roads.get(key, ("", []))
        points = points or [house.point for house in houses]
        if not points or _spread_ft(points) > LONGEST_STREET_FT:
            return None
        middle = (sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points))
        nearest = min(points, key=lambda p: _ft(p, middle))
        return Found(Sureness.STREET, nearest, f"the middle of {name or houses[0].street}")


def read_address_book(path: Path, questions: Iterable[Question]) -> AddressBook:
    """The streets that the questions ask about, from an extract. Raises RoadError when it cannot
    be read."""
    wanted = {
        street_core(street)
        for question in questions
        for _, street in parse_address(question.address).readings
    }
    cores: dict[str, bool] = {}

    def is_wanted(street: str) -> bool:
        if street not in cores:
            cores[street] = street_core(street_key(street)) in wanted
        return cores[street]

    houses: list[House] = []
    lines: list[NumberLine] = []
    roads: dict[str, tuple[str, list[Point]]] = {}
    at_node: dict[int, tuple[int, str]] = {}
    keys = ("addr:housenumber", "addr:interpolation", "highway")
    for thing in tagged_things(path, keys):
        tags = thing.tags
        street = tags.get("addr:street", "")
        if "addr:housenumber" in tags:
            _note_number(thing, at_node)
            if street and is_wanted(street):
                houses += _houses(thing)
        elif "addr:interpolation" in tags and thing.is_way:
            lines += _number_line(thing, at_node, is_wanted)
        elif "highway" in tags and thing.is_way and is_wanted(tags.get("name", "")):
            key = street_key(tags["name"])
            middle = thing.points[len(thing.points) // 2]
            roads.setdefault(key, (tags["name"], []))[1].append(middle)
    return AddressBook(houses, lines, roads)


def _note_number(thing: Tagged, at_node: dict[int, tuple[int, str]]) -> None:
    parts = number_parts(number_key(thing.tags["addr:housenumber"]))
    if not thing.is_way and parts is not None and not parts[0]:
        at_node[thing.node_ids[0]] = (parts[1], thing.tags.get("addr:street", ""))


def _houses(thing: Tagged) -> list[House]:
    """One house for each number of a node or building ('5;7' are two)."""
    lat, lon = zip(*thing.points, strict=True)
    point = ((min(lat) + max(lat)) / 2, (min(lon) + max(lon)) / 2)
    return [
        _house(thing.tags, number_key(number), thing.tags["addr:street"], point)
        for number in thing.tags["addr:housenumber"].replace(",", ";").split(";")
        if number.strip()
    ]


def _house(tags: Mapping[str, str], number: str, street: str, point: Point) -> House:
    return House(
        number,
        street,
        tags.get("addr:city", ""),
        tags.get("addr:state", ""),
        zip_of(tags.get("addr:postcode", "")),
        point,
    )


def _number_line(
    thing: Tagged, at_node: Mapping[int, tuple[int, str]], is_wanted: Callable[[str], bool]
) -> list[NumberLine]:
    """The line of an addr:interpolation way, when at least two of its nodes have numbers."""
    kind = thing.tags["addr:interpolation"]
    step = {"odd": 2, "even": 2, "all": 1}.get(kind, int(kind) if kind.isdecimal() else 0)
    known = [(row, *at_node[node]) for row, node in enumerate(thing.node_ids) if node in at_node]
    streets = [thing.tags.get("addr:street", ""), *(street for _, _, street in known)]
    street = next(filter(None, streets), "")
    if step < 1 or len(known) < 2 or not street or not is_wanted(street):
        return []
    house = _house(thing.tags, "", street, thing.points[0])
    numbers = tuple((row, number) for row, number, _ in known)
    return [NumberLine(house, step, numbers, thing.points)]


def _on_line(line: NumberLine, wanted: int) -> Point | None:
    """The point of a number on a line, by the share of the way between the numbers beside it."""
    for (row, low), (next_row, high) in itertools.pairwise(line.numbers):
        if low == high or not min(low, high) <= wanted <= max(low, high):
            continue
        if (wanted - low) % line.step != 0:
            continue
        return _along(line.points[row : next_row + 1], (wanted - low) / (high - low))
    return None


def _along(points: tuple[Point, ...], share: float) -> Point:
    """The point after a share of a line's length."""
    lengths = [_ft(a, b) for a, b in itertools.pairwise(points)]
    left = share * sum(lengths)
    for length, a, b in zip(lengths, points, points[1:], strict=False):
        if left <= length and length > 0:
            return _between(a, b, left / length)
        left -= length
    return points[-1]


def _between(a: Point, b: Point, share: float) -> Point:
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def _agrees(question: Question, house: House) -> int:
    """How well town, ZIP code and state agree; below 0 they contradict each other. A ZIP code goes
    before a town, because the post's towns are not the map's; blanks say nothing."""
    if question.state and house.state and question.state.upper() != house.state.upper():
        return -1
    score = 0
    for asked, there, weight in (
        (zip_of(question.zip_code), house.zip_code, 2),
        (place_key(question.town), place_key(house.town), 1),
    ):
        if asked and there:
            score += weight if asked == there else -weight
    return score


def _best(question: Question, houses: list[House]) -> list[House]:
    """The houses that agree best, none that contradicts."""
    scores = [_agrees(question, house) for house in houses]
    best = max(scores, default=-1)
    return [h for h, score in zip(houses, scores, strict=True) if score == best >= 0]


def _ft(a: Point, b: Point) -> float:
    return float(great_circle_ft(*(np.array(value) for value in (*a, *b))))


def _spread_ft(points: Iterable[Point]) -> float:
    """Feet across the box round the points."""
    lat, lon = zip(*points, strict=True)
    return _ft((min(lat), min(lon)), (max(lat), max(lon)))


def _house_text(house: House) -> str:
    end = " ".join(part for part in (house.state, house.zip_code) if part)
    street = f"{house.number} {house.street}".strip()
    return ", ".join(part for part in (street, house.town, end) if part)


def _not_found(why: str) -> Found:
    return Found(Sureness.NOT_FOUND, None, why)
