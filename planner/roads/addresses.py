"""Address lines as people type them, taken apart in every way that they may be meant."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from planner.roads.street_names import (
    DIRECTION_WORDS,
    DIRECTIONS,
    STATE_CODES,
    SUFFIX_WORDS,
    SUFFIXES,
    place_key,
    state_code,
    street_key,
)

_UNIT_WORDS: Final = (
    "apt|apartment|unit|ste|suite|lot|bldg|building|fl|flr|floor|rm|room|ph|penthouse|trlr|"
    "trailer|spc|space"
)
_UNIT = re.compile(
    rf"\b(?:(?:{_UNIT_WORDS})\b\.?\s*#?\s*(?:[a-z]?-?\d+[a-z]?(?:-\w+)?|[a-z](?:-\w+)?)\b"
    r"|(?:\d\d?(?:st|nd|rd|th)|first|second|third|ground|top|upper|lower|main)"
    r"\s+(?:fl|flr|floor)\b(?!\s*\d)"
    r"|ph$)\.?|(?<!^)#\s*\w[\w-]*",
    re.IGNORECASE,
)
_SIDES = """
rear front frnt back side upstairs downstairs basement bsmt upper uppr lower lowr penthouse ph
office ofc lobby
"""
_UNIT_ALONE: Final = frozenset(_SIDES.split())
_NUMBER = re.compile(r"#?\s*(\d+(?:\s*-\s*\d+)?(?:\s+1/2)?[a-zA-Z]?)\.?(?:\s+|\s*,\s*)(\S.*)$")
_ZIP_AT_END = re.compile(r"(?<=[\s,])(\d{5})(?:\s*-\s*\d{4})?$")
_COUNTRY = re.compile(r"[\s,]+(?:usa|u\.s\.a\.|united states(?: of america)?)$", re.IGNORECASE)
_PLAIN_NUMBER = re.compile(r"(?:(\d+)-)?(\d+)[A-Z½]?")
_CODES: Final = frozenset(STATE_CODES.values())


@dataclass(frozen=True)
class Question:
    """An address to be found. address may hold town, state and ZIP code as well; state: code or
    name; town, state and zip_code may be ''."""

    address: str
    town: str = ""
    state: str = ""
    zip_code: str = ""

    def text(self) -> str:
        """One line for people."""
        end = " ".join(part for part in (self.state, self.zip_code) if part)
        return ", ".join(part for part in (self.address, self.town, end) if part)


@dataclass(frozen=True)
class AddressReading:
    """One way to read an address line. number, street, town: comparable, '' = none. cut: words that
    were taken for a town though no comma says so. is_told: there are none, or the street's suffix
    stands before them and nothing that may belong to its name begins or ends them. is_unlikely: it
    counts only if exactly that house is there."""

    number: str
    street: str
    town: str = ""
    state: str = ""
    cut: str = ""
    is_told: bool = True
    is_unlikely: bool = False


@dataclass(frozen=True)
class Parsed:
    """House number ('' when there is none) and street as written, the ZIP code of the line, and
    every reading, the likeliest first."""

    number: str
    street: str
    zip_code: str
    readings: tuple[AddressReading, ...]


def parse_address(text: str) -> Parsed:
    """An address line taken apart. Flats, floors and rooms are left out."""
    line = _COUNTRY.sub("", " ".join(text.split()))
    match = _ZIP_AT_END.search(line)
    zip_code = match[1] if match else ""
    line = line[: match.start()] if match else line
    parts = [part.strip(" .-") for part in _UNIT.sub(",", line).split(",")]
    parts = [part for part in parts if part]
    # '732, Vista Trail' has its comma after the number; 'Rear, 732 Vista Trail' before it.
    while len(parts) > 1 and not _NUMBER.match(parts[0]):
        if parts[0].replace("-", "").isdigit():
            parts[:2] = [" ".join(parts[:2])]
        elif any(_NUMBER.match(part) for part in parts[1:]):
            parts = parts[1:]
        else:
            break
    if not parts:
        return Parsed("", "", zip_code, ())
    match = _NUMBER.match(parts[0])
    number, street = (match[1], match[2]) if match else ("", parts[0])
    town, state = _town_and_state(", ".join(part for part in parts[1:] if not _is_unit(part)))
    readings = [
        AddressReading(one, *cut) for cut in _cuts(street, town, state) for one in _numbers(number)
    ]
    readings += _shifted(number, street, town, state)
    return Parsed(number, street, zip_code, tuple(dict.fromkeys(readings)))


def _cuts(street: str, town: str, state: str) -> Iterator[tuple[str, str, str, str, bool]]:
    """The fields of a reading after its number, for each place where the street's name may end:
    after its last word first."""
    words = street.split()
    for end in range(len(words), 0, -1):
        key = street_key(" ".join(words[:end]))
        rest = words[end:]
        while rest and _is_unit(rest[0]):
            rest = rest[1:]
        cut, own_state = _town_and_state(" ".join(rest))
        if key:
            # 'Elm CT' is Elm Court, not Elm in Connecticut; 'Main St N Haven' may be either.
            is_name = bool(rest) and (_is_of_name(rest[0]) or _is_of_name(cut.split(" ")[-1]))
            told = not is_name and (not cut or (not town and _is_ended(key)))
            yield key, place_key(cut or town), own_state or state, place_key(cut), told


def _is_unit(text: str) -> bool:
    return all(word.strip(".") in _UNIT_ALONE for word in text.casefold().split())


def _is_of_name(word: str) -> bool:
    plain = word.casefold().strip(".")
    return any(plain in words for words in (SUFFIX_WORDS, SUFFIXES, DIRECTION_WORDS, DIRECTIONS))


def _is_ended(key: str) -> bool:
    """Whether a street's name has its suffix, so that what follows is something else."""
    words = key.split()
    while len(words) > 2 and words[-1] in DIRECTION_WORDS:
        words.pop()
    return len(words) > 1 and words[-1] in SUFFIX_WORDS


def _town_and_state(text: str) -> tuple[str, str]:
    words = text.replace(",", " , ").split()
    for length in (1, 2, 3):
        state = state_code(" ".join(words[-length:]))
        # 'New York' alone is a town as well.
        if state in _CODES and (len(words) > length or len(words[-1]) == 2):
            words, found = words[:-length], state
            break
    else:
        found = ""
    return " ".join(words).strip(" ,").rpartition(",")[2].strip(), found


def _numbers(number: str) -> Iterator[str]:
    """A house number, and what else it may be: 20306 is 203-06 where numbers have hyphens."""
    key = number_key(number)
    yield key
    for digits in (2, 1):
        match = re.fullmatch(rf"(\d{{2,}})(\d{{{digits}}}[A-Z]?)", key)
        if match is not None and len(key) >= 4:
            yield f"{match[1]}-{match[2]}"


def _shifted(number: str, street: str, town: str, state: str) -> Iterator[AddressReading]:
    """Readings in which the number goes on in the next word: '12 B Main Street' may be number 12B
    (12 East Main Street is likelier), '203 06 109th Avenue' is 203-06."""
    first, _, others = street.partition(" ")
    if not others or not number:
        return
    if len(first) == 1 and first.isalpha():
        more = number_key(number + first)
    elif re.fullmatch(r"\d\d?[A-Za-z]?", first) and number.isdigit():
        more = number_key(f"{number}-{first}")
    else:
        return
    for cut in _cuts(others, town, state):
        yield AddressReading(more, *cut, is_unlikely=first.casefold() in DIRECTIONS)


def zip_of(text: str) -> str:
    """Five digits of a ZIP code, '' when there is none; zeros that a spreadsheet dropped are put
    back."""
    match = re.search(r"\b(\d{5})(?:-\d{4})?$", text.strip())
    if match is not None:
        return match[1]
    return text.strip().zfill(5) if text.strip().isdecimal() else ""


def number_key(text: str) -> str:
    """A house number, comparable: '12 a' -> '12A', '203 - 06' -> '203-06'."""
    return re.sub(r"\s+(?!1/2)", "", text.strip()).upper().replace(" 1/2", "½")


def number_parts(key: str) -> tuple[str, int] | None:
    """Block and number of a house number ('203-06' -> '203-', 6; '732' and '732A' -> '', 732), or
    None when it is of another kind."""
    match = _PLAIN_NUMBER.fullmatch(key)
    return None if match is None else (f"{match[1]}-" if match[1] else "", int(match[2]))
