"""Street addresses as people type them and as maps write them, made comparable.

Abbreviations are those of US Postal Service Publication 28, appendices B and C (from memory):
street suffixes, directions; 'St' is Street at the end of a name and Saint before it.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

SUFFIXES: Final[dict[str, str]] = {
    "aly": "alley",
    "av": "avenue",
    "ave": "avenue",
    "avn": "avenue",
    "blvd": "boulevard",
    "bnd": "bend",
    "boul": "boulevard",
    "br": "branch",
    "brg": "bridge",
    "cir": "circle",
    "circ": "circle",
    "cr": "crescent",
    "cres": "crescent",
    "crst": "crest",
    "ct": "court",
    "crt": "court",
    "cv": "cove",
    "dr": "drive",
    "drv": "drive",
    "est": "estate",
    "expy": "expressway",
    "ext": "extension",
    "gdns": "gardens",
    "gln": "glen",
    "grn": "green",
    "grv": "grove",
    "hl": "hill",
    "hls": "hills",
    "holw": "hollow",
    "hts": "heights",
    "hwy": "highway",
    "knl": "knoll",
    "lk": "lake",
    "ln": "lane",
    "lndg": "landing",
    "lp": "loop",
    "mdw": "meadow",
    "mdws": "meadows",
    "mnr": "manor",
    "pk": "park",
    "pkwy": "parkway",
    "pky": "parkway",
    "pl": "place",
    "plz": "plaza",
    "pt": "point",
    "rd": "road",
    "rdg": "ridge",
    "rte": "route",
    "rt": "route",
    "sq": "square",
    "st": "street",
    "str": "street",
    "ter": "terrace",
    "terr": "terrace",
    "tpke": "turnpike",
    "tr": "trail",
    "trl": "trail",
    "vly": "valley",
    "vw": "view",
    "wy": "way",
    "xing": "crossing",
}

SUFFIX_WORDS: Final = frozenset(SUFFIXES.values()) | {"way", "walk", "run", "path", "row", "pike"}

DIRECTIONS: Final[dict[str, str]] = {
    "n": "north",
    "no": "north",
    "s": "south",
    "so": "south",
    "e": "east",
    "w": "west",
    "ne": "northeast",
    "nw": "northwest",
    "se": "southeast",
    "sw": "southwest",
}

_DIRECTION_WORDS: Final = frozenset(DIRECTIONS.values())

_LEADING: Final[dict[str, str]] = {"st": "saint", "ste": "sainte", "mt": "mount", "ft": "fort"}

_ORDINALS: Final[dict[str, str]] = {
    "first": "1",
    "second": "2",
    "third": "3",
    "fourth": "4",
    "fifth": "5",
    "sixth": "6",
    "seventh": "7",
    "eighth": "8",
    "ninth": "9",
    "tenth": "10",
    "eleventh": "11",
    "twelfth": "12",
}

_UNIT = re.compile(
    r"(?:,|\s)\s*(?:#|(?:apt|apartment|unit|ste|suite|lot|bldg|building|fl|floor|rm|room)\b\.?)"
    r"\s*#?\s*(?:[a-z]?-?\d[\w-]*|[a-z])\s*$",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"\s*#?\s*(\d+(?:\s*-\s*\d+)?(?:\s+1/2)?[a-zA-Z]?)\.?(?:\s+|\s*,\s*)(\S.*)$")
_ROUTES: Final = (
    (re.compile(r"(?:us|u s)(?: (?:route|highway))? (\d+)"), "us route"),
    (re.compile(r"(?:cr|(?:county|co) (?:road|route|highway|crescent)) (\d+)"), "county road"),
    (re.compile(r"(?:tr|(?:township|twp) (?:road|highway)) (\d+)"), "township road"),
    (re.compile(r"(?:[a-z]{2}|(?:state |saint |st )?(?:route|highway)) (\d+)"), "state route"),
)
"""Numbered roads: comparable key -> the one name used here. 'SR 918', 'OH 918' and 'State
Route 918' are one road."""

_PLAIN_NUMBER = re.compile(r"(?:(\d+)-)?(\d+)[A-Z½]?")
_ZIP = re.compile(r"\b(\d{5})(?:-\d{4})?$")


@dataclass(frozen=True)
class Question:
    """An address to be found. state: two letters; town, state and zip_code may be ''."""

    address: str
    town: str = ""
    state: str = ""
    zip_code: str = ""

    def text(self) -> str:
        """One line for people."""
        end = " ".join(part for part in (self.state, self.zip_code) if part)
        return ", ".join(part for part in (self.address, self.town, end) if part)


@dataclass(frozen=True)
class Parsed:
    """House number ('' when there is none) and street as written, and every reading of them as
    (number, street), both comparable; the likeliest first."""

    number: str
    street: str
    readings: tuple[tuple[str, str], ...]


def parse_address(text: str) -> Parsed:
    """House number and street of an address line; what follows the first comma (a town) and a
    flat's number are left out."""
    line = " ".join(text.split())
    line = _UNIT.sub("", line)
    head, _, rest = line.partition(",")
    # '732, Vista Trail' has its comma after the number.
    if head.strip().isdigit() and rest:
        line = f"{head.strip()} {rest.strip()}"
        head = line.partition(",")[0]
    head = _UNIT.sub("", head).strip()
    match = _NUMBER.match(head)
    if match is None:
        return Parsed("", head, (("", street_key(head)),) if head else ())
    number, street = match[1], match[2]
    readings = [(number_key(number), street_key(street))]
    first, _, others = street.partition(" ")
    if len(first) == 1 and first.isalpha() and others:
        # '12 B Main Street' may be number 12B; '12 E Main Street' is likelier East Main Street.
        readings.append((number_key(number + first), street_key(others)))
    return Parsed(number, street, tuple(readings))


def number_key(text: str) -> str:
    """A house number, comparable: '12 a' -> '12A', '203 - 06' -> '203-06'."""
    return re.sub(r"\s+(?!1/2)", "", text.strip()).upper().replace(" 1/2", "½")


def number_parts(key: str) -> tuple[str, int] | None:
    """Block and number of a house number ('203-06' -> '203-', 6; '732' and '732A' -> '', 732), or
    None when it is of another kind."""
    match = _PLAIN_NUMBER.fullmatch(key)
    return None if match is None else (f"{match[1]}-" if match[1] else "", int(match[2]))


def street_key(text: str) -> str:
    """A street's name, comparable: 'N. Vista Trl' and 'North Vista Trail' are the same."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = re.sub(r"['’.]", "", plain)
    words = re.findall(r"[a-z0-9]+", plain)
    key = " ".join(_word(words, place) for place in range(len(words)))
    for pattern, name in _ROUTES:
        match = pattern.fullmatch(key)
        if match is not None:
            return f"{name} {match[1]}"
    return key


def _word(words: list[str], place: int) -> str:
    word, last = words[place], len(words) - 1
    ordinal = re.fullmatch(r"(\d+)(?:st|nd|rd|th)", word)
    if ordinal is not None:
        return ordinal[1]
    if word in _ORDINALS and last > 0:
        return _ORDINALS[word]
    # A lone letter in the middle is a name (Avenue B), at either end a direction.
    if word in DIRECTIONS and last > 0 and place in (0, last):
        return DIRECTIONS[word]
    if word in _LEADING and place < last and not _ends_name(words, place):
        return _LEADING[word]
    return SUFFIXES.get(word, word) if place > 0 else word


def _ends_name(words: list[str], place: int) -> bool:
    """Whether a word is followed by directions or a road number only, so that it is a suffix."""
    rest = words[place + 1 :]
    return place > 0 and all(
        word in DIRECTIONS or word in _DIRECTION_WORDS or word.isdigit() for word in rest
    )


def street_core(key: str) -> str:
    """A street's key without directions and suffix: what is left when somebody wrote 'Vista' for
    'North Vista Trail'. The key itself when nothing else is left."""
    words = key.split()
    while len(words) > 1 and words[0] in _DIRECTION_WORDS:
        words = words[1:]
    while len(words) > 1 and (words[-1] in _DIRECTION_WORDS or words[-1] in SUFFIX_WORDS):
        words = words[:-1]
    return " ".join(words)


def zip_of(text: str) -> str:
    """Five digits of a ZIP code, '' when there is none; zeros that a spreadsheet dropped are put
    back."""
    match = _ZIP.search(text.strip())
    if match is not None:
        return match[1]
    return text.strip().zfill(5) if text.strip().isdecimal() else ""


def place_key(text: str) -> str:
    """A town's name, comparable."""
    words = street_key(text).split()
    return " ".join(_LEADING.get(word, word) for word in words)
