"""How alike a typed street or town and one of the map are; the only import of rapidfuzz."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from rapidfuzz import fuzz, process
from rapidfuzz.distance import DamerauLevenshtein

from planner.roads.addresses import ORDINALS, StreetName, street_forms

SAME, LEFT_OUT, DIFFERS, MISSPELLED = 0, 1, 2, 3
"""How a typed name and the map's differ: not; the typed one leaves out what the map has; it
contradicts the map's; the name itself is spelled otherwise."""

LEAST_ALIKE: Final = 0.6
MOST_MISSPELLED: Final = 12
SAME_TOWN: Final = 85.0
"""Per cent of letters in common from which two towns are one, mistyped."""


@dataclass(frozen=True)
class Match:
    """A street of the map that may be meant. street: its key; difference: SAME ... MISSPELLED;
    likeness: 0 to 1; why: the difference in words, '' = none."""

    street: str
    difference: int
    likeness: float
    why: str


class StreetIndex:
    """Streets of a map by name."""

    def __init__(self, names: Iterable[tuple[str, str]]) -> None:
        """names: (name's key, street's key); a street may have several names."""
        self._names = sorted(set(names))
        self._by_core: dict[str, list[tuple[int, StreetName]]] = defaultdict(list)
        for row, (name, _) in enumerate(self._names):
            for form in street_forms(name):
                self._by_core[form.core].append((row, form))
        self._keys = [_spelled(name) for name, _ in self._names]
        self._cores = [_core(key) for key in self._keys]

    def named(self, typed: str) -> list[Match]:
        """Streets of the typed name, give or take directions and suffix; the likest first."""
        best: dict[str, Match] = {}
        for form in street_forms(typed):
            for row, other in self._by_core.get(form.core, ()):
                street = self._names[row][1]
                match = _compared(street, form, other)
                if street not in best or match.likeness > best[street].likeness:
                    best[street] = match
        return sorted(best.values(), key=lambda match: (-match.likeness, match.street))

    def misspelled(self, typed: str) -> list[Match]:
        """Streets whose names look like the typed one; the likest first."""
        likeness: dict[int, float] = {}
        typed = _spelled(typed)
        typed_form = street_forms(typed)[0]
        core = typed_form.core
        pairs = [(typed, self._cores), (core, self._cores)]
        if not typed_form.suffix:  # Perhaps it is misspelled; else it would make all alike.
            pairs.append((typed, self._keys))
        for query, choices in pairs:
            for _, value, row in process.extract(
                query,
                choices,
                scorer=DamerauLevenshtein.normalized_similarity,
                score_cutoff=LEAST_ALIKE,
                limit=MOST_MISSPELLED,
            ):
                likeness[row] = max(likeness.get(row, 0.0), value)
        for _, value, row in process.extract(
            core, self._cores, scorer=fuzz.token_set_ratio, score_cutoff=80.0, limit=MOST_MISSPELLED
        ):
            likeness[row] = max(likeness.get(row, 0.0), 0.85 * value / 100)
        found: dict[str, Match] = {}
        for row, value in likeness.items():
            name, street = self._keys[row], self._names[row][1]
            value -= 0.25 * (_numbers(name) != _numbers(typed))
            value *= _compared(street, typed_form, street_forms(name)[0]).likeness
            if street not in found or value > found[street].likeness:
                found[street] = Match(street, MISSPELLED, value, "the name is spelled otherwise")
        return sorted(found.values(), key=lambda match: (-match.likeness, match.street))


def is_same_town(one: str, other: str) -> bool:
    """Whether two towns' keys are one town, perhaps mistyped."""
    return one == other or fuzz.ratio(one, other) >= SAME_TOWN


def _spelled(key: str) -> str:
    """The key with small numbers in words: 'Fiifth' is like 'fifth' and not like '5'."""
    return " ".join(_WORDS.get(word, word) for word in key.split())


_WORDS: Final = {number: word for word, number in ORDINALS.items()}


def _core(key: str) -> str:
    return street_forms(key)[0].core


def _numbers(key: str) -> list[str]:
    return sorted(word for word in key.split() if word.isdigit())


def _compared(street: str, typed: StreetName, there: StreetName) -> Match:
    """The match of two forms whose cores are the same."""
    left_out, whys = 0, []
    turns, others = (typed.before, typed.after), (there.before, there.after)
    pairs = [(typed.suffix, there.suffix)]
    if sorted(turns) == sorted(others) and turns != others:
        whys.append(f"'{''.join(turns)}' stands elsewhere in the name")
    else:
        pairs += zip(turns, others, strict=True)
    for one, other in pairs:
        if one and one != other:
            whys.append(f"'{one}' where the map has " + (f"'{other}'" if other else "nothing"))
        left_out += bool(other and not one)
    if whys:
        return Match(street, DIFFERS, 0.93 - 0.05 * len(whys) - 0.01 * left_out, "; ".join(whys))
    if left_out:
        return Match(street, LEFT_OUT, 1 - 0.02 * left_out, "part of the name is left out")
    return Match(street, SAME, 1.0, "")
