"""Which fleet is best: first by days that it cannot serve, then by money; ties share a place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from planner.compare.model import Difference, FleetResult

Differences = Mapping[tuple[str, str], Difference]


def ranked(fleets: Sequence[FleetResult], differences: Differences) -> tuple[FleetResult, ...]:
    """The fleets in their own order, each with its place.

    A fleet that leaves orders out which another one does is never above one that serves more days,
    however cheap it is. Among those that serve equally many days the cheaper one is better: by its
    yearly cost where that is told of all, else by its running cost a day. Fleets that differ from
    the best of them by no more than the planner's own spread share its place. differences: every
    pair (fleet, base); the first fleet is the present one.
    """
    comparable = [
        fleet for fleet in fleets if _cost(fleet, fleets[0], differences, False) is not None
    ]
    with_ownership = all(fleet.money.yearly is not None for fleet in comparable)
    costs = {fleet.name: _cost(fleet, fleets[0], differences, with_ownership) for fleet in fleets}
    in_order = sorted(
        (fleet for fleet in fleets if costs[fleet.name] is not None),
        key=lambda fleet: (_bad_days(fleet), costs[fleet.name]),
    )
    placed: dict[str, FleetResult] = {}
    first: FleetResult | None = None
    place = 0
    for at, fleet in enumerate(in_order, start=1):
        tie = first is not None and _is_tie(fleet, first, differences, with_ownership)
        if first is None or not tie:
            first, place = fleet, at
        words = _words(fleet, first if tie else None, with_ownership)
        placed[fleet.name] = replace(fleet, rank=place, rank_words=words)
    return tuple(
        placed.get(fleet.name)
        or replace(fleet, rank_words=f"not ranked: {fleet.money.why_not or 'no day to compare'}")
        for fleet in fleets
    )


def _bad_days(fleet: FleetResult) -> int:
    return len({*fleet.unserved_dates, *fleet.fault_dates})


def _cost(
    fleet: FleetResult, present: FleetResult, differences: Differences, with_ownership: bool
) -> float | None:
    """What is compared: money a year, or a day against the present fleet."""
    if with_ownership:
        return fleet.money.yearly
    if fleet.name == present.name:
        return 0.0 if fleet.stats else None
    paired = differences[fleet.name, present.name].figures.get("cost")
    return None if paired is None else paired.mean


def _is_tie(
    fleet: FleetResult, first: FleetResult, differences: Differences, with_ownership: bool
) -> bool:
    if _bad_days(fleet) != _bad_days(first):
        return False
    paired = differences[fleet.name, first.name].figures.get("cost")
    if paired is None or paired.spread is None:
        return False
    if not with_ownership:
        return paired.tie
    days = fleet.money.working_days
    ownership = (fleet.money.yearly_ownership or 0.0) - (first.money.yearly_ownership or 0.0)
    return abs(paired.mean * days + ownership) <= paired.spread * days


def _words(fleet: FleetResult, tied_with: FleetResult | None, with_ownership: bool) -> str:
    bad = _bad_days(fleet)
    days = len(fleet.days)
    by = (
        "yearly cost, as if every fleet were bought new"
        if with_ownership
        else "running cost a day; some purchase prices are missing"
    )
    served = (
        "serves every day"
        if not bad
        else f"cannot serve {bad} of {days} days as another fleet does"
    )
    tie = f"; within the planner's own spread of {tied_with.name}" if tied_with else ""
    return f"{served}; by {by}{tie}"
