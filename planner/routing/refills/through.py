"""The least that a whole day through each way costs, with the clock as it runs.

What a way costs at least (RefillWay.paid_least) knows neither windows that swallow time nor
overtime; a truck's days followed from the departure, label by label, do. Nobody waits here for
other trucks, and a truck may stand about for a later piece of the clock: a plan costs no less.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from planner.routing.refills.legs import Node, RefillWay

MOST_STEPS = 100_000
"""Of one truck; with more, what ways cost at least stays as it was."""


class HomePrice(NamedTuple):
    """Price of a day by its end. once: in any case; pay: a minute's; begun: from when a minute is
    paid as worked; paid_from: from when hours are counted; paid_least: minutes paid in any case;
    overtime_from, overtime: its minute, and what a minute then costs more; per_squared_min: of a
    day's hours."""

    once: float
    pay: float
    begun: float
    paid_from: float
    paid_least: float
    overtime_from: float
    overtime: float
    per_squared_min: float

    def money(self, home: float, fixed: float, beside: float) -> float:
        """Of a truck that is home then. fixed: money on the way; beside: minutes paid beside the
        clock."""
        paid = home - self.paid_from + beside
        return (
            self.once
            + fixed
            + self.pay * (home - self.begun + beside + max(0.0, self.paid_least - paid))
            + self.overtime * max(0.0, home - self.overtime_from)
            + self.per_squared_min * max(0.0, paid) ** 2
        )


@dataclass(eq=False, slots=True)
class _Label:
    """A truck that arrives at a node. by: a label that is no worse in anything, None = none is;
    least: of the whole day."""

    at: float
    fixed: float
    beside: float
    by: _Label | None = None
    least: float = inf
    out: list[tuple[int, _Label | float]] = field(default_factory=list)

    def no_worse(self, other: _Label) -> bool:
        """Whether it is in time, money and paid minutes."""
        return self.at <= other.at and self.fixed <= other.fixed and self.beside <= other.beside


def least_through(
    nodes: Iterable[Node],
    begins: float,
    opens: Callable[[int], float],
    price: HomePrice,
) -> tuple[dict[int, list[float]], int] | None:
    """For each node (by its id) the least of a day through each of its ways, and how many steps
    that took; None = too many. nodes: in order, departures first; begins: minute at which a
    departure may be loaded; opens: of a site (its row)."""
    nodes = list(nodes)
    at: dict[int, list[_Label]] = {id(node): [] for node in nodes}
    steps = 0
    for node in nodes:
        here = at[id(node)]
        if node.key.site < 0:
            here.append(_Label(begins, 0.0, 0.0))
        opened = opens(node.key.site) if node.key.site >= 0 else -inf
        for label in here:
            if label.by is None:
                steps += len(node.ways)
                _follow(label, node.ways, opened, at, price)
        if steps > MOST_STEPS:
            return None
    found: dict[int, list[float]] = {}
    for node in reversed(nodes):
        least = [inf] * len(node.ways)
        for label in at[id(node)]:
            for row, end in label.out:
                money = end.least if isinstance(end, _Label) else end
                least[row] = min(least[row], money)
                label.least = min(label.least, money)
        for label in at[id(node)]:
            by = label
            while by.by is not None:
                by = by.by
            label.least = by.least
        found[id(node)] = least
    return found, steps


def _follow(
    label: _Label,
    ways: list[RefillWay],
    opened: float,
    at: dict[int, list[_Label]],
    price: HomePrice,
) -> None:
    ready = max(label.at, opened)
    for row, way in enumerate(ways):
        piece = way.piece
        leave = max(ready + way.fill_min, piece.earliest)
        if leave > piece.latest:
            continue
        arrives = leave + piece.plus if piece.at is None else piece.at
        fixed, beside = label.fixed + way.fixed, label.beside + way.beside_min
        if way.end is None:
            label.out.append((row, price.money(arrives, fixed, beside)))
            continue
        new = _Label(arrives, fixed, beside)
        label.out.append((row, new))
        there = at[id(way.end)]
        for other in there:
            if other.by is None:
                if other.no_worse(new):
                    new.by = other
                    break
                if new.no_worse(other):
                    other.by = new
        there.append(new)
