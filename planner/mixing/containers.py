"""Mix caught from hoses in service containers: what stands there, and which lawn takes it (rule 9).

Sheets and records walk a truck's day through this, each with what it knows of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Generic, TypeVar

from planner.day.fleet import Caught

Source = TypeVar("Source")

LEAST_GAL: Final = 0.05
"""Less than a cup is not worth a line."""


class Containers(Generic[Source]):
    """What stands on one truck. Source: where some mix was caught."""

    def __init__(self) -> None:
        self._held: list[tuple[Source, str, float]] = []

    def catch(self, mix_id: str, gal: float, source: Source) -> None:
        """Some mix goes in."""
        if gal > LEAST_GAL:
            self._held.append((source, mix_id, gal))

    def spray(self, mix_id: str, gal: float) -> list[tuple[Source, float]]:
        """A lawn is sprayed with so many gallons of a mix: what of them comes out of containers,
        the oldest first."""
        taken: list[tuple[Source, float]] = []
        kept: list[tuple[Source, str, float]] = []
        for source, held, held_gal in self._held:
            takes = min(gal, held_gal) if held == mix_id else 0.0
            takes = takes if takes > LEAST_GAL else 0.0
            gal -= takes
            if takes:
                taken.append((source, takes))
            if held_gal - takes > LEAST_GAL:
                kept.append((source, held, held_gal - takes))
        self._held = kept
        return taken

    def left(self) -> list[tuple[Source, str, float]]:
        """(source, mix, gallons) of what is in there now."""
        return list(self._held)


def together(some: Iterable[Caught]) -> tuple[Caught, ...]:
    """A line per mix, gallons to a hundredth."""
    gal_of: dict[str, float] = {}
    for one in some:
        gal_of[one.mix_id] = gal_of.get(one.mix_id, 0.0) + one.gal
    return tuple(Caught(name, round(gal, 2)) for name, gal in gal_of.items() if gal > LEAST_GAL)
