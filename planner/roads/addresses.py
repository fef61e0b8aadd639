"""Address lines as people type them, taken apart in every way that they may be meant.

Names of streets, towns and states are made comparable. Abbreviations are those of US Postal
Service Publication 28, appendices B and C (from memory): street suffixes, directions, states;
'St' is Street at the end of a name and Saint before it.
"""

import re
import unicodedata
from collections.abc import Iterator
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
