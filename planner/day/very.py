"""What is remembered of values that have no hash, such as plans, which hold dicts."""

from collections.abc import Callable
from typing import Final, Generic, TypeVar

T = TypeVar("T")
R = TypeVar("R")

MOST_KEPT: Final = 5_000


class Very(Generic[T]):
    """A value that equals itself alone, as a key."""

    __slots__ = ("value",)

    def __init__(self, value: T) -> None:
        self.value = value

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Very) and other.value is self.value

    def __hash__(self) -> int:
        return id(self.value)


def once(make: Callable[[T], R]) -> Callable[[T], R]:
    """make, asked once for the very same value."""
    known: dict[Very[T], R] = {}

    def asked(value: T) -> R:
        key = Very(value)
        if key not in known:
            if len(known) >= MOST_KEPT:
                known.clear()
            known[key] = make(value)
        return known[key]

    return asked
