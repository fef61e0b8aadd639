"""Product saved by other stop orders where the store is short (rule 27).

Each time a hose changes to a mix, it draws a hoseful of it; each truck that carries a mix keeps a
heel and a margin of it. An engine that routes each truck as if the store held plenty changes hoses
where that saves a minute, and orders would wait for what stands in the hoses in the evening.
"""

from collections.abc import Iterator
from math import inf

from planner.routing.compiled.python_api import place_refills
from planner.routing.repair.draft import Draft
from planner.routing.shared.queues import queued
from planner.routing.shared.store import Known, excess

LEAST = 1e-6
"""Of the stock: a move that saves less saves nothing."""
PLACED = 4
"""Moves of a round whose refills are put anew because the stops do not stand as they are."""

Move = tuple[tuple[int, list[int]], ...]
"""By truck, the new stop order."""


def save_product(draft: Draft, most: float) -> bool:
    """Move orders of a mix that is short beside each other until the store holds what the draft
    takes out, for at most so much money. Whether it does in the end."""
    known: Known = {}
    short = _short(draft, known)
    broken = queued(draft).key(draft)[0]
    while short > 0.0:
        found = []
        for cost, move in _priced(draft, most):
            trial = _moved(draft, move)
            then = _short(trial, known)
            if then < short - LEAST:
                # What is saved beyond the need is worth nothing.
                found.append((cost / (short - then) if cost > 0.0 else cost, cost, then, move))
        for _, cost, then, move in sorted(found):
            trial = _moved(draft, move)
            waits = queued(trial).key(trial)[0]
            if waits <= broken:
                draft.adopt(trial)
                most, short, broken = most - max(0.0, cost), then, waits
                break
        else:
            return False
    return True


def _moved(draft: Draft, move: Move) -> Draft:
    trial = draft.copy()
    for row, stops in move:
        day = trial.days[row]
        trial.put(row, stops, day.cost(stops) if stops else day.idle_cost)
    return trial


def _short(draft: Draft, known: Known) -> float:
    """By how much the draft takes out more than there is, in shares of each product's stock."""
    stock = draft.tables.problem.stock
    return sum(
        over / (limit.in_store or 1.0)
        for over, limit in zip(excess(draft, known), stock, strict=True)
    )


def _priced(draft: Draft, most: float) -> list[tuple[float, Move]]:
    """Moves that add at most so much money, with what they add."""
    found, broken = [], PLACED
    for move in _moves(draft):
        if draft.stop.is_set:
            return []
        more, whole = 0.0, []
        for row, stops in move:
            day = draft.days[row]
            cost = day.cost(stops) if stops else day.idle_cost
            if cost == inf and broken:
                broken -= 1
                orders = [stop for stop in stops if 0 <= stop < day.orders]
                placed = place_refills(day, orders, under_cost=draft.costs[row] + most)
                cost, stops = placed or (inf, stops)
            more += cost - draft.costs[row]
            whole.append((row, stops))
        if more <= most:
            found.append((more, tuple(whole)))
    return found


def _moves(draft: Draft) -> Iterator[Move]:
    """Orders of a short mix, one or all that a hose sprays in a row, beside another of that mix."""
    for row in range(len(draft.stops)):
        for block in _blocks(draft, row):
            gone = set(block)
            rest = [stop for stop in draft.stops[row] if stop not in gone]
            mix_id = draft.tables.problem.orders[block[0]].mix_id
            for other, day in enumerate(draft.days):
                if not all(day.can[order] for order in block):
                    continue
                stops = rest if other == row else draft.stops[other]
                for at in _beside(draft, stops, mix_id):
                    put = [*stops[:at], *block, *stops[at:]]
                    if other != row:
                        left = rest if any(0 <= s < day.orders for s in rest) else []
                        yield (row, left), (other, put)
                    elif put != draft.stops[row]:
                        yield ((row, put),)


def _blocks(draft: Draft, row: int) -> list[tuple[int, ...]]:
    """Orders of each short mix on a truck: each alone, and all in a row on their line."""
    problem, day = draft.tables.problem, draft.days[row]
    line_of = {mix: line for mix, line in zip(day.mixes, day.line_of, strict=True)}
    short = {mix for limit in problem.stock for mix in limit.per_gal}
    blocks: list[tuple[int, ...]] = []
    run: dict[str, list[int]] = {}
    last: dict[int | None, str] = {}
    for order in draft.orders_of(row):
        mix_id = problem.orders[order].mix_id
        line = line_of.get(mix_id)
        if last.get(line) != mix_id:
            run[mix_id] = []
        last[line] = mix_id
        if mix_id in short:
            blocks.append((order,))
            run[mix_id].append(order)
            if len(run[mix_id]) > 1:
                blocks.append(tuple(run[mix_id]))
    return blocks


def _beside(draft: Draft, stops: list[int], mix_id: str) -> list[int]:
    """Places in a stop order before and after orders of a mix."""
    orders = draft.tables.problem.orders
    of_mix = [
        at
        for at, stop in enumerate(stops)
        if 0 <= stop < len(orders) and orders[stop].mix_id == mix_id
    ]
    return sorted({place for at in of_mix for place in (at, at + 1)})
