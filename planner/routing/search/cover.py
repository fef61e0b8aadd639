"""The cheapest choice of truck-days that does each order once.

A linear program says what a truck-day costs over what its orders are worth there; a choice costs
more than the program by the sum of these. Truck-days overlap so much that branching on the order
that the fewest of them still do ends soon. Sets of them are whole numbers, a bit for each, the
cheapest lowest, so that what stays possible after a choice is one AND.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import NamedTuple


class CoverPiece(NamedTuple):
    """A truck-day, or an order left out. over: its money over the linear program's prices, not
    negative; orders: what it does; kind: of truck, None for an order left out."""

    over: float
    orders: frozenset[int]
    kind: int | None


@dataclass
class _Branch:
    """What may come next in a partial choice. untried: pieces for its narrowest order; free: all
    that the choice leaves; over: its money so far; piece: the one in hand."""

    untried: int
    free: int
    to_do: list[int]
    over: float
    trucks: dict[int, int]
    piece: int = -1


def cheapest_cover(
    pieces: Sequence[CoverPiece],
    orders: int,
    trucks: dict[int, int],
    unused: dict[int, float],
    below: float,
    looks: int,
) -> list[int] | None:
    """Places in `pieces` of the choice that does each of so many orders once for the least money
    over, with at most `trucks` of each kind and `unused` money for each truck that stays at home.
    None when there is none below `below`, or none is found within so many looks at orders; one
    found before they are used up may not be the cheapest."""
    rank = sorted(range(len(pieces)), key=lambda place: pieces[place].over)
    over = [pieces[place].over for place in rank]
    doing, driven = [0] * orders, dict.fromkeys(trucks, 0)
    for at, place in enumerate(rank):
        for order in pieces[place].orders:
            doing[order] |= 1 << at
        if (kind := pieces[place].kind) is not None:
            driven[kind] |= 1 << at
    in_its_way = [
        reduce(or_, (doing[order] for order in pieces[place].orders), 0) for place in rank
    ]

    def branch(free: int, to_do: list[int], spent: float, left: dict[int, int]) -> _Branch | None:
        """On the order that the fewest pieces do."""
        nonlocal looks
        free &= (1 << bisect_left(over, below - spent)) - 1
        narrowest, fewest = 0, len(pieces) + 1
        for order in to_do:
            looks -= 1
            if (count := (free & doing[order]).bit_count()) < fewest:
                narrowest, fewest = free & doing[order], count
                if count <= 1:
                    break
        return _Branch(narrowest, free, to_do, spent, left) if narrowest else None

    best: list[int] | None = None
    begun = branch((1 << len(pieces)) - 1, list(range(orders)), 0.0, dict(trucks))
    path = [] if begun is None else [begun]
    while path and looks > 0:
        here = path[-1]
        at = (here.untried & -here.untried).bit_length() - 1
        if at < 0 or here.over + over[at] >= below:
            path.pop()
            continue
        here.untried ^= 1 << at
        here.piece = at
        piece, left, free = pieces[rank[at]], here.trucks, here.free & ~in_its_way[at]
        if piece.kind is not None:
            left = {**left, piece.kind: left[piece.kind] - 1}
            if not left[piece.kind]:
                free &= ~driven[piece.kind]
        spent = here.over + piece.over
        to_do = [order for order in here.to_do if order not in piece.orders]
        if to_do:
            if (following := branch(free, to_do, spent, left)) is not None:
                path.append(following)
            continue
        spent += sum(unused[kind] * count for kind, count in left.items())
        if spent < below:
            below, best = spent, [rank[one.piece] for one in path]
    return best
