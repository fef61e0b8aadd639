"""A piece of a page: what it is made from, and how."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Part:
    """A piece. key: equal keys make equal pieces; make: the HTML, or JSON of a map's piece."""

    key: Hashable
    make: Callable[[], Any]


class Very:
    """A value that equals itself alone, as a key: plans hold dicts, which have no hash."""

    def __init__(self, value: object) -> None:
        self.value = value

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Very) and other.value is self.value

    def __hash__(self) -> int:
        return id(self.value)
