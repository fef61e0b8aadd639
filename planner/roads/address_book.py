"""House numbers of a map, and the place of an address among them.

A number that stands in the map is exact. One between two that stand there is interpolated: along
an addr:interpolation way, or between the nearest numbers of its side of the street. What
contradicts the map, is misspelled or may mean several houses is never taken: the likest places
are suggested, and a person picks one.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from planner.roads.address_match import DIFFERS, LEFT_OUT, SAME, Match, StreetIndex, is_same_town
from planner.roads.addresses import (
    AddressReading,
    Question,
    number_parts,
    parse_address,
    place_key,
    state_code,
    street_key,
    zip_of,
)
from planner.roads.sphere import Point, along, apart_ft, part_way, spread_ft

SAME_HOUSE_FT: Final = 400.0
"""Two entries of one address nearer than this are one house (its door and its building); farther
apart they are two, and the address is in doubt."""

WIDEST_GAP_FT: Final = 1500.0
"""Numbers are interpolated between houses at most this far apart: a long block."""

WIDEST_GAP_NUMBERS: Final = 200
"""And at most this many numbers: two blocks, as US cities count a hundred a block."""

LONGEST_STREET_FT: Final = 8000.0
"""The middle of a longer street says nothing about where a house is."""

MOST_SUGGESTED: Final = 3

NUMBER_BONUS: Final = {"exact": 0.15, "between": 0.09, "near": 0.0, "street": -0.1}
AGREES_BONUS: Final = 0.06
CONTRADICTS_MALUS: Final = 0.1
GUESSED_END_MALUS: Final = 0.03
LEAST_WORTH: Final = 0.7
"""How much house number, town and ZIP code count beside the likeness of names (0 to 1) when
suggestions are ranked, and the sum below which none is made: of 1,455 right ones none was below
0.74 (tests/bench/bench_addresses.py --tune)."""


class Sureness(StrEnum):
    """How sure a place is. DIFFERS and PICK_ONE need a person, who picks a suggestion."""

    EXACT = "exact number"
    INTERPOLATED = "interpolated"
    SERVICE = "service"
    STREET = "street only"
    DIFFERS = "differs"
    PICK_ONE = "pick one"
    NOT_FOUND = "not found"


@dataclass(frozen=True)
class Suggestion:
    """A place that may be meant. text: the address as the source writes it."""

    point: Point
    text: str


@dataclass(frozen=True)
class AddressMatch:
    """Where an address is. point: None when a person must pick or it is not found. found_as: the
    address as the source writes it, or why there is none. suggestions: the likest first."""

    sure: Sureness
    point: Point | None
    found_as: str
    suggestions: tuple[Suggestion, ...] = ()


@dataclass(frozen=True, slots=True)
class House:
    """A house number of the map. number: comparable; street: as written."""

    number: str
    street: str
    town: str
    state: str
    zip_code: str
    point: Point

    def text(self) -> str:
        """One line for people."""
        end = " ".join(part for part in (self.state, self.zip_code) if part)
        street = f"{self.number} {self.street}".strip()
        return ", ".join(part for part in (street, self.town, end) if part)


@dataclass(frozen=True)
class NumberLine:
    """An addr:interpolation way: numbers known at some of its points. step: 2 for odd or even
    sides, 1 for all, or what the tag says."""

    house: House
    step: int
    numbers: tuple[tuple[int, int], ...]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class AddressQuestion:
    """What an address says besides number and street, of the sheet's cells and its line."""

    zip_codes: Collection[str]
    towns: Collection[str]
    states: Collection[str]

    def agrees(self, house: House) -> tuple[int, str]:
        """How well town, ZIP code and state agree, and what contradicts (then below 0). A ZIP code
        goes before a town, because the post's towns are not the map's; blanks say nothing."""
        state = state_code(house.state)
        if state and any(one != state for one in self.states):
            return -4, f"the map has it in state {house.state}"
        score, why = 0, ""
        town = place_key(house.town)
        if town and self.towns:
            same = all(is_same_town(one, town) for one in self.towns)
            score += 1 if same else -1
            why = "" if same else f"the map has it in {house.town}"
        if house.zip_code and self.zip_codes:
            same = all(one == house.zip_code for one in self.zip_codes)
            score += 2 if same else -2
            why = why if same else f"the map has it in ZIP code {house.zip_code}"
        return score, why if score < 0 else ""


@dataclass(frozen=True)
class _Meant:
    """One street that one reading of the question may mean. is_only: no other street has the name
    that was typed."""

    reading: AddressReading
    asked: AddressQuestion
    match: Match
    is_only: bool

    @property
    def is_named(self) -> bool:
        """Whether nothing was typed that the street is not called."""
        return self.match.difference == SAME or (self.match.difference == LEFT_OUT and self.is_only)


class AddressBook:
    """Houses, number lines and roads of a map."""

    def __init__(
        self,
        houses: Iterable[House],
        lines: Iterable[NumberLine],
        roads: Mapping[str, tuple[str, list[Point]]],
        other_names: Iterable[tuple[str, str]] = (),
    ) -> None:
        """roads: street key -> name and the middle points of its ways. other_names: other key and
        street key."""
        self._houses: dict[str, list[House]] = defaultdict(list)
        self._lines: dict[str, list[NumberLine]] = defaultdict(list)
        self.roads = roads
        keys: dict[str, str] = {}
        for house in houses:
            if house.street not in keys:
                keys[house.street] = street_key(house.street)
            self._houses[keys[house.street]].append(house)
        for line in lines:
            self._lines[street_key(line.house.street)].append(line)
        self.streets = frozenset((*self._houses, *self._lines, *roads))
        self._index = StreetIndex([*((key, key) for key in self.streets), *other_names])
        self._towns = {place_key(house.town) for house in self.houses()} - {""}

    def houses(self) -> Iterator[House]:
        """Every house."""
        return itertools.chain.from_iterable(self._houses.values())

    def find(self, question: Question) -> AddressMatch:
        """The surest place of an address, or suggestions."""
        parsed = parse_address(question.address)
        if not parsed.readings:
            return _not_found("the address is blank")
        if not parsed.number and parsed.street.isdecimal():
            return _not_found("a number alone names no street")
        meant = [
            one
            for reading in parsed.readings
            if self._is_likely(reading, question)
            for one in _meant(reading, question, parsed.zip_code, self._index.named(reading.street))
        ]
        found = self._exact(meant)
        meant = [one for one in meant if not one.reading.is_unlikely]
        found = found or self._interpolated(meant) or self._other_street(meant)
        found = found or self._street(meant)
        if found is None:
            known = any(one.is_named for one in meant)
            what = (
                f"number {parsed.number} on {parsed.street}" if known else "street " + parsed.street
            )
            found = _not_found(f"the map has no {what}")
        if found.sure in (Sureness.EXACT, Sureness.INTERPOLATED):
            return found
        for reading in parsed.readings:
            if not reading.is_unlikely and (not meant or self._is_likely(reading, question)):
                matches = self._index.misspelled(reading.street)
                meant += _meant(reading, question, parsed.zip_code, matches)
        suggestions = self._suggestions(meant)
        if found.point is None and suggestions and found.sure is Sureness.NOT_FOUND:
            found = replace(found, sure=Sureness.PICK_ONE)
        return replace(found, suggestions=suggestions)

    def _is_likely(self, reading: AddressReading, question: Question) -> bool:
        """Whether the street's name ends where a reading ends it: that is told, or what comes
        after it is a town that sheet or map name."""
        own = place_key(question.town)
        if not reading.cut or (reading.is_told and not own):
            return reading.is_told
        return reading.cut == own or reading.cut in self._towns

    def _numbered(self, one: _Meant) -> list[House]:
        number = one.reading.number
        return [h for h in self._houses.get(one.match.street, ()) if number and h.number == number]

    def _exact(self, meant: list[_Meant]) -> AddressMatch | None:
        """The house itself; that it is another's, or that it may be several."""
        there = [
            (one, house, *one.asked.agrees(house))
            for one in meant
            if one.match.difference <= LEFT_OUT
            for house in self._numbered(one)
        ]
        best = max((score for _, _, score, _ in there), default=0)
        good = [(one, house) for one, house, score, _ in there if score == best >= 0]
        if there and not good:
            return AddressMatch(Sureness.DIFFERS, None, there[0][3])
        if not good:
            return None
        one, house = good[0]
        is_one = len({other.match.street for other, _ in good}) == 1
        if is_one and one.is_named and spread_ft(h.point for _, h in good) <= SAME_HOUSE_FT:
            return AddressMatch(Sureness.EXACT, house.point, house.text())
        return AddressMatch(Sureness.PICK_ONE, None, "more than one house may be meant")

    def _other_street(self, meant: list[_Meant]) -> AddressMatch | None:
        """That the number stands on a street whose name contradicts the one typed, which the map
        does not have."""
        if any(one.is_named for one in meant):
            return None
        for one in meant:
            if one.match.difference == DIFFERS and self._numbered(one):
                return AddressMatch(Sureness.DIFFERS, None, one.match.why)
        return None

    def _interpolated(self, meant: list[_Meant]) -> AddressMatch | None:
        for one in meant:
            found = self._between(one) if one.is_named else None
            if found is not None:
                return AddressMatch(Sureness.INTERPOLATED, found.point, found.text)
        return None

    def _between(self, one: _Meant) -> Suggestion | None:
        """The place of a number by those beside it."""
        plain = number_parts(one.reading.number)
        if plain is None:
            return None
        block, wanted = plain
        if not block:
            for line in self._lines.get(one.match.street, []):
                point = _on_line(line, wanted) if one.asked.agrees(line.house)[0] >= 0 else None
                if point is not None:
                    return Suggestion(point, f"on the line of numbers of {line.house.street}")
        side: dict[int, list[House]] = defaultdict(list)
        for house in self._houses.get(one.match.street, []):
            parts = number_parts(house.number)
            if parts is None or parts[0] != block or parts[1] % 2 != wanted % 2:
                continue
            if one.asked.agrees(house)[0] >= 0:
                side[parts[1]].append(house)
        if wanted in side:  # 12B where the map has 12, or 101-2 where it has 101-02.
            house = side[wanted][0]
            return Suggestion(house.point, f"at the number {house.text()}")
        below = max((n for n in side if n < wanted), default=None)
        above = min((n for n in side if n > wanted), default=None)
        if below is None or above is None or above - below > WIDEST_GAP_NUMBERS:
            return None
        low, high = side[below][0], side[above][0]
        if spread_ft(h.point for h in side[below] + side[above]) > WIDEST_GAP_FT:
            return None
        point = part_way(low.point, high.point, (wanted - below) / (above - below))
        return Suggestion(point, f"between {low.number} and {high.text()}")

    def _near(self, one: _Meant) -> Suggestion | None:
        """The nearest number's house."""
        plain = number_parts(one.reading.number)
        numbered = [
            (abs(parts[1] - plain[1]), house)
            for house in self._houses.get(one.match.street, [])
            if plain and (parts := number_parts(house.number)) and parts[0] == plain[0]
            and one.asked.agrees(house)[0] >= 0
        ]  # fmt: skip
        away, house = min(numbered, key=lambda pair: pair[0], default=(math.inf, None))
        if house is None or away > WIDEST_GAP_NUMBERS:
            return None
        return Suggestion(house.point, f"the nearest number is {house.text()}")

    def _middle(self, one: _Meant) -> Suggestion | None:
        """The middle of a short street."""
        houses = self._houses.get(one.match.street, [])
        name, points = self.roads.get(one.match.street, ("", []))
        points = points or [h.point for h in houses if one.asked.agrees(h)[0] >= 0]
        if not points or spread_ft(points) > LONGEST_STREET_FT:
            return None
        middle = (sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points))
        nearest = min(points, key=lambda p: apart_ft(p, middle))
        return Suggestion(nearest, f"the middle of {name or houses[0].street}")

    def _street(self, meant: list[_Meant]) -> AddressMatch | None:
        for one in meant:
            found = (self._near(one) or self._middle(one)) if one.is_named else None
            if found is not None:
                return AddressMatch(Sureness.STREET, found.point, found.text)
        return None

    def _suggestions(self, meant: list[_Meant]) -> tuple[Suggestion, ...]:
        """The likest places, each once."""
        worth: dict[Suggestion, float] = {}
        for one in meant:
            for bonus, place in self._places(one):
                value = one.match.likeness + bonus - GUESSED_END_MALUS * (not one.reading.is_told)
                worth[place] = max(value, worth.get(place, 0.0))
        best: list[Suggestion] = []
        likely = [place for place in worth if worth[place] >= LEAST_WORTH]
        for place in sorted(likely, key=lambda place: (-worth[place], place.text)):
            if all(
                apart_ft(place.point, other.point) > SAME_HOUSE_FT or place.text != other.text
                for other in best
            ):
                best.append(place)
            if len(best) == MOST_SUGGESTED:
                break
        return tuple(best)

    def _places(self, one: _Meant) -> Iterator[tuple[float, Suggestion]]:
        """Places of one meaning, with what speaks for each."""
        houses = self._numbered(one)
        for house in houses:
            agrees = one.asked.agrees(house)[0]
            bonus = AGREES_BONUS * agrees if agrees >= 0 else -CONTRADICTS_MALUS
            yield NUMBER_BONUS["exact"] + bonus, Suggestion(house.point, house.text())
        if houses:
            return
        for kind, look in (
            ("between", self._between),
            ("near", self._near),
            ("street", self._middle),
        ):
            place = look(one)
            if place is not None:
                yield NUMBER_BONUS[kind], place
                return


def _meant(
    reading: AddressReading, question: Question, zip_code: str, matches: list[Match]
) -> list[_Meant]:
    asked = AddressQuestion(
        {zip_of(question.zip_code), zip_code} - {""},
        {place_key(question.town), reading.town} - {""},
        {state_code(question.state), reading.state} - {""},
    )
    named = sum(match.difference <= LEFT_OUT for match in matches)
    return [_Meant(reading, asked, match, named == 1) for match in matches]


def _on_line(line: NumberLine, wanted: int) -> Point | None:
    """The point of a number on a line, by the share of the way between the numbers beside it."""
    for (row, low), (next_row, high) in itertools.pairwise(line.numbers):
        if low == high or not min(low, high) <= wanted <= max(low, high):
            continue
        if (wanted - low) % line.step != 0:
            continue
        return along(line.points[row : next_row + 1], (wanted - low) / (high - low))
    return None


def _not_found(why: str) -> AddressMatch:
    return AddressMatch(Sureness.NOT_FOUND, None, why)
