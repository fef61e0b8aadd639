"""Plain text of cells and names: strays removed, spellings compared, the nearest name found; a
cell that cannot be read."""

import difflib
import re
import unicodedata
from collections.abc import Collection, Iterable
from typing import Final

# Marks without width, and those that turn the direction of what follows on a printed sheet.
_INVISIBLE = dict.fromkeys(
    map(ord, "\ufeff\u200b\u200c\u200d\u200e\u200f\u2060\u00ad\u202a\u202b\u202c\u202d\u202e")
)
_INVISIBLE.update(dict.fromkeys(range(0x2066, 0x206A)))
_LOOKS_LIKE = str.maketrans("oil", "011")
_NOT_WORD = re.compile(r"[^a-z0-9]+")

MOST_COMPARED = 4000
"""Names that a misspelled one is compared with; beyond it the help would cost more than it is
worth."""


ID_SLIP = 3
"""Of so many letters of an id one may be a slip (common sense, no source)."""
ALIKE_RATIO = 0.85
"""Likeness above which two spellings are taken for one name (common sense, no source)."""


def clean(text: str) -> str:
    """A cell without stray spaces, line ends, no-break spaces or invisible characters."""
    if not text.isascii():
        text = text.translate(_INVISIBLE)
    plain = " ".join(text.split())
    if plain.isprintable():
        return plain
    seen = (letter if unicodedata.category(letter)[0] != "C" else " " for letter in plain)
    return " ".join("".join(seen).split())


def harmless(text: str) -> str:
    """Text from outside that no spreadsheet takes for a formula."""
    return clean(text).lstrip("=+-@ ")


def says_nothing(text: str) -> bool:
    """Whether a cell only says that there is nothing to say: 'no', 'N', 'none', 'n/a', '-'."""
    return letters(text) in ("", "n", "no", "none", "na", "nil", "0")


def header_name(text: str) -> str:
    """A header in the planner's spelling: 'Lawn  FT2' -> 'lawn_ft2'."""
    return _NOT_WORD.sub("_", clean(text).casefold()).strip("_")


def letters(text: str) -> str:
    """Letters and digits alone, in lower case, to see whether two spellings mean the same."""
    return "".join(filter(str.isalnum, text.casefold()))


def alike(one: str, other: str) -> bool:
    """Whether two spellings are taken for one name: the same letters, or nearly."""
    a, b = letters(one), letters(other)
    return a == b or difflib.SequenceMatcher(None, a, b).ratio() >= ALIKE_RATIO


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like the word, or None when none is near. Ids are short and
    like each other: of a word with a number in it at most a letter in ID_SLIP may be wrong, and of
    two that are equally near neither is meant."""
    by_letters: dict[str, str] = {}
    for name in known:
        by_letters.setdefault(letters(name), name)
        if len(by_letters) > MOST_COMPARED:
            break
    plain = letters(word)
    found = difflib.get_close_matches(plain, by_letters, n=5, cutoff=0.6)
    if any(sign.isdigit() for sign in plain):
        slips = {name: _slips(plain, name) for name in found}
        least = min(slips.values(), default=0)
        found = [name for name in found if slips[name] == least and ID_SLIP * least <= len(plain)]
        if len(found) > 1:
            return None
    return by_letters[found[0]] if found else None


def _slips(word: str, meant: str) -> int:
    """Letters to change, put in or take out; one that looks like the other is none of them."""
    one, other = word.translate(_LOOKS_LIKE), meant.translate(_LOOKS_LIKE)
    steps = difflib.SequenceMatcher(None, one, other).get_opcodes()
    return sum(
        max(there - here, until - at) for kind, here, there, at, until in steps if kind != "equal"
    )


def did_you_mean(word: str, known: Collection[str], otherwise: str) -> str:
    """A cure: the nearest known name, else a short list of what is known, else `otherwise`."""
    near = nearest(word, known)
    if near is not None:
        return f"did you mean '{near}'?"
    if 0 < len(known) <= 12:
        return "write one of: " + ", ".join(known)
    return otherwise


class CellError(ValueError):
    """code: stable problem code; message: what is wrong; cure: what to write instead."""

    def __init__(self, code: str, message: str, cure: str) -> None:
        self.code, self.message, self.cure = code, message, cure
        super().__init__(f"{message}; {cure}")


_CODES = """
AK AL AR AS AZ CA CO CT DC DE FL GA GU HI IA ID IL IN KS KY LA MA MD ME MI MN MO
MP MS MT NC ND NE NH NJ NM NV NY OH OK OR PA PR RI SC SD TN TX UT VA VI VT WA WI
WV WY
"""

STATES: Final = frozenset(_CODES.split())
"""Postal codes of the states, the District of Columbia and the territories (USPS Publication 28,
appendix B; from memory)."""
