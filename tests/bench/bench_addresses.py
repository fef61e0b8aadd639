"""How well addresses are found as people type them: python -m tests.bench.bench_addresses [--tune]

Addresses of real extracts (© OpenStreetMap contributors, ODbL) are spoiled as people spoil them, by
seed, and looked up again. Where an extract holds streets and no houses, its real street names get
invented numbers, towns and ZIP codes. Without --tune the extracts that the matching was not tuned
on are reported: bars are 92 % right (within 50 m, or in the first three suggestions) and 0.2 %
wrong and sure. House numbers and numbered streets are never mistyped here: another number that is
there cannot be told from the right one. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from planner.roads.address_book import AddressBook, AddressMatch, House, Sureness
from planner.roads.address_read import read_address_book
from planner.roads.addresses import Question, street_key
from planner.roads.sphere import great_circle_ft
from tests.bench.county import SHARED

TUNED_ON = (
    "queens-village-ny-addresses:even",
    "columbus-oh-small",
    "washington-dc-turn-restriction",
)
HELD_OUT = (
    "queens-village-ny-addresses:odd",
    "reisterstown-md",
    "portland-or-central",
)
STATE = {"queens": "NY", "columb": "OH", "reiste": "MD", "portla": "OR", "washin": "DC"}
NEAR_FT = 50 / 0.3048
LEAST_RIGHT = 0.92
MOST_WRONG = 0.002
SURE = (Sureness.EXACT, Sureness.INTERPOLATED)

SHORT = {
    "Street": ("St", "St.", "st", "Str", "STREET"),
    "Avenue": ("Ave", "Ave.", "Av", "av", "AVE"),
    "Road": ("Rd", "Rd.", "rd"),
    "Drive": ("Dr", "Dr.", "Drv"),
    "Lane": ("Ln", "Ln.", "La", "ln"),
    "Court": ("Ct", "Ct.", "Crt"),
    "Place": ("Pl", "Pl.", "pl"),
    "Boulevard": ("Blvd", "Blvd.", "Bvd"),
    "Circle": ("Cir", "Circ"),
    "Parkway": ("Pkwy", "Pky", "Pkwy."),
    "Terrace": ("Ter", "Terr"),
    "Highway": ("Hwy", "Hiway"),
    "Trail": ("Trl", "Tr"),
    "Square": ("Sq", "Sq."),
    "Way": ("Wy",),
    "Turnpike": ("Tpke", "Tnpk"),
}
TURNS = {
    "North": ("N", "N.", "No.", "n"),
    "South": ("S", "S.", "So.", "s"),
    "East": ("E", "E.", "e"),
    "West": ("W", "W.", "w"),
    "Northeast": ("NE", "N.E.", "N E"),
    "Northwest": ("NW", "N.W.", "N W"),
    "Southeast": ("SE", "S.E."),
    "Southwest": ("SW", "S.W."),
}
OPPOSITE = {"North": "South", "South": "North", "East": "West", "West": "East"}
OPPOSITE |= {"Northeast": "Southeast", "Northwest": "Northeast"}
OPPOSITE |= {"Southeast": "Southwest", "Southwest": "Northwest"}
ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth")
UNITS = (
    *("Apt 4B", "#3", "Unit 12", "apt. b", "Ste 200", "3rd floor", "2nd Fl", "Fl 2", "Rear"),
    *("# 5", "Bldg C", "Basement", "1st Floor Front", "upstairs", "Suite B-2", "Lot 14", "PH"),
)
NEIGHBORS = {
    one: near
    for row in ("qwertyuiop", "asdfghjkl", "zxcvbnm")
    for one, near in zip(row, row[1:] + row[-2], strict=True)
}


@dataclass(frozen=True)
class Typed:
    """What somebody typed. number, words: of the street; tail: unit, town and the like in the same
    cell. contradicts: a sure answer would be a guess."""

    number: str
    words: tuple[str, ...]
    question: Question
    unit: str = ""
    one_cell: str = ""
    contradicts: bool = False

    def asked(self) -> Question:
        """The question as it stands in the sheet."""
        street = " ".join((self.number, *self.words))
        if self.unit:
            street += (", " if len(self.unit) % 2 else " ") + self.unit
        if not self.one_cell:
            return replace(self.question, address=street)
        comma = ", " if "," in self.one_cell else " "
        end = comma.join(part for part in (self.question.town, self.question.state) if part)
        return Question(f"{street}{comma}{end} {self.question.zip_code}".strip())


Spoil = Callable[[Typed, random.Random], Typed | None]


def _as_it_is(typed: Typed, rng: random.Random) -> Typed:
    return typed


def _typo(typed: Typed, rng: random.Random) -> Typed | None:
    """One slip in a word of the name: letters swapped, left out, doubled, or a neighbor's key."""
    places = [
        i
        for i, word in enumerate(typed.words)
        if word.isalpha() and len(word) >= 4 and word not in SHORT and word not in TURNS
    ]
    if not places:
        return None
    place = rng.choice(places)
    word = typed.words[place]
    at = rng.randrange(1, len(word) - 1)
    kind = rng.randrange(4)
    if kind == 0:
        new = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    elif kind == 1:
        new = word[:at] + word[at + 1 :]
    elif kind == 2:
        new = word[:at] + word[at] + word[at:]
    else:
        new = word[:at] + NEIGHBORS.get(word[at].lower(), "e") + word[at + 1 :]
    return None if new == word else _with_word(typed, place, new)


def _two_typos(typed: Typed, rng: random.Random) -> Typed | None:
    if max(map(len, typed.words)) < 8:
        return None
    once = _typo(typed, rng)
    return once and _typo(once, rng)


def _by_ear(typed: Typed, rng: random.Random) -> Typed | None:
    """Spelled as it sounds."""
    swaps = [("ph", "f"), ("ie", "ei"), ("ll", "l"), ("tt", "t"), ("ey", "y"), ("ck", "k")]
    swaps += [("ea", "ee"), ("er", "or"), ("ou", "o"), ("ss", "s"), ("ai", "ay"), ("nn", "n")]
    swaps += [("mm", "m"), ("rr", "r"), ("y", "ie"), ("an", "en"), ("on", "en"), ("s", "ss")]
    rng.shuffle(swaps)
    for one, other in swaps:
        for place, word in enumerate(typed.words):
            if (
                one in word[1:]
                and word.isalpha()
                and len(word) > 4
                and word not in SHORT
                and word not in TURNS
            ):
                new = word[0] + word[1:].replace(one, other, 1)
                return _with_word(typed, place, new)
    return None


def _with_word(typed: Typed, place: int, word: str) -> Typed:
    words = (*typed.words[:place], word, *typed.words[place + 1 :])
    return replace(typed, words=words)


def _shortened(typed: Typed, rng: random.Random) -> Typed:
    """Suffix and directions abbreviated, upper or lower case."""
    words = [
        rng.choice((SHORT | TURNS).get(word, (word,))) if place or word in TURNS else word
        for place, word in enumerate(typed.words)
    ]
    case = rng.choice((str, str, str.lower, str.upper))
    return replace(typed, words=tuple(case(word) for word in words))


def _leading_short(typed: Typed, rng: random.Random) -> Typed | None:
    """'Ave of the Americas', 'St Paul', 'Mt Royal'."""
    short = {"Saint": "St", "Mount": "Mt", "Fort": "Ft", "Avenue": "Ave", "Park": "Pk"}
    short |= {"Lake": "Lk", "Route": "Rt", "Old": "Old", "Highway": "Hwy", "Doctor": "Dr."}
    word = short.get(typed.words[0])
    return _with_word(typed, 0, word) if word and len(typed.words) > 1 else None


def _no_suffix(typed: Typed, rng: random.Random) -> Typed | None:
    words = [word for word in typed.words if word not in SHORT]
    if len(words) == len(typed.words) or not words or all(word in TURNS for word in words):
        return None
    return replace(typed, words=tuple(words))


def _other_suffix(typed: Typed, rng: random.Random) -> Typed | None:
    places = [place for place, word in enumerate(typed.words) if place and word in SHORT]
    if not places:
        return None
    other = rng.choice([suffix for suffix in SHORT if suffix != typed.words[places[-1]]])
    return replace(_with_word(typed, places[-1], other), contradicts=True)


def _no_direction(typed: Typed, rng: random.Random) -> Typed | None:
    words = [word for word in typed.words if word not in TURNS]
    if len(words) == len(typed.words) or not words or words[0] in SHORT:
        return None
    return replace(typed, words=tuple(words))


def _other_direction(typed: Typed, rng: random.Random) -> Typed | None:
    places = [place for place, word in enumerate(typed.words) if word in TURNS]
    if not places or len(typed.words) == 1 or typed.words[1] in SHORT:
        return None
    place = rng.choice(places)
    return replace(_with_word(typed, place, OPPOSITE[typed.words[place]]), contradicts=True)


def _moved_direction(typed: Typed, rng: random.Random) -> Typed | None:
    if typed.words[0] not in TURNS or typed.words[1] in SHORT:
        return None
    return replace(typed, words=(*typed.words[1:], typed.words[0]))


def _one_cell(typed: Typed, rng: random.Random) -> Typed:
    return replace(typed, one_cell=rng.choice((",", " ")))


def _unit(typed: Typed, rng: random.Random) -> Typed:
    return replace(typed, unit=rng.choice(UNITS))


def _ordinal(typed: Typed, rng: random.Random) -> Typed | None:
    """5th, Fifth and 5 are one street."""
    for place, word in enumerate(typed.words):
        plain = word.rstrip("stndrh")
        if plain.isdigit() and plain != word:
            number = int(plain)
            spelled = ORDINALS[number - 1] if number <= 9 else plain
            return _with_word(typed, place, rng.choice((plain, spelled)))
        if word in ORDINALS:
            return _with_word(typed, place, str(ORDINALS.index(word) + 1))
    return None


def _joined(typed: Typed, rng: random.Random) -> Typed | None:
    """'Greentree' for 'Green Tree' and the other way round."""
    names = [p for p, word in enumerate(typed.words) if word not in SHORT and word not in TURNS]
    if len(names) >= 2 and names[1] == names[0] + 1 and typed.words[names[0]].isalpha():
        first = names[0]
        word = typed.words[first] + typed.words[first + 1].lower()
        return replace(typed, words=(*typed.words[:first], word, *typed.words[first + 2 :]))
    for place in names:
        word = typed.words[place]
        if word.isalpha() and len(word) >= 8:
            at = len(word) // 2
            both = (word[:at], word[at:].capitalize())
            return replace(typed, words=(*typed.words[:place], *both, *typed.words[place + 1 :]))
    return None


def _other_zip(typed: Typed, rng: random.Random) -> Typed | None:
    if not typed.question.zip_code:
        return None
    wrong = f"{(int(typed.question.zip_code) + rng.randrange(1, 60)) % 100_000:05d}"
    return replace(typed, question=replace(typed.question, zip_code=wrong), contradicts=True)


def _other_town(typed: Typed, rng: random.Random) -> Typed | None:
    if not typed.question.town:
        return None
    question = replace(typed.question, town="Elsewhere Mills", zip_code="")
    return replace(typed, question=question, contradicts=True)


def _no_hyphen(typed: Typed, rng: random.Random) -> Typed | None:
    if "-" not in typed.number:
        return None
    return replace(typed, number=typed.number.replace("-", rng.choice(("", " ", " - "))))


def _no_zip(typed: Typed, rng: random.Random) -> Typed | None:
    if typed.contradicts:
        return None
    return replace(typed, question=replace(typed.question, zip_code=""))


KINDS: dict[str, tuple[int, Spoil]] = {
    "as it is": (6, _as_it_is),
    "typo": (10, _typo),
    "two typos": (3, _two_typos),
    "by ear": (5, _by_ear),
    "leading abbreviation": (4, _leading_short),
    "no suffix": (8, _no_suffix),
    "other suffix": (4, _other_suffix),
    "no direction": (5, _no_direction),
    "other direction": (4, _other_direction),
    "moved direction": (2, _moved_direction),
    "one cell": (8, _one_cell),
    "unit": (8, _unit),
    "ordinal": (4, _ordinal),
    "joined or split": (3, _joined),
    "other ZIP": (2, _other_zip),
    "other town": (2, _other_town),
    "no hyphen": (3, _no_hyphen),
    "no ZIP": (4, _no_zip),
}
"""Kind -> weight, and how it is done; None = this address cannot be spoiled so."""


def houses_of(folder: Path, name: str) -> tuple[AddressBook, list[House]]:
    """The address book of an extract, and the houses to ask for."""
    extract, _, half = name.partition(":")
    book = read_address_book(folder / f"{extract}.osm.pbf")
    every = list(book.houses())
    if not half:
        every = list(_invented(book, STATE[name[:6]]))
        book = AddressBook(every, [], book.roads)
        return book, every
    streets = sorted({street_key(house.street) for house in every})
    chosen = set(streets[half == "odd" :: 2])
    return book, [house for house in every if street_key(house.street) in chosen]


def _invented(book: AddressBook, state: str) -> list[House]:
    """Houses along the ways of every street, odd and even, with towns and ZIP codes of 4 km."""
    found = []
    for name, points in book.roads.values():
        number = 100
        for lat, lon in points:
            cell = int(lat * 25) * 31 + int(lon * 25)
            for side in range(8):
                point = (lat + 0.0001 * side, lon + 0.00005 * (side % 2))
                found.append(
                    House(
                        str(number + side),
                        name,
                        f"Town {chr(65 + cell % 26)}{chr(97 + cell // 26 % 26)}ville",
                        state,
                        f"{20_000 + cell % 40_000:05d}",
                        point,
                    )
                )
            number += 8 if number % 100 < 80 else 100 - number % 100
    return found


def spoiled(
    house: House, state: str, rng: random.Random, streets: set[str]
) -> tuple[str, Typed] | None:
    """The address of a house as somebody types it, and how it was spoiled; None when nothing of
    the kind can be done to it, or when it says another street that there is."""
    question = Question("", house.town, house.state or state, house.zip_code)
    typed: Typed | None = Typed(house.number, tuple(house.street.split()), question)
    names = list(KINDS)
    weights = [KINDS[name][0] for name in names]
    chosen = rng.choices(names, weights)[:1]
    if rng.random() < 0.25:
        chosen += rng.choices(names, weights)
    if len({name.split()[-1] for name in chosen}) < len(set(chosen)):
        return None  # 'No suffix' undoes 'other suffix'.
    for name in dict.fromkeys(chosen):
        assert typed is not None
        typed = KINDS[name][1](typed, rng)
        if typed is None:
            return None
    assert typed is not None
    key = street_key(" ".join(typed.words))
    if key != street_key(house.street) and key in streets:
        return None  # That is an address of its own.
    if rng.random() < 0.6:
        typed = _shortened(typed, rng)
    return " + ".join(sorted(set(chosen))), typed


def is_near(point: tuple[float, float] | None, house: House) -> bool:
    """Whether a point lies within 50 m of a house."""
    return point is not None and float(great_circle_ft(*point, *house.point)) <= NEAR_FT


@dataclass
class Score:
    """Counts of answers."""

    asked: int = 0
    right: int = 0
    sure: int = 0
    wrong_and_sure: int = 0

    def note(self, found: AddressMatch, house: House, contradicts: bool) -> bool:
        """Count an answer; whether it is right."""
        sure = found.sure in SURE
        points = [found.point, *(one.point for one in found.suggestions[:3])]
        right = any(is_near(point, house) for point in points)
        wrong = sure and (contradicts or not is_near(found.point, house))
        self.asked += 1
        self.right += right and not wrong
        self.sure += sure
        self.wrong_and_sure += wrong
        return right and not wrong

    def __str__(self) -> str:
        return (
            f"{self.asked:6,d} asked, right {100 * self.right / self.asked:5.1f} %, sure "
            f"{100 * self.sure / self.asked:5.1f} %, wrong and sure {self.wrong_and_sure} = "
            f"{100 * self.wrong_and_sure / self.asked:.2f} %"
        )


def measure(
    folder: Path, name: str, count: int, seed: int, shown: int
) -> tuple[Score, dict[str, Score]]:
    """Ask for `count` spoiled addresses of one extract; prints the first misses."""
    rng = random.Random(f"{name} {seed}")
    begin = time.process_time()
    book, houses = houses_of(folder, name)
    streets = set(book.streets)
    read_s = time.process_time() - begin
    total, by_kind = Score(), defaultdict(Score)
    misses: Counter[str] = Counter()
    asking_s = 0.0
    while total.asked < count:
        house = rng.choice(houses)
        made = spoiled(house, STATE[name[:6]], rng, streets)
        if made is None:
            continue
        kind, typed = made
        begin = time.process_time()
        found = book.find(typed.asked())
        asking_s += time.process_time() - begin
        right = total.note(found, house, typed.contradicts)
        by_kind[kind].note(found, house, typed.contradicts)
        if not right:
            misses[kind] += 1
            if misses[kind] <= shown:
                like = "; ".join(one.text for one in found.suggestions)
                print(
                    f"    {kind}: {typed.asked().text()} | {house.number} {house.street} "
                    f"{house.zip_code} | {found.sure}: {found.found_as} [{like}]"
                )
    print(f"{name}: {total}; read {read_s:.1f} s, {1000 * asking_s / count:.1f} ms each")
    return total, by_kind


def main() -> int:
    """Measure and print; 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tune", action="store_true", help="the extracts tuned on")
    parser.add_argument("--count", type=int, default=3000, help="addresses of each extract")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--extracts", type=Path, default=SHARED / "roads", help="their folder")
    parser.add_argument("--misses", type=int, default=0, help="show so many of each kind")
    options = parser.parse_args()
    if not options.extracts.is_dir():
        print("the road extracts are not beside the repository")
        return 1
    total, by_kind = Score(), defaultdict(Score)
    for name in TUNED_ON if options.tune else HELD_OUT:
        one, kinds = measure(options.extracts, name, options.count, options.seed, options.misses)
        for into, part in [(total, one), *((by_kind[kind], kinds[kind]) for kind in kinds)]:
            for field in ("asked", "right", "sure", "wrong_and_sure"):
                setattr(into, field, getattr(into, field) + getattr(part, field))
    for kind in sorted(by_kind, key=lambda kind: by_kind[kind].right / by_kind[kind].asked):
        if by_kind[kind].asked >= total.asked / 200:
            print(f"  {kind:36}{by_kind[kind]}")
    print(f"all: {total}")
    return int(
        total.right < LEAST_RIGHT * total.asked or total.wrong_and_sure > MOST_WRONG * total.asked
    )


if __name__ == "__main__":
    sys.exit(main())
