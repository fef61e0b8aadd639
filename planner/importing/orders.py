"""Services due -> orders whose short names stay the same from one import to the next."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Collection, Mapping
from dataclasses import dataclass

MOVED_DAYS = 21
"""An order that is due within this many days of where the last import had it is the same order,
moved; rounds of one service lie farther apart (common practice, no source)."""

Cells = Mapping[str, str]


@dataclass(frozen=True)
class Due:
    """A service that is due. number: row of the export. own: order number that the export gives, ''
    = none. cells: column -> text, property, mix and days among them."""

    number: int
    own: str
    cells: Cells

    @property
    def what(self) -> tuple[str, str]:
        """Property and mix."""
        return self.cells["property"], self.cells["mix"]


def named_orders(
    dues: list[Due], before: Mapping[str, Cells], done: Collection[str]
) -> list[tuple[str, Due]]:
    """Each with its order's short name. before: orders of the last import by name; done:
    orders that something is recorded of: they are never moved.

    A name that the export does not give is made of property, mix and last day; it is kept when the
    days move a little.
    """
    named: dict[int, str] = {id(due): due.own for due in dues if due.own}
    own = set(named.values())
    free: dict[tuple[str, str], dict[str, Cells]] = {}
    for name, cells in before.items():
        if name not in own:
            free.setdefault((cells.get("property", ""), cells.get("mix", "")), {})[name] = cells
    rest = sorted(
        (due for due in dues if not due.own), key=lambda due: (due.what, _days(due.cells))
    )
    for due in rest:
        same = free.get(due.what, {})
        exact = [name for name in same if _days(same[name]) == _days(due.cells)]
        if exact:
            named[id(due)] = exact[0]
            del same[exact[0]]
    known = {*before, *own}
    for due in rest:
        if id(due) in named:
            continue
        same = free.get(due.what, {})
        apart = [(_apart(same[name], due.cells), name) for name in same if name not in done]
        if apart and min(apart)[0] <= MOVED_DAYS:
            named[id(due)] = min(apart)[1]
            del same[min(apart)[1]]
        else:
            named[id(due)] = _new_name(due, known)
            known.add(named[id(due)])
    return [(named[id(due)], due) for due in dues]


def _days(cells: Cells) -> tuple[str, str]:
    day = cells.get("date", "")
    return cells.get("due_from") or day, cells.get("due_to") or day


def _apart(one: Cells, other: Cells) -> int:
    try:
        first, second = (dt.date.fromisoformat(_days(cells)[1]) for cells in (one, other))
    except ValueError:
        return 10 * MOVED_DAYS
    return abs((first - second).days)


def _new_name(due: Due, known: Collection[str]) -> str:
    day = "".join(_days(due.cells)[1].split("-"))[2:]
    name = "-".join(filter(None, (*due.what, day)))
    numbered = (f"{name}-{number}" for number in itertools.count(2))
    return next(one for one in itertools.chain([name], numbered) if one not in known)
