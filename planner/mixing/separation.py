"""Which mixes must be kept apart on a day, and by what (planner/docs/rules.md, rule 6)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.day.day import Workbook
from planner.day.products import ANY_OTHER, KeepApart, Scope

WIDTH_OF_SCOPE = {Scope.COMPARTMENT: 0, Scope.LINE: 1, Scope.TRUCK: 2}
"""A wider scope includes the narrower ones."""


@dataclass(frozen=True)
class Separation:
    """What the keep_apart table says about pairs of mixes.

    names: mix id -> the names it answers to (its own id and its products' groups); rows: the
    keep_apart table in its own order.
    """

    names: Mapping[str, frozenset[str]]
    rows: tuple[KeepApart, ...]

    def names_of(self, mix_id: str) -> frozenset[str]:
        """The mix's id and the groups of its products; an unknown mix has its id only."""
        return self.names.get(mix_id, frozenset({mix_id}))

    def apart(self, mix_a: str, mix_b: str) -> KeepApart | None:
        """The row of widest scope that separates the two mixes, whichever is named first; None
        when they may meet. Of rows equally wide the first in the table, so that the reason
        printed is the one that the office reads first."""
        widest: KeepApart | None = None
        for row in self.rows:
            if not self._separates(row, mix_a, mix_b):
                continue
            if widest is None or WIDTH_OF_SCOPE[row.scope] > WIDTH_OF_SCOPE[widest.scope]:
                widest = row
        return widest

    def apart_by(self, mix_a: str, mix_b: str, scope: Scope) -> KeepApart | None:
        """The row that forbids the two mixes to share that scope (its own scope is as wide or
        wider); None when they may share it."""
        row = self.apart(mix_a, mix_b)
        if row is None or WIDTH_OF_SCOPE[row.scope] < WIDTH_OF_SCOPE[scope]:
            return None
        return row

    def _separates(self, row: KeepApart, mix_a: str, mix_b: str) -> bool:
        # A mix may always meet itself; a mix that holds both groups of a row is a fault of the
        # table, reported there.
        if mix_a == mix_b:
            return False
        one, other = self.names_of(mix_a), self.names_of(mix_b)
        return _matches(row, one, other) or _matches(row, other, one)


def _matches(row: KeepApart, one: frozenset[str], other: frozenset[str]) -> bool:
    if row.b == ANY_OTHER:
        return row.a in one and row.a not in other
    if row.a == ANY_OTHER:
        return row.b in one and row.b not in other
    return row.a in one and row.b in other


def separation(workbook: Workbook) -> Separation:
    """The workbook's keep_apart rules, with every mix's names. Products that the workbook does
    not hold are passed over (another check reports them)."""
    names = {
        mix.mix_id: frozenset(
            {mix.mix_id}
            | {
                workbook.products[part.product_id].group
                for part in mix.parts
                if part.product_id in workbook.products
            }
        )
        for mix in workbook.mixes.values()
    }
    return Separation(names, workbook.keep_apart)
