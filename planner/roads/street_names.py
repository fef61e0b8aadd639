"""Names of streets, towns and states as people type them and as maps write them, made comparable.

Abbreviations are those of US Postal Service Publication 28, appendices B and C (from memory):
street suffixes, directions, states; 'St' is Street at the end of a name and Saint before it.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final


def _table(text: str) -> dict[str, str]:
    """A word and its abbreviations, a word and its abbreviations ... -> abbreviation: word."""
    return {short: word for word, *shorts in map(str.split, text.split(";")) for short in shorts}


SUFFIXES: Final = _table("""
alley aly ally; avenue av ave aven avn; bend bnd; boulevard blvd boul bvd blv; branch br;
bridge brg; bypass byp; causeway cswy; center ctr centre; circle cir circ crcl; court ct crt;
cove cv; crescent cr cres; crest crst; crossing xing crssng; drive dr drv; estate est;
estates ests; expressway expy expwy; extension ext; freeway fwy; gardens gdns; gateway gtwy;
glen gln; green grn; grove grv; harbor hbr; heights hts; highway hwy hiway hgwy; hill hl;
hills hls; hollow holw; island is; junction jct; knoll knl; lake lk; landing lndg; lane ln la;
loop lp; manor mnr; meadow mdw; meadows mdws; mill ml; mountain mtn; park pk;
parkway pkwy pky pkway; place pl; plaza plz; point pt; ridge rdg; road rd; route rte rt;
spring spg; springs spgs; square sq; station sta; street st str; terrace ter terr; trace trce;
trail trl tr; turnpike tpke tnpk tpk; valley vly; view vw; village vlg; vista vis; way wy
""")

SUFFIX_WORDS: Final = frozenset(SUFFIXES.values()) | {"walk", "run", "path", "row", "pike"}

DIRECTIONS: Final = _table(
    "north n no; south s so; east e; west w; northeast ne; northwest nw; southeast se; southwest sw"
)

DIRECTION_WORDS: Final = frozenset(DIRECTIONS.values())

_LEADING: Final = {"st": "saint", "ste": "sainte", "mt": "mount", "ft": "fort", "doctor": "dr"}
_STAYS_IN_FRONT: Final = frozenset({"dr", "la", "is", "est", "tr", "cr", "sta", "br", "ext"})
"""Abbreviations of suffixes that are words of their own at the beginning of a name."""

_ORDINAL_WORDS = """
first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth
fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth
"""
ORDINALS: Final = {word: str(row) for row, word in enumerate(_ORDINAL_WORDS.split(), start=1)}

_STATES = """
alabama AL, alaska AK, arizona AZ, arkansas AR, california CA, colorado CO, connecticut CT,
delaware DE, district of columbia DC, florida FL, georgia GA, hawaii HI, idaho ID, illinois IL,
indiana IN, iowa IA, kansas KS, kentucky KY, louisiana LA, maine ME, maryland MD,
massachusetts MA, michigan MI, minnesota MN, mississippi MS, missouri MO, montana MT,
nebraska NE, nevada NV, new hampshire NH, new jersey NJ, new mexico NM, new york NY,
north carolina NC, north dakota ND, ohio OH, oklahoma OK, oregon OR, pennsylvania PA,
puerto rico PR, rhode island RI, south carolina SC, south dakota SD, tennessee TN, texas TX,
utah UT, vermont VT, virginia VA, washington WA, west virginia WV, wisconsin WI, wyoming WY
"""
STATE_CODES: Final = {pair.strip()[:-3]: pair.strip()[-2:] for pair in _STATES.split(",")}

_ROUTES: Final = (
    (re.compile(r"(?:us|u s)(?: (?:route|highway))? (\d+)"), "us route"),
    (re.compile(r"(?:cr|(?:county|co) (?:road|route|highway|crescent)) (\d+)"), "county road"),
    (re.compile(r"(?:tr|(?:township|twp) (?:road|highway)) (\d+)"), "township road"),
    (re.compile(r"(?:[a-z]{2}|(?:state |saint |st )?(?:route|highway)) (\d+)"), "state route"),
)
"""Numbered roads: comparable key -> the one name used here. 'SR 918', 'OH 918' and 'State
Route 918' are one road."""


def street_key(text: str) -> str:
    """A street's name, comparable: 'N. Vista Trl' and 'North Vista Trail' are the same."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = re.sub(r"['’.]", "", plain).replace("&", " and ")
    plain = re.sub(r"\b([ns]) ([ew])\b", r"\1\2", plain)
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
    if word in ORDINALS:
        return ORDINALS[word]
    # A lone letter in the middle is a name (Avenue B), at either end a direction.
    if word in DIRECTIONS and last > 0 and place in (0, last):
        return DIRECTIONS[word]
    if word in _LEADING and place < last and not _ends_name(words, place):
        return _LEADING[word]
    if place == 0 and (last == 0 or word in _STAYS_IN_FRONT):
        return word
    return SUFFIXES.get(word, word)


def _ends_name(words: list[str], place: int) -> bool:
    """Whether a word is followed by directions or a road number only, so that it is a suffix."""
    rest = words[place + 1 :]
    return place > 0 and all(
        word in DIRECTIONS or word in DIRECTION_WORDS or word.isdigit() for word in rest
    )


@dataclass(frozen=True)
class StreetName:
    """A street's name taken apart; '' = it has none."""

    core: str
    suffix: str
    before: str
    after: str


def street_forms(key: str) -> list[StreetName]:
    """Every way to take a street's key apart, the name itself (all of it core) last: 'east park
    avenue' is Park, Avenue and East, or 'Park Avenue' and East, or 'East Park' and Avenue."""
    words = key.split()
    forms = []
    for first in (1, 0):
        for last in (1, 0):
            if (first and words[0] not in DIRECTION_WORDS) or (
                last and words[-1] not in DIRECTION_WORDS
            ):
                continue
            inner = words[first : len(words) - last]
            before, after = words[0] * first, words[-1] * last
            if len(inner) > 1 and inner[-1] in SUFFIX_WORDS:
                forms.append(StreetName(" ".join(inner[:-1]), inner[-1], before, after))
            # What is left of 'East Street' without its direction is no name.
            if inner and not (len(inner) == 1 and len(words) > 1 and inner[0] in SUFFIX_WORDS):
                forms.append(StreetName(" ".join(inner), "", before, after))
    return forms


def state_code(text: str) -> str:
    """The postal code of a state by code or name; what is neither stays as it is, in capitals."""
    plain = " ".join(text.replace(".", "").casefold().split())
    return STATE_CODES.get(plain, plain.upper())


def place_key(text: str) -> str:
    """A town's name, comparable."""
    words = street_key(text).split()
    return " ".join(_LEADING.get(word, word) for word in words)
