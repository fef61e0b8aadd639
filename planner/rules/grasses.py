"""Lawn grasses by every name that offices and labels write (planner/rules/grasses.csv)."""

import csv
import re
from difflib import SequenceMatcher
from functools import cache, lru_cache
from importlib.resources import files
from typing import Final

_NEAR: Final = 0.78
"""Share of letters in order that makes two names alike; under it they have little but 'grass' in
common."""
_AS_NEAR: Final = 0.08


@cache
def grass_rows() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(grass, all of its names) in the order of the table. A name of two grasses ('fescue') stands
    with both."""
    text = files("planner.rules").joinpath("grasses.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return tuple(
        (row["grass"], tuple(f"{row['names']}|{row['names_from_memory']}".strip("|").split("|")))
        for row in rows
    )


@lru_cache(maxsize=1000)
def lawn_names(cell: str) -> tuple[str, ...]:
    """The names in a cell: a lawn of two grasses is written 'bluegrass / fescue'."""
    names = (name.strip(" .") for name in re.split(r"[;,/+&()]|\band\b|\bwith\b", cell))
    return tuple(dict.fromkeys(name for name in names if name.strip("?-")))


@lru_cache(maxsize=1000)
def known_grasses(name: str) -> frozenset[str]:
    """What one name may mean; nothing when the table does not have it."""
    return _by_name().get(_plain(name), frozenset())


@lru_cache(1000)  # A calendar asks for every order and day.
def grasses_of(cell: str) -> frozenset[str]:
    """The grasses of a cell. A name that the table does not have stands for itself, in small
    letters. The whole cell counts as a name, too."""
    found: set[str] = set()
    for name in (cell, *lawn_names(cell)):
        found |= known_grasses(name) or {_plain(name)} - {""}
    return frozenset(found)


def grasses_like(name: str) -> tuple[str, ...]:
    """The grasses of which some name is spelled nearly like this one, the nearest first; none far
    behind it, and at most three."""
    word = _letters(name)
    near = {
        grass: max(SequenceMatcher(None, word, _letters(one)).ratio() for one in (grass, *names))
        for grass, names in grass_rows()
    }
    least = max(_NEAR, max(near.values()) - _AS_NEAR)
    found = sorted((grass for grass in near if near[grass] >= least), key=lambda one: -near[one])
    return tuple(found[:3])


def _letters(name: str) -> str:
    return "".join(sign for sign in name.casefold() if sign.isalnum())


@cache
def _by_name() -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for grass, names in grass_rows():
        for name in (grass, *names):
            found.setdefault(_plain(name), set()).add(grass)
    return {name: frozenset(grasses) for name, grasses in found.items()}


def _plain(name: str) -> str:
    """Letters and digits, without the words that say nothing of the kind."""
    words = re.sub(r"\b(lawn|sod|blend|mix|mixed|turf|grasses)\b", " ", name.casefold())
    plain = "".join(sign for sign in words if sign.isalnum())
    return plain.removesuffix("grass") or plain
