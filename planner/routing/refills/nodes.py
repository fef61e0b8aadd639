"""The graph of planner/routing/refills/ways.py: refills of one truck, and what lies between two."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from planner.routing.refills.legs import ClockPiece


class Key(NamedTuple):
    """What makes nodes differ. gap: before which order; fills: refills before it; site: -1 = the
    departure; after: site of the refill before, where both stand before one order, else -1; until:
    of each used mix that is not poured here, the count of its orders that it lasts for."""

    gap: int
    fills: int
    site: int
    after: int
    lunched: bool
    levels: tuple[float, ...]
    until: tuple[tuple[int, int], ...]


@dataclass
class Node:
    """earliest: of the arrival; spent: least money up to it; fixed: of it, what no minute asks for;
    rest, rest_fixed: the same from the arrival to the end."""

    key: Key
    levels: list[float]
    earliest: float = inf
    spent: float = inf
    fixed: float = inf
    rest: float = inf
    rest_fixed: float = inf
    ways: list[RefillWay] = field(default_factory=list)


class RefillWay(NamedTuple):
    """From one fill to the next or home (None). fill_min: set-up and pouring at the first;
    fixed: money beside the minutes'; paid_least: least money in all; poured: gallons by mix;
    lunch: whether it is had on the way; beside_min: paid beside the clock, less lunch."""

    start: Node
    end: Node | None
    fill_min: float
    piece: ClockPiece
    fixed: float
    paid_least: float
    poured: tuple[float, ...]
    lunch: bool
    beside_min: float
