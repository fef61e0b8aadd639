"""Which fleet is best: by days served, by whether it pays back, by money; ties share a place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from planner.compare.model import Difference, FleetResult

Differences = Mapping[tuple[str, str], Difference]


def ranked(fleets: Sequence[FleetResult], differences: Differences) -> tuple[FleetResult, ...]:
    """The fleets in their own order, each with its place; one whose money cannot be told has none.

    A fleet that leaves out orders which another one does stands below one that serves more days,
    however cheap it is; but one that does not pay back what it costs within the life of its trucks
    never stands above the present one. Then the larger gain is better; fleets that differ from the
    best of them by no more than the planner's own spread share its place. differences: every pair
    (fleet, base); the first fleet is the present one.
    """
    in_order = sorted(
        (fleet for fleet in fleets if fleet.money.gain is not None),
        key=lambda fleet: (*_group(fleet, fleets[0]), -(fleet.money.gain or 0.0)),
    )
    placed: dict[str, FleetResult] = {}
    first: FleetResult | None = None
    place = 0
    for at, fleet in enumerate(in_order, start=1):
        tie = (
            first is not None
            and _group(fleet, fleets[0]) == _group(first, fleets[0])
            and _is_tie(fleet, first, differences)
        )
        if first is None or not tie:
            first, place = fleet, at
        words = _words(fleet, first if tie else None)
        placed[fleet.name] = replace(fleet, rank=place, rank_words=words)
    return tuple(
        placed.get(fleet.name)
        or replace(
            fleet, rank=None, rank_words=f"no place: {fleet.money.why_not or 'no day to compare'}"
        )
        for fleet in fleets
    )


def _group(fleet: FleetResult, present: FleetResult) -> tuple[int, bool]:
    bad = len(fleet.bad_dates)
    return (bad, False) if fleet.money.pays else (max(bad, len(present.bad_dates)), True)


def _is_tie(fleet: FleetResult, first: FleetResult, differences: Differences) -> bool:
    paired = differences[fleet.name, first.name].figures.get("cost")
    if paired is None or paired.spread is None:
        return False
    less = (first.money.gain or 0.0) - (fleet.money.gain or 0.0)
    return less <= paired.spread * (fleet.money.working_days or 1)


def _words(fleet: FleetResult, tied_with: FleetResult | None) -> str:
    bad, days = len(fleet.bad_dates), len(fleet.days)
    served = (
        f"cannot serve {bad} of {days} days as another fleet does" if bad else "serves every day"
    )
    pays = "" if fleet.money.pays else "; does not pay back"
    tie = f"; within the planner's own spread of {tied_with.name}" if tied_with else ""
    return served + pays + tie
